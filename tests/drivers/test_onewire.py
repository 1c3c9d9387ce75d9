"""1-Wire through a tree of files as the kernel shows it (two lines per sensor)."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

from analysis.measure import Quality
from drivers.base import Found, LinkState, Timing
from drivers.onewire import OneWire, discover, parse_slave
from drivers.profile import find_profile, load_profile
from drivers.registry import Context
from tests.drivers.peers.watching import Supervised

PROFILE = """
title = "Thermometers"
kind = "onewire"
[poll]
interval_s = 0.02
[[channel]]
name = "model"
quantity = "temperature"
unit = "degC"
valid = [-55.0, 125.0]
"""


def put(tree: Path, sensor: str, millidegrees: int, crc: str = "YES") -> None:
    (tree / sensor).mkdir(exist_ok=True)
    head = "50 05 4b 46 7f ff 0c 10 1c "
    new = tree / sensor / "new"
    new.write_text(f"{head}: crc=1c {crc}\n{head}t={millidegrees}\n")
    new.rename(tree / sensor / "w1_slave")


def test_sensors_are_found_and_named_by_their_number(tmp_path: Path) -> None:
    async def main() -> None:
        put(tmp_path, "28-000005e2fdc3", 21500)
        put(tmp_path, "28-000005e2fdc4", -125)
        (tmp_path / "w1_bus_master1").mkdir()
        adapter = OneWire("w1", load_profile(PROFILE, "w"), str(tmp_path))
        async with Supervised(adapter, Timing()) as run:
            await run.until(lambda: run.counts.readings >= 4)
            got = {(r.channel, r.value, r.quality) for r in run.seen.readings}
            assert got == {
                ("w1/28-000005e2fdc3", 21.5, Quality.ESTIMATED_TIME),
                ("w1/28-000005e2fdc4", -0.125, Quality.ESTIMATED_TIME),
            }
            assert len(run.seen.channels[-1].channels) == 2

    asyncio.run(main())


def test_a_bad_crc_is_refused_and_the_power_on_value_is_no_temperature(tmp_path: Path) -> None:
    async def main() -> None:
        sensor = "28-0000000000aa"
        put(tmp_path, sensor, 85000)
        adapter = OneWire("w1", load_profile(PROFILE, "w"), str(tmp_path))
        async with Supervised(adapter, Timing()) as run:
            await run.until(lambda: run.counts.not_known >= 1)
            assert run.seen.readings[0].value is None
            assert run.seen.readings[0].quality & Quality.INVALID
            put(tmp_path, sensor, 83000)
            await run.until(lambda: run.seen.readings[-1].value == 83.0)
            put(tmp_path, sensor, 85000)  # near the one before: a true 85 degC
            await run.until(lambda: run.seen.readings[-1].value == 85.0)
            put(tmp_path, sensor, 20000)
            await run.until(lambda: run.seen.readings[-1].value == 20.0)
            put(tmp_path, sensor, 85000)
            await run.until(lambda: run.seen.readings[-1].value is None)
            put(tmp_path, sensor, 20000, crc="NO")
            await run.until(lambda: run.counts.rejected["checksum"] >= 1)

    asyncio.run(main())


def test_no_bus_and_no_sensor_are_sentences(tmp_path: Path) -> None:
    async def main() -> None:
        profile = load_profile(PROFILE, "w")
        async with Supervised(OneWire("w1", profile, str(tmp_path / "none")), Timing()) as run:
            await run.until(lambda: LinkState.FAILED in run.seen.states)
            assert "There is no 1-Wire bus" in run.seen.reason(LinkState.FAILED)
        async with Supervised(OneWire("w1", profile, str(tmp_path)), Timing()) as run:
            await run.until(lambda: LinkState.WAITING in run.seen.states)
            assert "No thermometer is on the 1-Wire bus" in run.seen.reason(LinkState.WAITING)

    asyncio.run(main())


@pytest.mark.parametrize(
    "text", ["", "\n", "t=5", "50 : crc=1c YES\n50 t=\n", "x" * 5000, "50 : crc=1c YES\n50 t=1e9\n"]
)
def test_damaged_files(text: str) -> None:
    assert parse_slave(text) == "truncated"


def test_discovery_lists_what_is_there(tmp_path: Path) -> None:
    async def main() -> list[Found]:
        put(tmp_path, "28-000005e2fdc3", 21500)
        return [found async for found in discover(Context(), 1.0, str(tmp_path))]

    (found,) = asyncio.run(main())
    assert found.kind == "onewire"
    assert "28-000005e2fdc3" in found.label
    assert find_profile(found.profiles[0]).kind == "onewire"
