"""Linked Bluetooth probes: the shipped library against a fake service, under the supervisor.

Not covered here or anywhere without hardware: a real radio, and the library's parts for Windows and macOS.
"""

from __future__ import annotations

import asyncio
import contextlib
import struct
from collections import deque
from dataclasses import replace

import pytest

pytest.importorskip("dbus_fast", reason="dbus-fast is for Linux only: no fake Bluetooth service")

from analysis.measure import Quality
from analysis.units import Quantity
from drivers.base import LinkState, ProfileError
from drivers.ble_discover import look_inside
from drivers.ble_gatt import KIND, BleGatt
from drivers.clock import SystemClock
from drivers.conformance import check_adapter
from drivers.profile import Profile, load_profile
from drivers.profile_sections import Example
from drivers.registry import Context, Wanted
from tests.drivers.fake_bluez.devices import FakeCharacteristic, FakeDescriptor, FakeDevice, FakeService
from tests.drivers.fake_bluez.world import World, play
from tests.drivers.watching import FAST, ManualClock, until, watching

pytestmark = pytest.mark.usefixtures("bluetooth_bus")

ADDRESS = "C0:FF:EE:00:00:01"
TEMPERATURE, PRESSURE, BATTERY = 0x2A6E, 0x2A6D, 0x2A19
LIVE, WAITING, SILENT, FAILED = LinkState.LIVE, LinkState.WAITING, LinkState.SILENT, LinkState.FAILED


def raw(*values: float) -> list[bytes]:
    return [struct.pack("<h", round(value * 100)) for value in values]


def temperature(place: str, *more: FakeDescriptor) -> FakeCharacteristic:
    return FakeCharacteristic(
        TEMPERATURE, raw(20.0)[0], descriptors=(FakeDescriptor(0x2901, place.encode()), *more)
    )


def two_sensor_probe(address: str = ADDRESS) -> FakeDevice:
    environment = FakeService(0x181A, (temperature("liquid line"), temperature("suction line")))
    return FakeDevice(address, "probe", (environment,))


def one_sensor_probe(address: str = ADDRESS) -> FakeDevice:
    return FakeDevice(address, "probe", (FakeService(0x181A, (temperature("liquid line"),)),))


async def subscribed(world: World, device: FakeDevice, order: int = 0) -> None:
    await until(lambda: world.bluez.is_subscribed(device, TEMPERATURE, order), "subscribed")


def test_two_characteristics_of_one_uuid_are_two_channels() -> None:
    async def scenario(world: World) -> None:
        probe = two_sensor_probe()
        world.heard = [probe]
        async with watching(BleGatt("coil", ADDRESS, world.hub)) as seen:
            await subscribed(world, probe, 1)
            for pair in ((21.5, 4.25), (21.51, 4.24), (21.52, 4.23)):
                for order, value in enumerate(pair):
                    await world.bluez.notify(probe, TEMPERATURE, *raw(value), order=order)
            await until(lambda: len(seen.readings) == 6, "six readings")
        assert seen.values("coil/liquid_line") == [21.5, 21.51, 21.52]
        assert seen.values("coil/suction_line") == [4.25, 4.24, 4.23]
        assert all(reading.quality == Quality.OK and reading.epoch == 1 for reading in seen.readings)
        assert [reading.t_mono_ns for reading in seen.readings] == sorted(r.t_mono_ns for r in seen.readings)
        (found,) = seen.channels
        assert [(c.id, c.label, c.unit, c.resolution) for c in found.channels] == [
            ("coil/liquid_line", "liquid line", "degC", 0.01),
            ("coil/suction_line", "suction line", "degC", 0.01),
        ]
        assert seen.states == [LinkState.CONNECTING, LinkState.SEARCHING, LinkState.CONNECTING, LIVE]
        assert seen.rejected == []

    play(scenario, FAST)


