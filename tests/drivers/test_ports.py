"""Which port: found by identity, refused if another instrument is there; failures to open in words."""

from __future__ import annotations

import errno
import os
import sys
import threading
import time
from pathlib import Path

import pytest
import serial
from serial import rfc2217

from drivers import serial_link
from drivers.base import LinkLostError, NeedsPersonError
from drivers.ports import MissingPortError, PortFound, resolve
from drivers.profile_sections import Link
from drivers.serial_link import PortLink, link_to, opening_failure
from tests.drivers.peers.ports import FakePort

A = PortFound("/dev/ttyUSB0", 0x1209, 0x00CD, "A5XK", "1-2")
B = PortFound("/dev/ttyUSB1", 0x1209, 0x00EF, "", "1-3")
PLAIN = PortFound("/dev/ttyS0")


@pytest.mark.parametrize(
    ("address", "path"),
    [
        ("/dev/ttyS9", "/dev/ttyS9"),
        ("usb:1209:00cd:A5XK", "/dev/ttyUSB0"),
        ("usb:1209:00CD", "/dev/ttyUSB0"),
        ("usb:1209:00cd:a5xk", "/dev/ttyUSB0"),
        ("usb:1209:00ef@1-3", "/dev/ttyUSB1"),
        ("usb:1209:00ef:ANY", "/dev/ttyUSB1"),  # the system gave no serial number: lenient
        ("/dev/ttyUSB7|usb:1209:00cd:A5XK", "/dev/ttyUSB0"),  # plugged in anew under another name
    ],
)
def test_identity_finds_the_port(address: str, path: str) -> None:
    assert resolve(address, lambda: [A, B, PLAIN]) == path


def test_one_system_appends_an_a_to_serial_numbers() -> None:
    found = PortFound("COM5", 0x1209, 0x00EF, "XY123A")
    assert resolve("usb:1209:00ef:XY123", lambda: [found]) == "COM5"


def test_another_instrument_in_its_place_needs_a_person() -> None:
    with pytest.raises(NeedsPersonError, match=r"Another instrument .usb:1209:00ef@1-3. is at /dev/ttyUSB1"):
        resolve("/dev/ttyUSB1|usb:1209:00cd:A5XK", lambda: [B, PLAIN])


def test_absent_lists_what_is_there() -> None:
    with pytest.raises(MissingPortError, match="is not plugged in; there is /dev/ttyUSB1, /dev/ttyS0"):
        resolve("usb:1209:00cd:A5XK", lambda: [B, PLAIN])
    with pytest.raises(MissingPortError, match="there is no port at all"):
        resolve("usb:1209:00cd:A5XK", list)


def test_two_that_fit_need_a_person() -> None:
    twin = PortFound("/dev/ttyUSB2", 0x1209, 0x00CD, "", "1-4")
    with pytest.raises(NeedsPersonError, match="all fit"):
        resolve("usb:1209:00cd", lambda: [A, twin])


def test_addresses_found_are_addresses_understood() -> None:
    for port in (A, B, PLAIN):
        assert resolve(port.address, lambda: [A, B, PLAIN]) == port.path


@pytest.mark.parametrize(
    ("number", "kind", "words"),
    [
        (errno.ENOENT, MissingPortError, "is not there; there is"),
        (errno.EBUSY, NeedsPersonError, "in use by another program; close that program"),
        (errno.EAGAIN, NeedsPersonError, "in use by another program"),
        (errno.ENOTTY, NeedsPersonError, "is not a serial port"),
        (errno.EIO, LinkLostError, "could not be opened"),
    ],
)
def test_failures_to_open_in_words(number: int, kind: type[Exception], words: str) -> None:
    failure = opening_failure("/dev/ttyX", OSError(number, os.strerror(number)))
    assert type(failure) is kind
    assert words in str(failure)


@pytest.mark.skipif(sys.platform == "win32", reason="groups are of POSIX systems")
def test_permission_names_the_group_and_the_command(tmp_path: Path) -> None:
    import grp

    node = tmp_path / "ttyACM0"
    node.touch()
    group = grp.getgrgid(node.stat().st_gid).gr_name
    failure = opening_failure(str(node), OSError(errno.EACCES, "Permission denied"))
    assert isinstance(failure, NeedsPersonError)
    assert f"sudo usermod -aG {group} $USER' and log in again" in str(failure)


def test_a_file_is_no_port(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(NeedsPersonError, match="is not a serial port"):
        PortLink(str(tmp_path / "file"), Link(), 0.1).open()


@pytest.mark.parametrize("address", ["socket://", "socket://host", "socket://host:port", "socket://:5"])
def test_network_addresses_are_checked(address: str) -> None:
    with pytest.raises(NeedsPersonError, match="write socket://HOST:PORT"):
        link_to(address, Link(), read_timeout=0.1, open_deadline=1.0)


def test_nobody_listens(unused_tcp_port: int) -> None:
    link = link_to(f"socket://127.0.0.1:{unused_tcp_port}", Link(), read_timeout=0.1, open_deadline=1.0)
    with pytest.raises(LinkLostError, match="does not answer: Connection refused"):
        link.open()


@pytest.fixture
def unused_tcp_port() -> int:
    import socket

    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def test_closing_twice_and_never_opened(tmp_path: Path) -> None:
    link = PortLink(str(FakePort(tmp_path / "p").link), Link(dtr=False, rts=False), 0.05)
    link.close()
    link.open()
    assert link.read_some() == b""
    link.close()
    link.close()


class _Stubbed(serial.Serial):  # type: ignore[misc]
    """A pseudo-terminal has no modem lines; the server below asks for them."""

    cts = dsr = ri = cd = property(lambda self: False)

    def _update_dtr_state(self) -> None:
        pass

    def _update_rts_state(self) -> None:
        pass


@pytest.mark.filterwarnings("ignore:set:DeprecationWarning")  # in pyserial 3.5 itself
def test_rfc2217(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Against pyserial's own server side over a pseudo-terminal, with bytes that the protocol must escape."""
    import socket

    port = FakePort(tmp_path / "far")
    far = _Stubbed(str(port.link), timeout=0.01)
    listener = socket.create_server(("127.0.0.1", 0))
    stop = threading.Event()

    class Sender:
        def write(self, data: bytes) -> None:
            self.connection.sendall(data)

        connection: socket.socket

    def serve() -> None:
        connection, _ = listener.accept()
        connection.settimeout(0.01)
        sender = Sender()
        sender.connection = connection
        manager = rfc2217.PortManager(far, sender)
        while not stop.is_set():
            try:
                data = connection.recv(1024)
                if not data:
                    break
                far.write(b"".join(manager.filter(data)))
            except TimeoutError:
                pass
            waiting = far.read(far.in_waiting or 1)
            if waiting:
                connection.sendall(b"".join(manager.escape(waiting)))
        connection.close()

    server = threading.Thread(target=serve, daemon=True)
    server.start()
    number = listener.getsockname()[1]
    link = serial_link.PortLink(f"rfc2217://127.0.0.1:{number}?timeout=3", Link(baud=9600), 0.1)
    link.open()
    port.send(b"21.5\xff\xff\n")
    got = b""
    until = time.monotonic() + 5
    while b"\n" not in got and time.monotonic() < until:
        got += link.read_some()
    link.close()
    stop.set()
    server.join(5)
    listener.close()
    far.close()
    assert got == b"21.5\xff\xff\n"
