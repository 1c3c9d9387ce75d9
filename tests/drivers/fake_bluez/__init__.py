"""A stand-in for Linux's Bluetooth service on a private message bus: the shipped library runs against it."""

from tests.drivers.fake_bluez.daemon import WHY_SKIPPED, private_bus
from tests.drivers.fake_bluez.devices import FakeCharacteristic, FakeDescriptor, FakeDevice, FakeService
from tests.drivers.fake_bluez.service import FakeBluez

__all__ = [
    "WHY_SKIPPED",
    "FakeBluez",
    "FakeCharacteristic",
    "FakeDescriptor",
    "FakeDevice",
    "FakeService",
    "private_bus",
]