def test_a_notifying_characteristic_is_never_read_and_nothing_is_paired_or_written() -> None:
    async def scenario(world: World) -> None:
        probe = two_sensor_probe()
        world.heard = [probe]
        async with watching(BleGatt("coil", ADDRESS, world.hub)) as seen:
            await subscribed(world, probe, 1)
            await world.bluez.notify(probe, TEMPERATURE, *raw(21.5))
            await until(lambda: seen.readings, "a reading")
        called = {member for member, _ in world.bluez.calls}
        paths = [path for member, path in world.bluez.calls if member == "ReadValue"]
        assert probe.characteristic_path(TEMPERATURE) not in paths
        assert called <= {
            "GetManagedObjects", "SetDiscoveryFilter", "StartDiscovery", "StopDiscovery",
            "Connect", "Disconnect", "StartNotify", "StopNotify", "ReadValue",
        }  # fmt: skip
        assert world.bluez.filters[0]["DuplicateData"] is True
        await until(lambda: not world.bluez.is_connected(probe), "parted from the probe")

    play(scenario, FAST)


def test_a_slow_connection_inside_the_deadline_is_waited_for() -> None:
    async def scenario(world: World) -> None:
        probe = one_sensor_probe()
        probe.connect_delay = 0.3
        world.heard = [probe]
        async with watching(BleGatt("coil", ADDRESS, world.hub)) as seen:
            await until(lambda: LIVE in seen.states, "live")
        assert WAITING not in seen.states

    play(scenario, FAST)


def test_a_connection_beyond_the_deadline_is_given_up_and_made_later() -> None:
    async def scenario(world: World) -> None:
        probe = one_sensor_probe()
        probe.connect_delay = 30
        world.heard = [probe]
        async with watching(BleGatt("coil", ADDRESS, world.hub)) as seen:
            await until(lambda: WAITING in seen.states, "given up")
            assert LIVE not in seen.states
            probe.connect_delay = 0.01
            await until(lambda: LIVE in seen.states, "live")
        (reason,) = set(seen.reasons(WAITING))
        assert reason == (
            "coil did not answer in time: bring it near, close any program or phone that uses it."
        )
        assert seen.readings == []

    play(scenario, replace(FAST, connect_deadline=0.5, discovery_deadline=0.2))


def test_a_link_dropped_in_mid_stream_gives_exact_readings_before_and_after() -> None:
    async def scenario(world: World) -> None:
        probe = one_sensor_probe()
        world.heard = [probe]
        async with watching(BleGatt("coil", ADDRESS, world.hub)) as seen:
            await subscribed(world, probe)
            await world.bluez.notify(probe, TEMPERATURE, *raw(1, 2, 3))
            await until(lambda: len(seen.readings) == 3, "three readings")
            world.bluez.drop(probe)
            await until(lambda: WAITING in seen.states, "loss noticed")
            await world.bluez.notify(probe, TEMPERATURE, *raw(99))  # nobody listens
            await subscribed(world, probe)
            await world.bluez.notify(probe, TEMPERATURE, *raw(4, 5))
            await until(lambda: len(seen.readings) == 5, "five readings")
        assert [(r.value, r.epoch) for r in seen.readings] == [(1, 1), (2, 1), (3, 1), (4, 2), (5, 2)]
        assert seen.reasons(WAITING) == ["The link to coil broke off."]
        assert (seen.counts.losses, seen.counts.connections) == (1, 2)

    play(scenario, FAST)


def test_a_removed_device_is_waited_for_and_found_again() -> None:
    async def scenario(world: World) -> None:
        probe, neighbour = one_sensor_probe(), one_sensor_probe("C0:FF:EE:00:00:02")
        world.heard = [probe, neighbour]
        async with watching(BleGatt("coil", ADDRESS, world.hub)) as seen:
            await subscribed(world, probe)
            await world.bluez.notify(probe, TEMPERATURE, *raw(1))
            await until(lambda: seen.readings, "a reading")
            world.heard = [neighbour]
            world.bluez.vanish(probe)
            await until(lambda: len(seen.reasons(WAITING)) >= 3, "three attempts")
            world.heard = [probe, neighbour]
            await subscribed(world, probe)
            await world.bluez.notify(probe, TEMPERATURE, *raw(2))
            await until(lambda: len(seen.readings) == 2, "two readings")
        assert [reading.value for reading in seen.readings] == [1, 2]
        reasons = seen.reasons(WAITING)
        assert reasons[0] == "The link to coil broke off."
        assert set(reasons[1:]) <= {
            "coil is no longer heard; waiting for it to show itself again.",
            "coil is not heard: near? battery? on?",
        }

    play(scenario, replace(FAST, connect_deadline=0.2))  # for so long a broadcast is waited for


