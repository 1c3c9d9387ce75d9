"""Probes that fail at random for a minute: every reading is one that was sent, in order, none comes twice."""

from __future__ import annotations

import asyncio
import contextlib
import itertools
import random
import struct
import time
from collections import Counter
from dataclasses import replace

import pytest

pytest.importorskip("dbus_fast", reason="dbus-fast is for Linux only: no fake Bluetooth service")

from drivers.ble_broadcast import BleBroadcast
from drivers.ble_gatt import BleGatt
from drivers.gatt_values import long_uuid
from tests.campaign.record import record
from tests.drivers.conftest import _bluetooth_bus, bluetooth_bus  # noqa: F401
from tests.drivers.fake_bluez.devices import FakeCharacteristic, FakeDevice, FakeService
from tests.drivers.fake_bluez.world import World, play
from tests.drivers.watching import FAST, Watched, watching

pytestmark = [pytest.mark.campaign, pytest.mark.usefixtures("bluetooth_bus")]

SEED = 20260114
SECONDS = 60.0
TEMPERATURE, BTHOME = 0x2A6E, long_uuid(0xFCD2)


class Probe:
    """A linked probe that numbers its values, so that each can be told from every other."""

    def __init__(self, number: int) -> None:
        part = FakeCharacteristic(TEMPERATURE, flags=("notify",))
        self.device = FakeDevice(f"C0:FF:EE:00:00:{number:02X}", "probe", (FakeService(0x181A, (part,)),))
        self.sent = 0

    async def speak(self, world: World, rng: random.Random) -> None:
        if world.bluez.is_connected(self.device) and world.bluez.is_subscribed(self.device, TEMPERATURE):
            self.sent += 1
            await world.bluez.notify(self.device, TEMPERATURE, struct.pack("<h", self.sent))

    def misbehave(self, world: World, rng: random.Random) -> str:
        fault = rng.choice(("drop", "vanish", "refuse", "slow", "quick", "silent", "heard", "hang"))
        device = self.device
        match fault:
            case "drop":
                world.bluez.drop(device)
            case "vanish":
                world.bluez.vanish(device) if device.path in world.bluez.objects else None
            case "refuse":
                device.connect_errors.append(("org.bluez.Error.Failed", "le-connection-abort-by-remote"))
            case "slow":
                device.connect_delay = 5.0
            case "quick":
                device.connect_delay = 0.01
            case "silent":
                world.heard = [each for each in world.heard if each is not device]
            case "heard":
                world.heard = [*(each for each in world.heard if each is not device), device]
            case _:
                device.disconnect_hangs = not device.disconnect_hangs
        return fault


def check(seen: Watched, sent: int) -> int:
    """Hold what came against what was sent; gives how many came."""
    numbers = [round(reading.value * 100) for reading in seen.readings if reading.value is not None]
    assert len(numbers) == len(seen.readings)
    assert all(a < b for a, b in itertools.pairwise(numbers)), "twice, or out of order"
    assert not numbers or (numbers[0] >= 1 and numbers[-1] <= sent), "never sent"
    epochs = [reading.epoch for reading in seen.readings]
    assert epochs == sorted(epochs)
    assert seen.counts.readings == len(numbers)
    return len(numbers)


def test_four_probes_and_a_broadcaster_that_fail_at_random() -> None:
    rng = random.Random(SEED)
    faults: Counter[str] = Counter()
    came: dict[str, int] = {}
    began = time.monotonic()

    async def scenario(world: World) -> None:
        probes = [Probe(number) for number in range(1, 5)]
        broadcaster = FakeDevice("54:48:E6:8F:80:A5")
        world.heard = [probe.device for probe in probes]
        told = 0
        async with contextlib.AsyncExitStack() as stack:
            seen = [
                await stack.enter_async_context(
                    watching(BleGatt(f"probe {n}", probe.device.address, world.hub), timing)
                )
                for n, probe in enumerate(probes)
            ]
            heard = await stack.enter_async_context(
                watching(BleBroadcast("air", broadcaster.address, world.hub), timing)
            )
            while time.monotonic() - began < SECONDS:
                for probe in probes:
                    await probe.speak(world, rng)
                    if rng.random() < 0.01:
                        faults[probe.misbehave(world, rng)] += 1
                if rng.random() < 0.2:
                    told += 1
                    payload = bytes((0x40, 0, told % 256, 2)) + struct.pack("<h", told)
                    world.bluez.advertise(broadcaster, service_data={BTHOME: payload})
                elif broadcaster.path in world.bluez.objects:
                    world.bluez.advertise(broadcaster, rssi=-50 - rng.randrange(30))
                await asyncio.sleep(0.01)
            for number, (probe, each) in enumerate(zip(probes, seen, strict=True)):
                came[f"probe {number}"] = check(each, probe.sent)
                came[f"probe {number}, connections"] = each.counts.connections
            came["broadcasts"] = check(heard, told)
            came["sent"] = told + sum(probe.sent for probe in probes)
            # while a link stands everything that is sent is heard: only what was under way may be missing
            assert came["broadcasts"] >= told - heard.counts.connections - 2
            for probe, each in zip(probes, seen, strict=True):
                assert check(each, probe.sent) >= probe.sent - 2 * each.counts.connections - 2

    timing = replace(
        FAST, connect_deadline=0.5, discovery_deadline=0.5, request_timeout=1.0, default_interval=0.5
    )
    play(scenario, timing, limit=SECONDS + 60)
    assert faults["drop"] + faults["vanish"] > SECONDS / 10
    record("bluetooth-faults", SEED, time.monotonic() - began, {"faults": faults, "readings": came})
