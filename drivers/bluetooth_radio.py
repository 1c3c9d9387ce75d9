"""The Bluetooth library behind two makers, so that another scanner and client can take their place.

The library is imported when it is first used: a command that needs no radio starts without it.
"""

from __future__ import annotations

import platform
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from bleak import BleakClient, BleakScanner
    from bleak.backends.client import BaseBleakClient
    from bleak.backends.device import BLEDevice
    from bleak.backends.scanner import AdvertisementData, BaseBleakScanner


class Radio(Protocol):
    """Makes the scanner and the clients of one computer's Bluetooth."""

    @property
    def system(self) -> str:
        """``Linux``, ``Windows`` or ``Darwin``; decides the words for a person."""
        ...

    def scanner(self, heard: Callable[[BLEDevice, AdvertisementData], None]) -> BleakScanner:
        """Make a scanner that hands over every broadcast, repeated ones too."""
        ...

    def client(
        self, device: BLEDevice, lost: Callable[[], None], timeout: float, *, fresh_services: bool
    ) -> BleakClient:
        """Make a client for a device that a scanner has handed over."""
        ...


@dataclass(frozen=True, slots=True)
class BleakRadio:
    """The library as it is shipped, or with another backend."""

    scanner_backend: type[BaseBleakScanner] | None = None
    """None takes the operating system's own."""
    client_backend: type[BaseBleakClient] | None = None
    system: str = field(default_factory=platform.system)

    def scanner(self, heard: Callable[[BLEDevice, AdvertisementData], None]) -> BleakScanner:
        """Make a scanner that hands over every broadcast, repeated ones too."""
        from bleak import BleakScanner

        return BleakScanner(heard, bluez={"filters": {"DuplicateData": True}}, backend=self.scanner_backend)

    def client(
        self, device: BLEDevice, lost: Callable[[], None], timeout: float, *, fresh_services: bool
    ) -> BleakClient:
        """Make a client for a device that a scanner has handed over; it never pairs.

        Parameters
        ----------
        device : BLEDevice
            From the running scanner: an address alone would make the library scan by itself.
        lost : callable
            Called without arguments on every disconnection, also on one of our own and on a failed attempt.
        timeout : float
            For connecting and discovering services together [s].
        fresh_services : bool
            Whether to leave aside what the operating system remembers of the device (Windows).
        """
        from bleak import BleakClient

        return BleakClient(
            device,
            disconnected_callback=lambda _client: lost(),
            timeout=timeout,
            pair=False,
            winrt={"use_cached_services": False} if fresh_services else {},
            backend=self.client_backend,
        )
