"""A visit with a Bluetooth probe, set up in the window: the shipped library against a fake service."""

from __future__ import annotations

import asyncio
import struct
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

pytest.importorskip("dbus_fast", reason="dbus-fast is for Linux only: no fake Bluetooth service")

from PySide6.QtWidgets import QApplication

from drivers.discover import discover
from logger.desktop.live import Live
from logger.desktop.spoken import spoken
from logger.session import Session
from tests.drivers.conftest import _bluetooth_bus, bluetooth_bus
from tests.drivers.fake_bluez.devices import FakeCharacteristic, FakeDescriptor, FakeDevice, FakeService
from tests.drivers.fake_bluez.service import FakeBluez
from tests.logger.desktop.test_new_visit import opened, touch, until, words

__all__ = ["_bluetooth_bus", "bluetooth_bus"]
pytestmark = pytest.mark.usefixtures("own_folders", "bluetooth_bus")
ADDRESS, TEMPERATURE = "C0:FF:EE:00:00:01", 0x2A6E


def _clamps() -> FakeDevice:
    places = tuple(
        FakeCharacteristic(TEMPERATURE, struct.pack("<h", value), descriptors=(FakeDescriptor(0x2901, name),))
        for name, value in ((b"suction line", -240), (b"liquid line", 3060))
    )
    return FakeDevice(ADDRESS, "Clamp pair", (FakeService(0x181A, places),))


@contextmanager
def _on_the_air(device: FakeDevice) -> Iterator[None]:
    """Let a device broadcast, and send readings to whoever subscribes, from a thread of its own."""
    done, ready = threading.Event(), threading.Event()

    async def run() -> None:
        bluez = await FakeBluez().start()
        ready.set()
        number = 0
        while not done.is_set():
            number += 1
            bluez.advertise(device, rssi=-60 - number % 3)
            for order, value in enumerate((-240, 3060)):
                payload = struct.pack("<h", value + number % 2)
                await bluez.notify(device, TEMPERATURE, payload, order=order)
            await asyncio.sleep(0.05)
        await bluez.die()

    thread = threading.Thread(target=lambda: asyncio.run(run()))
    thread.start()
    try:
        assert ready.wait(60.0)
        yield
    finally:
        done.set()
        thread.join(60.0)


def test_a_bluetooth_probe_is_found_taken_and_recorded(application: QApplication, own_folders: Path) -> None:
    with _on_the_air(_clamps()), opened(discover) as window:
        until(window, lambda: "Clamp pair" in words(window))
        assert "Bluetooth · signal good · environmental sensing" in words(window)
        keys = spoken(window.scene).keys
        touch(window, next(act for act, said in keys.items() if said.startswith("Clamp pair")))
        until(window, lambda: "2 of 2 channels feed a measuring point" in words(window))
        touch(window, "visit start")
        until(window, lambda: isinstance(window.source, Live))
        live = window.source
        assert isinstance(live, Live)
        until(window, lambda: live.present().value("suction_temperature") == pytest.approx(270.75, abs=0.02))
    session = Session.open(live.folder)
    assert session.state.value == "closed"
    assert {channel.id for channel in session.channels} == {
        "clamp-pair/suction_line",
        "clamp-pair/liquid_line",
    }
