"""Pseudo-terminals as serial ports: one that an instrument writes to, and a null modem between two."""

from __future__ import annotations

import os
import pty
import select
import threading
import time
import tty
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path


class FakePort:
    """A port as a computer sees it (``link``, a by-id name), with the instrument's end in our hand."""

    def __init__(self, link: Path) -> None:
        self.link = link
        self._instrument = -1
        self.plug()

    def plug(self) -> None:
        """Plug in: a new port name behind the same by-id link."""
        self._instrument, computer = pty.openpty()
        tty.setraw(self._instrument)
        tty.setraw(computer)
        self.name = os.ttyname(computer)
        self._computer = computer
        self.link.unlink(missing_ok=True)
        self.link.symlink_to(self.name)

    def wait_open(self, seconds: float) -> bool:
        """Wait until a computer has opened the port; False if none did. Then nobody else holds it open."""
        if self._computer >= 0:
            os.close(self._computer)
            self._computer = -1
        watch, end = select.poll(), time.monotonic() + seconds
        watch.register(self._instrument, 0)
        while time.monotonic() < end:
            if not watch.poll(0):  # while no end is open, the line is hung up
                return True
            time.sleep(0.005)
        return False

    def unplug(self) -> None:
        """Pull the plug: the open port fails, and its names vanish."""
        self.link.unlink(missing_ok=True)
        for end in (self._instrument, self._computer):
            with suppress(OSError):
                os.close(end)
        self._instrument = -1

    def send(self, data: bytes) -> None:
        """Send from the instrument; waits while the computer does not read."""
        while data:
            data = data[os.write(self._instrument, data[:1024]) :]

    def receive(self, timeout: float) -> bytes:
        """Receive at the instrument."""
        try:
            ready, _, _ = select.select([self._instrument], [], [], timeout)
            return os.read(self._instrument, 4096) if ready else b""
        except (OSError, ValueError):
            return b""


@contextmanager
def null_modem() -> Iterator[tuple[str, str]]:
    """Give the names of two ports that are wired to each other."""
    ends = [pty.openpty(), pty.openpty()]
    for end in ends:
        for handle in end:
            tty.setraw(handle)
    (a, computer_a), (b, computer_b) = ends
    stop_read, stop_write = os.pipe()

    def carry() -> None:
        while True:
            for handle in select.select([a, b, stop_read], [], [])[0]:
                if handle == stop_read:
                    return
                try:
                    os.write(b if handle == a else a, os.read(handle, 4096))
                except OSError:
                    return

    wire = threading.Thread(target=carry, daemon=True)
    wire.start()
    try:
        yield os.ttyname(computer_a), os.ttyname(computer_b)
    finally:
        os.write(stop_write, b"x")
        wire.join(5)
        for handle in (a, b, computer_a, computer_b, stop_read, stop_write):
            os.close(handle)