def test_a_burst_arrives_whole_and_in_order() -> None:
    async def scenario(world: World) -> None:
        probe = one_sensor_probe()
        world.heard = [probe]
        async with watching(BleGatt("coil", ADDRESS, world.hub)) as seen:
            await subscribed(world, probe)
            sent = [struct.pack("<h", number) for number in range(3000)]
            await world.bluez.notify(probe, TEMPERATURE, *sent)
            await until(lambda: len(seen.readings) >= 3000, "3000 readings")
        assert [reading.value for reading in seen.readings] == [number / 100 for number in range(3000)]
        assert seen.rejected == []

    play(scenario, FAST)


def test_malformed_payloads_are_readings_without_a_value() -> None:
    async def scenario(world: World) -> None:
        probe = one_sensor_probe()
        world.heard = [probe]
        async with watching(BleGatt("coil", ADDRESS, world.hub)) as seen:
            await subscribed(world, probe)
            await world.bluez.notify(
                probe,
                TEMPERATURE,
                b"",
                b"\x01",
                b"\x00\x80",
                b"\xff" * 40,
                b"\x00\x00\x00",
                *raw(-274),
                *raw(5),
            )
            await until(lambda: len(seen.readings) == 7, "seven readings")
        bad, unknown = Quality.MALFORMED, Quality.NOT_KNOWN
        assert [(r.value, r.quality) for r in seen.readings] == [
            (None, bad), (None, bad), (None, unknown), (None, bad), (None, bad),
            (-274.0, Quality.OUT_OF_RANGE), (5.0, Quality.OK),
        ]  # fmt: skip

    play(scenario, FAST)


def test_a_dead_service_is_noticed_by_silence_and_said_in_words() -> None:
    async def scenario(world: World) -> None:
        probe = one_sensor_probe()
        world.heard = [probe]
        timing = replace(FAST, default_interval=0.2)  # silent after 0.6 s, connected anew after 2 s
        async with watching(BleGatt("coil", ADDRESS, world.hub), timing) as seen:
            await subscribed(world, probe)
            await world.bluez.notify(probe, TEMPERATURE, *raw(1))
            await until(lambda: seen.readings, "a reading")
            world.heard = []
            await world.bluez.die()
            await until(lambda: FAILED in seen.states, "service missed")
        assert seen.states.index(SILENT) < seen.states.index(WAITING) < seen.states.index(FAILED)
        assert seen.reasons(FAILED)[0].startswith("This computer has no Bluetooth that works: ")
        assert seen.values("coil/liquid_line") == [1]

    play(scenario, replace(FAST, default_interval=0.2, connect_deadline=0.5, scan_watchdog=0.2))


def test_an_adapter_that_is_off_is_said_and_recovers_when_it_is_on() -> None:
    async def scenario(world: World) -> None:
        probe = one_sensor_probe()
        world.bluez.power(False)
        async with watching(BleGatt("coil", ADDRESS, world.hub)) as seen:
            await until(lambda: FAILED in seen.states, "off is said")
            world.bluez.power(True)
            world.heard = [probe]
            await until(lambda: LIVE in seen.states, "live")
        assert seen.reasons(FAILED)[0] == (
            "Bluetooth is off: switch it on in the system's settings or with 'bluetoothctl power on'."
        )

    play(scenario, FAST)


def test_five_probes_at_once_are_connected_one_after_another_and_a_sixth_waits() -> None:
    async def scenario(world: World) -> None:
        probes = [one_sensor_probe(f"C0:FF:EE:00:00:{number:02X}") for number in range(1, 7)]
        for probe in probes:
            probe.connect_delay = 0.03
        world.heard = probes[:5]
        adapters = [BleGatt(f"probe {n}", probe.address, world.hub) for n, probe in enumerate(probes)]
        async with contextlib.AsyncExitStack() as stack:
            seen = [await stack.enter_async_context(watching(adapter)) for adapter in adapters[:5]]
            for probe in probes[:5]:
                await subscribed(world, probe)
            world.heard = probes
            async with watching(adapters[5]) as last:
                await until(lambda: WAITING in last.states, "the sixth waits")
            for number, probe in enumerate(probes[:5]):
                await world.bluez.notify(probe, TEMPERATURE, *raw(number, number + 10))
            await until(lambda: all(len(each.readings) == 2 for each in seen), "all heard")
        for number, each in enumerate(seen):
            assert each.values(f"probe {number}/liquid_line") == [number, number + 10]
            assert each.states[-1] is LIVE
            assert WAITING not in each.states
        assert world.bluez.most_connecting == 1
        assert "Bluetooth already holds 5 links" in last.reasons(WAITING)[0]

    play(scenario, FAST)


