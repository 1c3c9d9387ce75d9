"""Serial ports and how one is found again: by identity, since its name changes when it is plugged in anew."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from serial.tools import list_ports as _pyserial_ports

from drivers.base import LinkLostError, NeedsPersonError


class MissingPortError(LinkLostError):
    """The port is not there now; it may come back under another name."""


@dataclass(frozen=True, slots=True)
class PortFound:
    """A serial port of this computer."""

    path: str
    vid: int | None = None
    pid: int | None = None
    serial: str = ""
    location: str = ""
    label: str = ""

    @property
    def usb(self) -> str:
        """``VID:PID`` in hexadecimal digits, or empty."""
        return "" if self.vid is None or self.pid is None else f"{self.vid:04x}:{self.pid:04x}"

    @property
    def address(self) -> str:
        """What to write into a set-up to reach this instrument wherever it is plugged in."""
        if not self.usb:
            return self.path
        return f"usb:{self.usb}:{self.serial}" if self.serial else f"usb:{self.usb}@{self.location}"


def list_ports() -> list[PortFound]:
    """List the ports. Can take seconds per Bluetooth port on some systems: call it from a thread."""
    found = [
        PortFound(
            path=str(port.device),
            vid=port.vid,
            pid=port.pid,
            serial=str(port.serial_number or ""),
            location=str(port.location or ""),
            label="" if port.description in (None, "n/a") else str(port.description),
        )
        for port in _pyserial_ports.comports()
    ]
    return sorted(found, key=lambda port: (not port.usb, port.path))


def resolve(address: str, ports: Callable[[], Sequence[PortFound]]) -> str:
    """Give the port's present name.

    Parameters
    ----------
    address
        A path, or ``usb:VID:PID:SERIAL``, ``usb:VID:PID@LOCATION``, ``usb:VID:PID``; a path may be followed
        by ``|usb:...`` to say which instrument is expected there.
    ports
        Lists the ports; asked only when an identity is to be found.

    Raises
    ------
    MissingPortError
        If it is not there; the text lists the ports that are.
    NeedsPersonError
        If another instrument is there instead, or several fit.
    """
    path, _, identity = address.partition("|")
    if path.startswith("usb:"):
        path, identity = "", path
    if not identity:
        return path
    there = list(ports())
    fitting = [port for port in there if _fits(port, identity)]
    if len(fitting) > 1 and path:
        fitting = [port for port in fitting if port.path == path] or fitting
    if len(fitting) == 1:
        return fitting[0].path
    if fitting:
        names = ", ".join(port.path for port in fitting)
        raise NeedsPersonError(f"{names} all fit {identity}; name the port or a serial number.")
    other = next(
        (port for port in there if path and os.path.realpath(path) == os.path.realpath(port.path)), None
    )
    if other is not None:
        raise NeedsPersonError(
            f"Another instrument ({other.address}) is at {path} than the one chosen ({identity}); "
            "plug the right one in or choose this one."
        )
    names = ", ".join(port.path for port in there) or "no port at all"
    raise MissingPortError(f"{identity} is not plugged in; there is {names}.")


def _fits(port: PortFound, identity: str) -> bool:
    """Compare leniently: one system appends an ``A`` to serial numbers, some give none."""
    body = identity.removeprefix("usb:")
    body, _, location = body.partition("@")
    vid, _, rest = body.partition(":")
    pid, _, serial = rest.partition(":")
    if port.usb != f"{vid}:{pid}".lower():
        return False
    if serial and port.serial:
        return port.serial.casefold() in (serial.casefold(), f"{serial}A".casefold())
    return not location or port.location == location
