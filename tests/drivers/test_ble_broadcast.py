"""Broadcasting probes: the shipped library against a fake service, under the supervisor.

Not covered here or anywhere without hardware: a real radio, and the library's parts for Windows and macOS.
"""

from __future__ import annotations

import asyncio
import itertools
import logging
from dataclasses import replace

import pytest

pytest.importorskip("dbus_fast", reason="dbus-fast is for Linux only: no fake Bluetooth service")

from cryptography.hazmat.primitives.ciphers.aead import AESCCM

from analysis.measure import Quality
from drivers.base import LinkState, ProfileError
from drivers.ble_broadcast import KIND, BleBroadcast
from drivers.bthome import BroadcastKey
from drivers.conformance import check_adapter
from drivers.gatt_values import long_uuid
from drivers.profile import Profile, load_profile
from drivers.profile_sections import Example
from drivers.registry import Context, Wanted
from tests.drivers.fake_bluez.devices import FakeDevice
from tests.drivers.fake_bluez.world import World, play
from tests.drivers.watching import FAST, ManualClock, Watched, until, watching

pytestmark = pytest.mark.usefixtures("bluetooth_bus")

ADDRESS = "54:48:E6:8F:80:A5"
BTHOME = long_uuid(0xFCD2)
KEY = "231d39c1d7cc1ab1aee224cd096db932"
LIVE, WAITING, FAILED = LinkState.LIVE, LinkState.WAITING, LinkState.FAILED


def numbered(number: int, temperature: float) -> str:
    return f"4000{number:02x}02{round(temperature * 100).to_bytes(2, 'little', signed=True).hex()}"


async def sending(world: World, device: FakeDevice, *payloads: str) -> None:
    """Send payloads one after another, each heard before the next."""
    for payload in payloads:
        world.bluez.advertise(device, service_data={BTHOME: bytes.fromhex(payload)})
        await asyncio.sleep(0.01)


async def began(world: World, device: FakeDevice, seen: Watched) -> None:
    """Wait until the adapter listens: a first sighting without data."""
    await until(lambda: LinkState.SEARCHING in seen.states, "searching")
    await until(lambda: world.hub.scanning, "scanning")
    world.bluez.advertise(device)
    await asyncio.sleep(0.02)


async def repeated(world: World, device: FakeDevice, count: int) -> None:
    """Change the signal strength only: the service hands over the old data again."""
    for number in range(count):
        world.bluez.advertise(device, rssi=-70 - number)
        await asyncio.sleep(0.005)


def test_every_measurement_is_one_reading_whatever_is_heard_again() -> None:
    async def scenario(world: World) -> None:
        device = FakeDevice(ADDRESS)
        async with watching(BleBroadcast("hall", ADDRESS, world.hub)) as seen:
            await began(world, device, seen)
            for number, value in enumerate((21.5, 21.5, -4.0), 9):
                await sending(world, device, *[numbered(number, value)] * 3)
                await repeated(world, device, 10)
            await sending(world, device, numbered(10, 99.0), "40ff01", "2002ca09", "4002ca")
            await until(lambda: seen.rejected, "faults counted")
            await asyncio.sleep(0.05)
        assert [(r.value, r.quality) for r in seen.readings] == [
            (21.5, Quality.OK), (21.5, Quality.OK), (-4.0, Quality.OK),
        ]  # fmt: skip
        (channel,) = seen.channels[0].channels
        assert (channel.id, channel.unit, channel.resolution) == ("hall/temperature", "degC", 0.01)
        assert seen.counts.rejected == {"unread_rest": 2, "version": 1}
        assert seen.states[-1] is LIVE
        assert "Connect" not in {member for member, _ in world.bluez.calls}

    play(scenario, FAST)