@pytest.mark.parametrize(
    "refusal",
    [
        ("org.bluez.Error.NotAuthorized", "Not authorized"),
        ("org.bluez.Error.Failed", "Operation failed with ATT error: 0x05 (Insufficient authentication)"),
        ("org.bluez.Error.Failed", "Operation failed with ATT error: 0x0f (Insufficient encryption)"),
    ],
)
def test_a_probe_that_wants_pairing_is_never_paired_but_asked_for(refusal: tuple[str, str]) -> None:
    async def scenario(world: World) -> None:
        probe = one_sensor_probe()
        probe.services[0].characteristics[0].refusal = refusal
        world.heard = [probe]
        async with watching(BleGatt("coil", ADDRESS, world.hub)) as seen:
            await until(lambda: FAILED in seen.states, "asked for")
        assert seen.reasons(FAILED)[0] == (
            "coil wants to be paired first: pair it in the system's Bluetooth settings, then start again."
        )
        assert "Pair" not in {member for member, _ in world.bluez.calls}

    play(scenario, FAST)


def test_a_read_that_is_never_answered_ends_the_link() -> None:
    async def scenario(world: World) -> None:
        battery = FakeCharacteristic(BATTERY, b"\x57", flags=("read",))
        probe = FakeDevice(ADDRESS, "probe", (FakeService(0x180F, (battery,)),))
        world.heard = [probe]
        async with watching(BleGatt("coil", ADDRESS, world.hub)) as seen:
            await until(lambda: seen.readings, "the first value")
            reading = seen.readings[0]
            assert (reading.channel, reading.value, reading.quality) == ("coil/battery", 87.0, Quality.OK)
        battery.hangs = True
        async with watching(BleGatt("coil", ADDRESS, world.hub)) as seen:
            await until(lambda: WAITING in seen.states, "given up")
        assert "did not answer in time" in seen.reasons(WAITING)[0]

    play(scenario, replace(FAST, request_timeout=0.4))


def test_a_disconnection_that_hangs_keeps_nobody_waiting() -> None:
    async def scenario(world: World) -> None:
        probe = one_sensor_probe()
        probe.disconnect_hangs = True
        world.heard = [probe]
        loop = asyncio.get_running_loop()
        async with watching(BleGatt("coil", ADDRESS, world.hub)):
            await subscribed(world, probe)
            began = loop.time()
        assert loop.time() - began < 9.0  # the library alone waits for ten seconds; our limit is half of one

    play(scenario, FAST)


def test_errors_while_connecting_are_told_in_words_and_tried_again() -> None:
    async def scenario(world: World) -> None:
        probe = one_sensor_probe()
        probe.connect_errors = deque(
            [
                ("org.bluez.Error.Failed", "le-connection-abort-by-remote"),
                ("org.bluez.Error.InProgress", "In Progress"),
                ("org.freedesktop.DBus.Error.UnknownObject", "gone"),
            ]
        )
        world.heard = [probe]
        async with watching(BleGatt("coil", ADDRESS, world.hub)) as seen:
            await until(lambda: LIVE in seen.states, "live")
        assert seen.reasons(WAITING) == [
            "The link to coil broke off while it was made: too far away, or radio noise.",
            "coil is busy with another program: close it, or switch Bluetooth off and on again.",
            "coil is no longer heard; waiting for it to show itself again.",
        ]

    play(scenario, FAST)


ES_EVERY_10_S = FakeDescriptor(0x290C, bytes.fromhex("0000000000000a00001c04"))


