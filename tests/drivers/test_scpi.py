"""A fake meter: over-range and text answers are not values, and a late answer is never another query's."""

from __future__ import annotations

import asyncio
import random
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from analysis.measure import Quality
from drivers.base import LinkState, ProfileError, Timing
from drivers.profile import load_profile
from drivers.scpi import ScpiMeter
from tests.drivers.peers.meter import Answer, FakeMeter
from tests.drivers.peers.ports import FakePort
from tests.drivers.peers.watching import Supervised

PROFILE = """
title = "Bench meter"
kind = "scpi"
[match]
identity = "EXAMPLE,METER"
[poll]
interval_s = 0.01
identify = true
[[channel]]
name = "u"
quantity = "voltage"
unit = "V"
query = "MEAS:VOLT:AC?"
[[channel]]
name = "r"
quantity = "resistance"
unit = "ohm"
query = "MEAS:RES?"
"""
QUICK = Timing(request_timeout=0.05, read_timeout=0.01, drain_interval=0.005, backoff_first=0.02)


@contextmanager
def meter(tmp_path: Path, answer: object) -> Iterator[tuple[ScpiMeter, FakeMeter]]:
    port = FakePort(tmp_path / "meter")
    fake = FakeMeter(port, answer)  # type: ignore[arg-type]
    try:
        yield ScpiMeter("meter", load_profile(PROFILE, "bench"), str(port.link)), fake
    finally:
        fake.close()
        port.unplug()


def usual(query: str) -> Answer:
    return {
        "*IDN?": b"EXAMPLE,METER,0,1.0",
        "MEAS:VOLT:AC?": b"+2.31400000E+02",
        "MEAS:RES?": b"+1.40000000E+01",
    }[query]


def test_values_and_only_questions_are_sent(tmp_path: Path) -> None:
    async def main() -> None:
        with meter(tmp_path, usual) as (adapter, fake):
            async with Supervised(adapter, Timing()) as run:
                await run.until(lambda: run.counts.readings >= 6)
            assert {(r.channel, r.value) for r in run.seen.readings} == {
                ("meter/u", 231.4),
                ("meter/r", 14.0),
            }
            assert {r.quality for r in run.seen.readings} == {Quality.UNVERIFIED}
            assert all(line.endswith("?") for line in fake.asked)
            assert not run.counts.rejected

    asyncio.run(main())


@pytest.mark.parametrize(
    ("answer", "value", "quality"),
    [
        (b"+9.90000000E+37", None, Quality.OUT_OF_RANGE),
        (b"-9.9E37", None, Quality.OUT_OF_RANGE),
        (b"9.91E37", None, Quality.NOT_KNOWN),
        (b"O.L", None, Quality.OUT_OF_RANGE),
        (b'"OVLD"', None, Quality.OUT_OF_RANGE),
        (b"NAN", None, Quality.NOT_KNOWN),
        (b"0.6", 0.6, Quality.OK),
    ],
)
def test_sentinels(tmp_path: Path, answer: bytes, value: float | None, quality: Quality) -> None:
    async def main() -> None:
        with meter(tmp_path, lambda q: answer if q == "MEAS:RES?" else usual(q)) as (adapter, _):
            async with Supervised(adapter, Timing()) as run:
                await run.until(lambda: run.counts.readings >= 4)
            got = [
                (r.value, r.quality & ~Quality.UNVERIFIED)
                for r in run.seen.readings
                if r.channel == "meter/r"
            ]
            assert set(got) == {(value, quality)}

    asyncio.run(main())


def test_text_is_a_fault_not_a_value(tmp_path: Path) -> None:
    async def main() -> None:
        with meter(tmp_path, lambda q: b"ERROR 5" if q == "MEAS:RES?" else usual(q)) as (adapter, _):
            async with Supervised(adapter, Timing()) as run:
                await run.until(lambda: run.counts.rejected["no_match"] >= 2)
            assert {r.channel for r in run.seen.readings} == {"meter/u"}

    asyncio.run(main())


def test_a_late_answer_is_never_another_querys_value(tmp_path: Path) -> None:
    rng = random.Random(5)

    def sometimes_late(query: str) -> Answer:
        answer = usual(query)
        assert isinstance(answer, bytes)
        return (rng.uniform(0.04, 0.12), answer) if rng.random() < 0.2 and query != "*IDN?" else answer

    async def main() -> None:
        with meter(tmp_path, sometimes_late) as (adapter, _):
            async with Supervised(adapter, QUICK) as run:
                await run.until(
                    lambda: run.counts.rejected["timeout"] >= 5 and run.counts.readings > 30, 30.0
                )
            expected = {"meter/u": 231.4, "meter/r": 14.0}
            assert all(r.value == expected[r.channel] for r in run.seen.readings)

    asyncio.run(main())


def test_a_mute_meter_is_told(tmp_path: Path) -> None:
    async def main() -> None:
        with meter(tmp_path, lambda q: None) as (adapter, _):
            async with Supervised(adapter, QUICK) as run:
                await run.until(lambda: LinkState.WAITING in run.seen.states)
                assert "is it on, and set to remote?" in run.seen.reason(LinkState.WAITING)

    asyncio.run(main())


def test_another_instrument_needs_a_person(tmp_path: Path) -> None:
    async def main() -> None:
        with meter(tmp_path, lambda q: b"OTHER,THING,0,1") as (adapter, _):
            async with Supervised(adapter, QUICK) as run:
                await run.until(lambda: LinkState.FAILED in run.seen.states)
                assert "Another instrument answers" in run.seen.reason(LinkState.FAILED)
                assert not run.seen.readings

    asyncio.run(main())


@pytest.mark.parametrize("query", ["", "OUTP ON", "MEAS?;OUTP ON;X?", "MEAS?\\nOUTP ON?"])
def test_a_profile_can_send_nothing_but_one_question(query: str) -> None:
    text = PROFILE.replace('"MEAS:RES?"', f'"{query}"')
    with pytest.raises(ProfileError, match="one question"):
        ScpiMeter("meter", load_profile(text, "bench"), "x")