def test_an_unnumbered_steady_value_is_a_sign_of_life_once_per_interval() -> None:
    async def scenario(world: World) -> None:
        device, clock = FakeDevice(ADDRESS), ManualClock()
        async with watching(BleBroadcast("hall", ADDRESS, world.hub), FAST, clock) as seen:
            await began(world, device, seen)
            for _ in range(36):  # one broadcast a second; one reading in ten seconds is expected
                await sending(world, device, "4002ca09")
                clock.advance(1.0)
            await sending(world, device, "4002cb09")
            await until(lambda: seen.values("hall/temperature")[-1:] == [25.07], "the new value")
        start = seen.readings[0].t_mono_ns
        assert [((r.t_mono_ns - start) // 10**9, r.value, r.quality) for r in seen.readings] == [
            (0, 25.06, Quality.OK),
            (10, 25.06, Quality.DUPLICATE),
            (20, 25.06, Quality.DUPLICATE),
            (30, 25.06, Quality.DUPLICATE),
            (36, 25.07, Quality.OK),
        ]
        assert not Quality.DUPLICATE.usable

    play(scenario, FAST)


def sealed(counter: int, plain: str, key: str = KEY) -> str:
    tail = counter.to_bytes(4, "little")
    nonce = bytes.fromhex(ADDRESS.replace(":", "")) + b"\xd2\xfc\x41" + tail
    closed = AESCCM(bytes.fromhex(key), tag_length=4).encrypt(nonce, bytes.fromhex(plain), None)
    return f"41{closed[:-4].hex()}{tail.hex()}{closed[-4:].hex()}"


def test_encrypted_broadcasts_with_their_key(caplog: pytest.LogCaptureFixture) -> None:
    async def scenario(world: World) -> None:
        caplog.set_level(logging.DEBUG)
        device = FakeDevice(ADDRESS)
        adapter = BleBroadcast("hall", ADDRESS, world.hub, BroadcastKey(KEY))
        async with watching(adapter) as seen:
            await began(world, device, seen)
            await sending(world, device, sealed(1, "02ca09"), sealed(1, "02ca09"), sealed(2, "02ca09"))
            await sending(
                world, device, sealed(3, "02cb09", "00" * 16), sealed(4, "02cc09"), sealed(2, "02ca09")
            )
            await until(lambda: len(seen.readings) == 3, "three readings")
            await asyncio.sleep(0.03)
        assert [r.value for r in seen.readings] == [25.06, 25.06, 25.08]
        assert seen.counts.rejected == {"key": 1}
        assert KEY not in f"{caplog.text} {adapter!r} {vars(adapter)} {seen.items!r}"

    play(scenario, FAST)


@pytest.mark.parametrize(
    ("key", "reason"),
    [
        (None, "hall: The broadcast is encrypted: give the device's key of 32 hexadecimal digits."),
        ("00" * 16, "hall: The key does not fit this device's broadcasts."),
    ],
)
def test_a_missing_or_wrong_key_is_asked_for(key: str | None, reason: str) -> None:
    async def scenario(world: World) -> None:
        device = FakeDevice(ADDRESS)
        adapter = BleBroadcast("hall", ADDRESS, world.hub, BroadcastKey(key) if key else None)
        async with watching(adapter) as seen:
            await began(world, device, seen)
            await sending(world, device, *[sealed(number, "02ca09") for number in range(4)])
            await until(lambda: FAILED in seen.states, "asked for")
        assert seen.reasons(FAILED) == [reason]
        assert seen.readings == []

    play(scenario, FAST)


def test_objects_in_two_frames_become_channels_as_they_are_heard() -> None:
    async def scenario(world: World) -> None:
        device = FakeDevice(ADDRESS)
        async with watching(BleBroadcast("hall", ADDRESS, world.hub)) as seen:
            await began(world, device, seen)
            first, second = "40000902ca09020a00", "40000904138a01"
            await sending(world, device, first)
            await until(lambda: len(seen.channels) == 1, "the first channels")
            await sending(world, device, second, first, second)
            await until(lambda: len(seen.readings) == 3, "three readings")
            await asyncio.sleep(0.03)
        assert {r.channel: r.value for r in seen.readings} == {
            "hall/temperature": 25.06, "hall/temperature_2": 0.1, "hall/pressure": 1008.83,
        }  # fmt: skip
        assert len(seen.readings) == 3
        assert [len(found.channels) for found in seen.channels] == [2, 3]

    play(scenario, FAST)


def test_a_broadcaster_that_is_not_heard_is_told_and_found_later_without_a_false_reading() -> None:
    async def scenario(world: World) -> None:
        device, neighbour = FakeDevice(ADDRESS), FakeDevice("C0:FF:EE:00:00:09", "neighbour")
        world.heard = [neighbour]
        timing = replace(FAST, default_interval=0.1)  # silent after 0.3 s, connected anew after 1 s
        async with watching(BleBroadcast("hall", ADDRESS, world.hub), timing) as seen:
            await until(lambda: WAITING in seen.states, "not heard")
            await until(lambda: seen.states.count(LinkState.SEARCHING) > 1, "searching again")
            world.bluez.advertise(device)
            await until(lambda: seen.states[-1] is LinkState.SEARCHING, "listening")
            while not seen.readings:
                await sending(world, device, numbered(1, 5.0))
            waits = seen.states.count(WAITING)
            # Silence: the supervisor makes a new connection; then the old broadcast is handed over again.
            await until(lambda: seen.states.count(WAITING) > waits, "silence noticed")
            await until(lambda: seen.states[-1] is LinkState.SEARCHING, "listening")
            await repeated(world, device, 5)
            await sending(world, device, numbered(2, 6.0))
            await until(lambda: len(seen.readings) == 2, "two readings")
        assert [r.value for r in seen.readings] == [5.0, 6.0]
        assert seen.reasons(WAITING)[0] == "hall is not heard: near? battery? on?"

    play(scenario, replace(FAST, connect_deadline=0.4))  # for so long a broadcast is waited for


PROFILE = """
title = "Two-sensor broadcaster"
kind = "ble_broadcast"

[match]
names = ["TH-*"]

[[channel]]
name = "entering"
quantity = "temperature"
unit = "degC"
object = 2
order = 1
offset = 0.5
valid = [-40.0, 60.0]
expected_interval_s = 2.0

[[channel]]
name = "air"
quantity = "relative_humidity"
unit = "%"
object = 3

[[example]]
hex = "4002ca09020a0003bf13"
values = { entering = 0.6, air = 50.55 }
"""


def test_a_profile_names_objects_by_number_and_order() -> None:
    profile = load_profile(PROFILE, "pair")
    assert KIND.example is not None
    assert KIND.example(profile, profile.example[0]) == (profile.example[0].values, "")
    assert KIND.example(profile, Example(hex="20")) == ({}, "version")

    async def scenario(world: World) -> None:
        device = FakeDevice(ADDRESS)
        context = Context(timing=FAST)
        adapter = KIND.make(Wanted("loop", profile, ADDRESS), context)
        assert isinstance(adapter, BleBroadcast)
        async with watching(adapter) as seen:
            await until(lambda: LinkState.SEARCHING in seen.states, "searching")
            while not seen.readings:
                await sending(world, device, "4002ca09020a0003bf13")
        assert {r.channel: r.value for r in seen.readings} == {"loop/entering": 0.6, "loop/air": 50.55}
        assert seen.channels[0].channels[0].expected_interval_s == 2.0
        await context.aclose()

    play(scenario, FAST)


def test_a_profile_without_object_numbers_is_refused() -> None:
    text = PROFILE.replace("object = 3\n", "")
    with pytest.raises(ProfileError, match="channel 'air': say the object's number"):
        KIND.make(Wanted("loop", load_profile(text, "pair"), ADDRESS), Context())
    with pytest.raises(ProfileError, match="loop needs its Bluetooth address"):
        KIND.make(Wanted("loop", load_profile(PROFILE, "pair")), Context())
    with pytest.raises(ProfileError, match="loop: The key of a broadcaster has 32 hexadecimal digits"):
        KIND.make(Wanted("loop", Profile(title=""), ADDRESS, {"key": "12"}), Context())
    with pytest.raises(ProfileError, match="loop: 'kee' is no option of a broadcaster; there is key"):
        KIND.make(Wanted("loop", Profile(title=""), ADDRESS, {"kee": KEY}), Context())
    for key in (KEY, BroadcastKey(KEY), None):
        assert KIND.make(Wanted("loop", Profile(title=""), ADDRESS, {"key": key}), Context()).name == "loop"


def test_the_contract_of_an_adapter_is_kept() -> None:
    async def scenario(world: World) -> None:
        device = FakeDevice(ADDRESS)

        async def speak() -> None:
            for number in itertools.count():
                await sending(world, device, numbered(number % 256, number % 50))

        speaking = asyncio.create_task(speak())
        await world.hub.start()
        problems = await check_adapter(
            lambda: BleBroadcast("x", ADDRESS, world.hub), timing=FAST, within=20.0
        )
        speaking.cancel()
        await asyncio.wait({speaking})
        assert problems == []

    play(scenario, FAST)


def test_discovery_says_what_is_broadcast_and_what_needs_a_key() -> None:
    async def scenario(world: World) -> None:
        plain, closed = FakeDevice(ADDRESS, "hall"), FakeDevice("54:48:E6:8F:80:A6")

        async def speak() -> None:
            while True:
                world.bluez.advertise(plain, service_data={BTHOME: bytes.fromhex("4002ca0903bf13")})
                world.bluez.advertise(closed, service_data={BTHOME: bytes.fromhex(sealed(1, "02ca09"))})
                await asyncio.sleep(0.02)

        speaking = asyncio.create_task(speak())
        context = Context(timing=FAST)
        assert KIND.discover is not None
        found = {item.address: item async for item in KIND.discover(context, 0.3)}
        speaking.cancel()
        await asyncio.wait({speaking})
        await context.aclose()
        assert set(found) == {ADDRESS, closed.address}
        assert found[ADDRESS].label == "hall"
        assert found[ADDRESS].evidence == "temperature 25.06 degC, humidity 50.55 %"
        assert found[closed.address].evidence.startswith("The broadcast is encrypted")

    play(scenario, FAST)
