"""One test's world: a private bus, the fake service on it, a hub, and a fresh event loop."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field

from drivers.base import Timing
from drivers.bluetooth_hub import BluetoothHub
from drivers.bluetooth_radio import BleakRadio
from tests.drivers.fake_bluez.devices import FakeDevice
from tests.drivers.fake_bluez.service import FakeBluez


@dataclass
class World:
    """What a scenario plays with."""

    bluez: FakeBluez
    hub: BluetoothHub
    heard: list[FakeDevice] = field(default_factory=list)
    """Devices that broadcast every few milliseconds while they are in this list."""

    async def advertise_for_ever(self) -> None:
        strength = 0
        while True:
            strength += 1
            for device in self.heard:
                self.bluez.advertise(device, rssi=-50 - strength % 20)
            await asyncio.sleep(0.02)


def play(scenario: Callable[[World], Awaitable[None]], timing: Timing, limit: float = 60.0) -> None:
    """Run a scenario in a loop of its own: the library keeps one state of the service per loop."""

    async def run() -> None:
        bluez = await FakeBluez().start()
        hub = BluetoothHub(timing, radio=BleakRadio(system="Linux"))
        world = World(bluez, hub)
        adverts = asyncio.create_task(world.advertise_for_ever())
        try:
            await asyncio.wait_for(scenario(world), limit)
        finally:
            adverts.cancel()
            await asyncio.wait({adverts})
            await hub.aclose()
            await bluez.die()

    asyncio.run(run())
