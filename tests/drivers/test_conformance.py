"""The contract, on a worked example of a plug-in and on every adapter of ours; and that breaches are seen.

``Metronome`` is the worked example: a whole adapter, its kind, and the one test its author needs.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncGenerator
from importlib.metadata import EntryPoint
from pathlib import Path

import pytest

from analysis.measure import Channel, Quality, Reading
from analysis.units import Quantity
from drivers.base import Adapter, ChannelsFound, Clock, LinkEvent, LinkState, StreamItem, Timing
from drivers.conformance import check_adapter
from drivers.modbus_bus import ModbusBus
from drivers.modbus_rtu import ModbusStation
from drivers.nmea0183 import NmeaDecoder
from drivers.onewire import OneWire
from drivers.profile import load_profile
from drivers.profile_sections import Link
from drivers.registry import GROUP, Context, Kind, Wanted, load_kinds, make_adapter
from drivers.scpi import ScpiMeter
from drivers.serial_lines import SerialLines
from drivers.typed import Typed
from tests.drivers import test_modbus_rtu, test_nmea0183, test_onewire, test_scpi
from tests.drivers.peers.lines import PROFILE, line
from tests.drivers.peers.meter import FakeMeter
from tests.drivers.peers.modbus import Stations
from tests.drivers.peers.ports import FakePort, null_modem

QUICK = Timing(read_timeout=0.02, request_timeout=0.5)


class Metronome:
    """The smallest whole adapter: a device that counts. Connect, yield, clean up; nothing else."""

    def __init__(self, name: str) -> None:
        self.name = name

    async def stream(self, clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        beats = Channel(f"{self.name}/beats", Quantity.RATIO, "1", expected_interval_s=0.01)
        yield ChannelsFound((beats,))
        yield LinkEvent(clock.monotonic_ns(), LinkState.LIVE)
        beat = 0
        try:
            while True:
                beat += 1
                yield [Reading(clock.monotonic_ns(), beats.id, float(beat))]
                await asyncio.sleep(0.01)
        finally:
            pass  # here a real one closes its link


METRONOME = Kind("metronome", "a device that counts", lambda wanted, context: Metronome(wanted.name))


def test_the_worked_example_conforms() -> None:
    assert asyncio.run(check_adapter(lambda: Metronome("m"))) == []


def test_the_worked_example_is_found_as_a_plug_in() -> None:
    point = EntryPoint("metronome", "tests.drivers.test_conformance:METRONOME", GROUP)
    kinds = load_kinds(installed=[point])
    assert kinds.known["metronome"].title == "a device that counts"
    profile = load_profile(
        'title = "x"\nkind = "metronome"\n[[channel]]\nname = "beats"\nquantity = "ratio"\nunit = "1"', "x"
    )
    assert make_adapter(Wanted("m", profile), Context(), kinds=kinds).name == "m"


class Bad(Metronome):
    """Breaks the contract in the way it is told."""

    def __init__(self, way: str) -> None:
        super().__init__("" if way == "nameless" else "bad")
        self.way = way

    async def stream(self, clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        way, now = self.way, clock.monotonic_ns()
        if way != "unannounced":
            owner = "other" if way == "foreign" else self.name
            yield ChannelsFound((Channel(f"{owner}/x", Quantity.RATIO, "1"),))
        if way == "raises":
            raise KeyError("x")
        if way == "thread":
            threading.Thread(target=threading.Event().wait, args=(3,), name="forgotten", daemon=True).start()
        if way == "task":
            self.task = asyncio.create_task(asyncio.sleep(30), name="forgotten")
        if way == "ends":
            return
        if way == "empty":
            yield []
        reading = {
            "infinite": Reading(now, "bad/x", float("inf")),
            "silent none": Reading(now, "bad/x", None),
            "both": Reading(now, "bad/x", 1.0, Quality.NOT_KNOWN),
            "future": Reading(now + 10**12, "bad/x", 1.0),
            "epoch": Reading(now, "bad/x", 1.0, Quality.OK, 3),
        }.get(way, Reading(now, f"{self.name}/x", 1.0))
        while True:
            yield [reading]
            try:
                await asyncio.sleep(0.005)
            except asyncio.CancelledError:
                raise


@pytest.mark.parametrize(
    ("way", "words"),
    [
        ("nameless", "has no name"),
        ("unannounced", "before announcing"),
        ("foreign", "does not begin with"),
        ("raises", "raises KeyError"),
        ("thread", "leaves threads behind when closed: forgotten"),
        ("task", "leaves tasks behind when closed: forgotten"),
        ("ends", "ended after 0 readings"),
        ("empty", "empty batches"),
        ("infinite", "gives inf as a value"),
        ("silent none", "without saying why"),
        ("both", "together with 'not_known'"),
        ("future", "in the future"),
        ("epoch", "sets the epoch"),
    ],
)
def test_breaches_are_named(way: str, words: str) -> None:
    problems = asyncio.run(check_adapter(lambda: Bad(way), within=1.0))
    assert any(words in problem for problem in problems), problems


def conforms(adapter: Adapter) -> None:
    assert asyncio.run(check_adapter(lambda: adapter, timing=QUICK)) == []


def test_lines_conform(tmp_path: Path) -> None:
    port = FakePort(tmp_path / "p")
    stop = threading.Event()

    def send() -> None:
        i = 0
        while not stop.is_set():
            port.send(line(i) + b"\r\n")
            i += 1
            stop.wait(0.005)

    thread = threading.Thread(target=send)
    thread.start()
    conforms(SerialLines("board", load_profile(PROFILE, "b"), str(port.link)))
    stop.set()
    thread.join()


def test_sentences_conform(tmp_path: Path) -> None:
    port = FakePort(tmp_path / "p")
    stop = threading.Event()

    def send() -> None:
        while not stop.wait(0.005):
            port.send(b"$IIMTW,17.9,C*1C\r\n")

    thread = threading.Thread(target=send)
    thread.start()
    profile = load_profile(test_nmea0183.PROFILE, "v")
    conforms(SerialLines("sea", profile, str(port.link), decoder=NmeaDecoder(profile)))
    stop.set()
    thread.join()


def test_a_meter_conforms(tmp_path: Path) -> None:
    port = FakePort(tmp_path / "p")
    fake = FakeMeter(port, test_scpi.usual)
    conforms(ScpiMeter("meter", load_profile(test_scpi.PROFILE, "m"), str(port.link)))
    fake.close()


def test_a_station_conforms() -> None:
    with null_modem() as (ours, theirs):
        stations = Stations(theirs, lambda rng: 0.0)
        profile = load_profile(test_modbus_rtu.PROFILE, "m")
        conforms(ModbusStation("meter", profile, ModbusBus(ours, Link(baud=19200))))
        stations.close()


def test_thermometers_conform(tmp_path: Path) -> None:
    test_onewire.put(tmp_path, "28-000005e2fdc3", 21500)
    conforms(OneWire("w1", load_profile(test_onewire.PROFILE, "w"), str(tmp_path)))


def test_typed_readings_conform() -> None:
    typed = Typed("hand", [Channel("hand/ps", Quantity.GAUGE_PRESSURE, "psig")])
    for value in range(10):
        typed.enter("ps", float(value))
    for value in range(10):
        typed.enter("ps", float(value))

    async def main() -> list[str]:
        async def typing() -> None:
            while True:
                typed.enter("ps", 128.0)
                await asyncio.sleep(0.02)

        task = asyncio.create_task(typing())
        problems = await check_adapter(lambda: typed, timing=QUICK)
        task.cancel()
        return problems

    assert asyncio.run(main()) == []
