"""What a peripheral of the fake service is made of, and how it behaves and misbehaves."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field

from drivers.gatt_values import long_uuid


@dataclass
class FakeDescriptor:
    number: int
    value: bytes


@dataclass
class FakeCharacteristic:
    number: int
    value: bytes = b""
    flags: tuple[str, ...] = ("read", "notify")
    descriptors: tuple[FakeDescriptor, ...] = ()
    refusal: tuple[str, str] | None = None
    """Error name and text with which every read and subscription is refused."""
    hangs: bool = False
    """Reads are never answered."""
    uuid: str = ""

    def __post_init__(self) -> None:
        self.uuid = self.uuid or long_uuid(self.number)


@dataclass
class FakeService:
    number: int
    characteristics: tuple[FakeCharacteristic, ...] = ()

    @property
    def uuid(self) -> str:
        return long_uuid(self.number)


@dataclass
class FakeDevice:
    """A peripheral; object paths have the real service's shape, as the library cuts them apart."""

    address: str
    name: str | None = None
    services: tuple[FakeService, ...] = ()
    connect_delay: float = 0.01
    connect_errors: deque[tuple[str, str]] = field(default_factory=deque)
    disconnect_hangs: bool = False

    @property
    def path(self) -> str:
        return f"/org/bluez/hci0/dev_{self.address.replace(':', '_')}"

    def placed(self) -> Iterator[tuple[str, FakeService, list[tuple[str, FakeCharacteristic]]]]:
        """Give service path, service, and its characteristics with their paths; handles rise from 10h."""
        handle = 0x10
        for service in self.services:
            service_path = f"{self.path}/service{handle:04x}"
            handle += 1
            inside = []
            for characteristic in service.characteristics:
                inside.append((f"{service_path}/char{handle:04x}", characteristic))
                handle += 2 + len(characteristic.descriptors)
            yield service_path, service, inside

    def characteristic_path(self, number: int, order: int = 0) -> str:
        """Path of the characteristic with this number; ``order`` tells several apart."""
        same = [
            path
            for _, _, inside in self.placed()
            for path, characteristic in inside
            if characteristic.number == number
        ]
        return same[order]