def test_descriptors_give_name_interval_and_range() -> None:
    async def scenario(world: World) -> None:
        bounded = temperature("loop", ES_EVERY_10_S, FakeDescriptor(0x2906, struct.pack("<hh", -4000, 5000)))
        information = FakeService(
            0x180A,
            (
                FakeCharacteristic(0x2A29, b"Maker", flags=("read",)),
                FakeCharacteristic(0x2A25, b"S-12\0", flags=("read",)),
            ),
        )
        probe = FakeDevice(ADDRESS, "probe", (FakeService(0x181A, (bounded,)), information))
        world.heard = [probe]
        async with watching(BleGatt("loop", ADDRESS, world.hub)) as seen:
            await subscribed(world, probe)
            await world.bluez.notify(probe, TEMPERATURE, *raw(50, 50.01))
            await until(lambda: len(seen.readings) == 2, "two readings")
        (channel,) = seen.channels[0].channels
        assert channel.expected_interval_s == 10.0
        assert [r.quality for r in seen.readings] == [Quality.OK, Quality.OUT_OF_RANGE]
        assert seen.reasons(LIVE)[0] == "Maker serial S-12"

    play(scenario, FAST)


def test_an_unknown_characteristic_with_a_presentation_format_needs_no_profile() -> None:
    async def scenario(world: World) -> None:
        own = FakeCharacteristic(
            0, raw(0)[0], descriptors=(FakeDescriptor(0x2904, bytes.fromhex("0efe8027010000")),),
            uuid="6e400003-b5a3-f393-e0a9-e50e24dcca9e",
        )  # fmt: skip
        probe = FakeDevice(ADDRESS, "probe", (FakeService(0x181A, (own,)),))
        world.heard = [probe]
        async with watching(BleGatt("gauge", ADDRESS, world.hub)) as seen:
            await until(lambda: world.bluez.is_subscribed(probe, 0), "subscribed")
            await world.bluez.notify(probe, 0, *raw(8.61))
            await until(lambda: seen.readings, "a reading")
        (channel,) = seen.channels[0].channels
        assert (channel.unit, channel.quantity) == ("bar", Quantity.PRESSURE_DIFFERENCE)
        assert seen.values("gauge/pressure") == [8.61]
        assert "does not say gauge or absolute" in seen.reasons(LIVE)[0]

    play(scenario, FAST)


def test_a_sensor_that_sends_on_change_is_read_once_first_and_an_echo_is_marked() -> None:
    async def scenario(world: World) -> None:
        probe = FakeDevice(
            ADDRESS, "probe", (FakeService(0x181A, (temperature("loop", FakeDescriptor(0x290D, b"\x03")),)),)
        )
        world.heard = [probe]
        clock = ManualClock()
        async with watching(BleGatt("loop", ADDRESS, world.hub), clock=clock) as seen:
            await subscribed(world, probe)
            clock.advance(0.049)
            await world.bluez.notify(probe, TEMPERATURE, *raw(20))
            await until(lambda: len(seen.readings) == 2, "the echo")
            clock.advance(0.002)
            await world.bluez.notify(probe, TEMPERATURE, *raw(20))
            await until(lambda: len(seen.readings) == 3, "three readings")
        assert [(r.value, r.quality) for r in seen.readings] == [
            (20.0, Quality.OK), (20.0, Quality.DUPLICATE), (20.0, Quality.OK),
        ]  # fmt: skip
        assert seen.channels[0].channels[0].expected_interval_s == 60.0

    play(scenario, FAST)


PROFILE = """
title = "Two pipe sensors and a gauge"
kind = "ble_gatt"

[match]
services = ["181a"]

[[channel]]
name = "liquid"
quantity = "temperature"
unit = "degF"
uuid = "2A6E"
order = 0
valid = [-40.0, 250.0]

[[channel]]
name = "suction"
quantity = "temperature"
unit = "degC"
uuid = "2a6e"
order = 1

[[channel]]
name = "high_side"
quantity = "gauge_pressure"
unit = "kPa(g)"
uuid = "2A6D"
access = "read"
expected_interval_s = 0.1

[[channel]]
name = "torque"
quantity = "ratio"
unit = "%"
uuid = "6e400003-b5a3-f393-e0a9-e50e24dcca9e"
struct = "<H"
at = 1
scale = 0.1
sentinels = [65535.0]

[[example]]
hex = "6608"
uuid = "2a6e"
values = { liquid = 70.7, suction = 21.5 }
"""


def gauge_with_everything() -> FakeDevice:
    own = FakeCharacteristic(0, b"", flags=("notify",), uuid="6e400003-b5a3-f393-e0a9-e50e24dcca9e")
    pressure = FakeCharacteristic(PRESSURE, struct.pack("<I", 8_612_345))
    return FakeDevice(
        ADDRESS, "probe", (FakeService(0x181A, (temperature("a"), temperature("b"), pressure, own)),)
    )


