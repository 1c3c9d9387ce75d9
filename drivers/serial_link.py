"""A byte stream to an instrument: local serial port, ``socket://`` or ``rfc2217://``, behind one interface.

Everything here blocks and belongs into a reader thread (:mod:`drivers.port_reader`).
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import socket
import sys
from typing import Any, Protocol
from urllib.parse import urlsplit

import serial

from drivers.base import LinkLostError, NeedsPersonError
from drivers.ports import MissingPortError, list_ports, resolve
from drivers.profile_sections import Link as LinkSettings


class ByteLink(Protocol):
    """What a reader thread needs of a link; another library can be put behind it."""

    def open(self) -> None:
        """Open for this program alone; raises LinkLostError or NeedsPersonError."""
        ...

    def read_some(self) -> bytes:
        """Wait at most the read time-out and give what there is; raises LinkLostError on loss."""
        ...

    def write(self, data: bytes) -> None:
        """Send all bytes."""
        ...

    def close(self) -> None:
        """Close; never raises, and may be called twice."""
        ...

    def describe(self) -> str:
        """Say what it is, for messages."""
        ...


def link_to(address: str, settings: LinkSettings, *, read_timeout: float, open_deadline: float) -> ByteLink:
    """Make the link for an address: a port, ``usb:VID:PID[:SERIAL]``, ``socket://`` or ``rfc2217://``.

    Raises
    ------
    NeedsPersonError
        If the address cannot be understood.
    """
    if address.startswith("socket://"):
        parts = urlsplit(address)
        try:
            host, port = parts.hostname, parts.port
        except ValueError:
            host = port = None
        if not host or not port:
            raise NeedsPersonError(f"'{address}' is not a network address; write socket://HOST:PORT.")
        return SocketLink(host, port, read_timeout, open_deadline)
    return PortLink(address, settings, read_timeout)


class SocketLink:
    """A plain network connection, as a serial server or a simulated machine offers it.

    pyserial's own ``socket://`` reads single bytes when asked for what is waiting, hence this one.
    """

    def __init__(self, host: str, port: int, read_timeout: float, open_deadline: float) -> None:
        self._host, self._port = host, port
        self._read_timeout, self._open_deadline = read_timeout, open_deadline
        self._socket: socket.socket | None = None

    def open(self) -> None:
        """Connect."""
        try:
            self._socket = socket.create_connection((self._host, self._port), timeout=self._open_deadline)
        except OSError as error:
            raise LinkLostError(
                f"{self.describe()} does not answer: {_why(error)}. Is it switched on?"
            ) from None
        self._socket.settimeout(self._read_timeout)

    def read_some(self) -> bytes:
        """Give what has come."""
        assert self._socket is not None, "open first"
        try:
            data = self._socket.recv(65536)
        except TimeoutError:
            return b""
        except OSError as error:
            raise LinkLostError(f"The connection to {self.describe()} broke: {_why(error)}.") from None
        if not data:
            raise LinkLostError(f"{self.describe()} closed the connection.")
        return data

    def write(self, data: bytes) -> None:
        """Send."""
        assert self._socket is not None, "open first"
        try:
            self._socket.sendall(data)
        except OSError as error:
            raise LinkLostError(f"The connection to {self.describe()} broke: {_why(error)}.") from None

    def close(self) -> None:
        """Close."""
        if self._socket is not None:
            self._socket.close()
            self._socket = None

    def describe(self) -> str:
        """Name host and port."""
        return f"{self._host}:{self._port}"


class PortLink:
    """A serial port, local or by RFC 2217, found anew by its identity at each opening."""

    def __init__(self, address: str, settings: LinkSettings, read_timeout: float) -> None:
        self._address, self._settings, self._read_timeout = address, settings, read_timeout
        self._port: Any = None
        self._path = address

    def open(self) -> None:
        """Open for this program alone."""
        remote = self._address.startswith("rfc2217://")
        self._path = self._address if remote else resolve(self._address, list_ports)
        try:
            self._port = self._make(remote)
            self._port.open()
        except (OSError, ValueError) as error:  # pyserial's error is an OSError
            self.close()
            raise opening_failure(self._path, error) from None

    def _make(self, remote: bool) -> Any:
        wanted = self._settings
        port = serial.serial_for_url(
            self._path,
            do_not_open=True,
            baudrate=wanted.baud,
            bytesize=wanted.data_bits,
            parity=wanted.parity[0].upper(),
            stopbits=wanted.stop_bits,
            rtscts=wanted.flow_control == "hardware",
            xonxoff=wanted.flow_control == "software",
            timeout=self._read_timeout,
        )
        if not remote:
            port.exclusive = True
            port.write_timeout = 2.0  # the remote kind has none
        if wanted.dtr is not None:
            port.dtr = wanted.dtr
        if wanted.rts is not None:
            port.rts = wanted.rts
        return port

    def read_some(self) -> bytes:
        """Give what is waiting, or wait for one byte."""
        try:
            return bytes(self._port.read(self._port.in_waiting or 1))
        except (OSError, TypeError) as error:  # TypeError: closed below a waiting read
            raise self._lost(error) from None

    def write(self, data: bytes) -> None:
        """Send."""
        try:
            self._port.write(data)
        except OSError as error:
            raise self._lost(error) from None

    def _lost(self, error: Exception) -> LinkLostError:
        gone = "://" not in self._path and os.name == "posix" and not os.path.exists(self._path)
        if gone:
            return LinkLostError(f"{self._path} was unplugged.")
        if "returned no data" in str(error):
            return LinkLostError(f"{self._path} was unplugged, or another program reads it too.")
        return LinkLostError(f"{self._path} was lost: {_why(error)}.")

    def close(self) -> None:
        """Close."""
        port, self._port = self._port, None
        if port is not None:
            with contextlib.suppress(Exception):  # a port that is gone cannot be closed well
                port.close()

    def describe(self) -> str:
        """Name the port as it is called now."""
        return self._path


def opening_failure(path: str, error: Exception) -> LinkLostError | NeedsPersonError:
    """Turn the failure to open a port into a sentence with the act that mends it."""
    text = str(error)
    number = getattr(error, "errno", None)
    if number is None and (
        inner := re.search(r"\((\d+),", text)
    ):  # pyserial wraps some and keeps the text only
        number = int(inner.group(1))
    if number in (errno.ENOENT, errno.ENODEV, errno.ENXIO) or "FileNotFoundError" in text:
        there = ", ".join(port.path for port in list_ports()) or "no port at all"
        return MissingPortError(f"{path} is not there; there is {there}. Plug the instrument in.")
    if number in (errno.EAGAIN, errno.EBUSY, errno.EWOULDBLOCK) or "PermissionError(13" in text:
        return NeedsPersonError(f"{path} is in use by another program; close that program.")
    if number in (errno.EACCES, errno.EPERM):
        return NeedsPersonError(_permission(path))
    if number == errno.ENOTTY:
        return NeedsPersonError(f"{path} is not a serial port.")
    return LinkLostError(f"{path} could not be opened: {_why(error)}.")


def _permission(path: str) -> str:
    if sys.platform == "win32":
        return f"{path} may not be opened; close the program that uses it."
    import grp  # not on every system

    try:
        group = grp.getgrgid(os.stat(path).st_gid).gr_name
    except (OSError, KeyError):
        group = "dialout"
    return (
        f"{path} belongs to the group '{group}', which you are not in; "
        f"run 'sudo usermod -aG {group} $USER' and log in again."
    )


def _why(error: BaseException) -> str:
    words = getattr(error, "strerror", None) or str(error) or type(error).__name__
    return str(words).rstrip(".")