def test_a_profile_names_units_order_gauge_and_own_formats() -> None:
    async def scenario(world: World) -> None:
        probe = gauge_with_everything()
        world.heard = [probe]
        profile = load_profile(PROFILE, "pipes")
        async with watching(BleGatt("unit", ADDRESS, world.hub, profile)) as seen:
            await until(lambda: world.bluez.is_subscribed(probe, 0), "subscribed")
            await world.bluez.notify(probe, TEMPERATURE, *raw(21.5), order=0)
            await world.bluez.notify(probe, TEMPERATURE, *raw(4.2), order=1)
            await world.bluez.notify(probe, 0, b"\x01\xf4\x01", b"\x01\xff\xff", b"\x01")
            await until(lambda: len(seen.values("unit/torque")) == 3, "torque")
            await until(lambda: seen.values("unit/high_side"), "pressure")
        assert seen.values("unit/liquid") == [pytest.approx(70.7)]
        assert seen.values("unit/suction") == [4.2]
        assert seen.values("unit/high_side")[0] == pytest.approx(861.2345)
        assert [r.quality for r in seen.readings if r.channel == "unit/torque"] == [
            Quality.OK, Quality.NOT_KNOWN, Quality.MALFORMED,
        ]  # fmt: skip
        assert seen.values("unit/torque")[0] == 50.0

    play(scenario, FAST)


def test_a_probe_without_what_its_profile_names_is_looked_at_twice_then_asked_about() -> None:
    async def scenario(world: World) -> None:
        probe = one_sensor_probe()
        world.heard = [probe]
        async with watching(BleGatt("unit", ADDRESS, world.hub, load_profile(PROFILE, "pipes"))) as seen:
            await until(lambda: FAILED in seen.states, "asked about")
            connects = [member for member, _ in world.bluez.calls].count("Connect")
        assert connects == 2
        assert seen.reasons(FAILED)[0] == (
            "unit does not offer suction, high_side, torque: check the profile; if the device has changed, "
            "remove it from the system's Bluetooth list and start again."
        )
        assert seen.readings == []

    play(scenario, FAST)


@pytest.mark.parametrize(
    ("old", "new", "part"),
    [
        ('uuid = "2A6D"', "", "channel 'high_side': say its uuid"),
        ('struct = "<H"', 'struct = "<HH"', "Channel 'torque': struct '<HH' is not one number"),
        (
            'quantity = "gauge_pressure"\nunit = "kPa(g)"',
            'quantity = "power"\nunit = "W"',
            "2A6D is pressure",
        ),
    ],
)
def test_a_profile_that_cannot_be_read_is_refused_when_it_is_set_up(old: str, new: str, part: str) -> None:
    assert old in PROFILE
    profile = load_profile(PROFILE.replace(old, new), "pipes")
    with pytest.raises(ProfileError, match=part):
        KIND.make(Wanted("unit", profile, ADDRESS), Context())
    with pytest.raises(ProfileError, match="unit needs its Bluetooth address"):
        KIND.make(Wanted("unit", profile), Context())
    with pytest.raises(ProfileError, match="unit: a Bluetooth probe with a link takes no options"):
        KIND.make(Wanted("unit", profile, ADDRESS, {"key": "x"}), Context())


def test_a_characteristic_that_nobody_describes_is_asked_about() -> None:
    async def scenario(world: World) -> None:
        probe = gauge_with_everything()
        world.heard = [probe]
        profile = load_profile(PROFILE.replace('struct = "<H"', ""), "pipes")
        async with watching(BleGatt("unit", ADDRESS, world.hub, profile)) as seen:
            await until(lambda: FAILED in seen.states, "asked about")
        assert "Channel 'torque': no standard says how 6e400003" in seen.reasons(FAILED)[0]

    play(scenario, FAST)


def test_a_probe_with_nothing_known_asks_for_a_profile() -> None:
    async def scenario(world: World) -> None:
        own = FakeCharacteristic(0, b"", flags=("notify",), uuid="6e400003-b5a3-f393-e0a9-e50e24dcca9e")
        probe = FakeDevice(ADDRESS, "probe", (FakeService(0x1800, (own,)),))
        world.heard = [probe]
        async with watching(BleGatt("unit", ADDRESS, world.hub)) as seen:
            await until(lambda: FAILED in seen.states, "asked")
        assert seen.reasons(FAILED)[0] == (
            "unit offers nothing that can be read without a profile: give one for it."
        )

    play(scenario, FAST)


def test_the_kind_makes_adapters_decodes_examples_and_discovers() -> None:
    profile = load_profile(PROFILE, "pipes")
    assert KIND.example is not None
    values, fault = KIND.example(profile, profile.example[0])
    assert (values, fault) == ({"liquid": pytest.approx(70.7), "suction": 21.5}, "")
    assert KIND.example(profile, Example(hex="66", uuid="2a6e")) == ({}, "malformed")
    # bytes of unknown origin: every channel that can read them does
    values, fault = KIND.example(profile, Example(hex="f9698300"))
    assert fault == ""
    assert values == {"high_side": pytest.approx(861.2345), "torque": pytest.approx(0x8369 * 0.1)}

    async def scenario(world: World) -> None:
        probe = one_sensor_probe()
        world.heard = [probe]
        context = Context(timing=FAST)
        adapter = KIND.make(Wanted("coil", Profile(title="", kind="ble_gatt"), ADDRESS), context)
        async with watching(adapter) as seen:
            await until(lambda: LIVE in seen.states, "live")
        assert KIND.discover is not None
        found = [item async for item in KIND.discover(context, 0.2)]
        await context.aclose()
        (item,) = found
        assert (item.kind, item.address, item.label, item.evidence) == (
            "ble_gatt", ADDRESS, "probe", "environmental sensing",
        )  # fmt: skip
        assert item.strength_dbm is not None
        assert -70 <= item.strength_dbm <= -50

    play(scenario, FAST)


def test_looking_inside_lists_what_is_not_advertised_and_parts_again() -> None:
    async def scenario(world: World) -> None:
        probe = gauge_with_everything()
        world.heard = [probe]
        layout = await look_inside(world.hub, ADDRESS, SystemClock(), FAST)
        assert [channel.id.removeprefix(ADDRESS) for channel in layout.channels] == ["/a", "/b", "/pressure"]
        await until(lambda: not world.bluez.is_connected(probe), "parted")
        assert "StartNotify" not in {member for member, _ in world.bluez.calls}

    play(scenario, FAST)


def test_a_link_lost_while_the_probe_describes_itself_is_a_plain_loss() -> None:
    async def scenario(world: World) -> None:
        serial = FakeCharacteristic(0x2A25, b"1", flags=("read",), hangs=True)
        probe = FakeDevice(
            ADDRESS, "probe", (FakeService(0x181A, (temperature("a"),)), FakeService(0x180A, (serial,)))
        )
        world.heard = [probe]
        async with watching(BleGatt("coil", ADDRESS, world.hub)) as seen:
            await until(lambda: ("ReadValue", probe.characteristic_path(0x2A25)) in world.bluez.calls, "read")
            world.bluez.drop(probe)
            serial.hangs = False
            await until(lambda: LIVE in seen.states, "live")
        assert len(seen.reasons(WAITING)) == 1
        assert seen.readings == []

    play(scenario, replace(FAST, request_timeout=0.5))


def test_the_contract_of_an_adapter_is_kept() -> None:
    async def scenario(world: World) -> None:
        probe = two_sensor_probe()
        world.heard = [probe]

        async def speak() -> None:
            while True:
                for order in (0, 1):
                    if world.bluez.is_connected(probe):
                        await world.bluez.notify(probe, TEMPERATURE, *raw(21.5), order=order)
                await asyncio.sleep(0.02)

        speaking = asyncio.create_task(speak())
        await world.hub.start()
        problems = await check_adapter(lambda: BleGatt("coil", ADDRESS, world.hub), timing=FAST, within=20.0)
        speaking.cancel()
        await asyncio.wait({speaking})
        assert problems == []

    play(scenario, FAST)


def test_a_busy_service_is_waited_for() -> None:
    async def scenario(world: World) -> None:
        world.bluez.start_errors = [("org.bluez.Error.InProgress", "Operation already in progress")]
        world.heard = [one_sensor_probe()]
        assert (await world.hub.find(ADDRESS, "coil")).device.name == "probe"
        assert [member for member, _ in world.bluez.calls].count("StartDiscovery") == 2

    play(scenario, FAST)
