"""What only a whole session can tell the verdict: hunting, starts, whether the machine ran."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np

from analysis.evidence import Visit, seen_value
from analysis.findings import Status, find
from analysis.measure import Channel, Specification
from analysis.rows import Rows
from analysis.units import Quantity
from drivers.clock import FollowedClock
from logger.descriptor import SessionHeader
from logger.replay import open_session
from logger.session_visit import visit_of_session
from logger.session_writer import SessionWriter
from tests.analysis.hall import read_card
from tests.logger.hall_sessions import AS_LEFT, CHANNELS, DECLARED, PLACES

SECOND = 1_000_000
POWER = Channel("power/w", Quantity.POWER, "W", uncertainty=Specification(fixed=20.0))


def recorded(
    folder: Path, seconds: int, level: Callable[[str, int, float], float], power: Callable[[int], float]
) -> Visit:
    """Record levels that change with time, and read the session as a visit."""
    rng = np.random.default_rng(2)
    clock = FollowedClock(1_768_377_600_000_000_000)
    writer = SessionWriter.create(
        folder, SessionHeader(title="hall", software="evenrun 0.1.0", libraries={}), clock
    )
    writer.channels((*CHANNELS, POWER))
    for channel, place in {**PLACES, POWER.id: "compressor_power"}.items():
        writer.note("assign", channel, place, from_us=0)
    for kind, text in DECLARED.items():
        writer.note(kind, "", text, from_us=0)
    items = [
        (k * SECOND + 100_000, channel, round(value + rng.normal(0.0, 0.004), 3), 0)
        for k in range(seconds)
        for channel, value in (
            *((c, level(c, k, v)) for c, v in AS_LEFT.items()),
            (POWER.id, power(k)),
        )
    ]
    writer.add(Rows.of(items, [*AS_LEFT, POWER.id]))
    clock.follow(seconds * 1_000_000_000)
    assert writer.close("done") == ()
    return visit_of_session(open_session(str(folder)), None)


def test_a_hunting_valve_is_found(tmp_path: Path) -> None:
    def level(channel: str, k: int, value: float) -> float:
        swing = {"clamps/ts": 2.5, "gauges/ps": 0.12}.get(channel, 0.0)
        return value + swing * math.sin(2 * math.pi * k / 60.0)

    found = find(recorded(tmp_path / "s", 1500, level, lambda _: 2960.0))
    hunting = next(f for f in found.findings if f.code == "hunting")
    assert hunting.strength > 0.5
    assert hunting.status is Status.HELD  # no flow was measured: the water is not proven


def test_a_machine_that_starts_every_five_minutes_is_short_cycling(tmp_path: Path) -> None:
    visit = recorded(
        tmp_path / "s", 1800, lambda _c, _k, value: value, lambda k: 2960.0 if k % 300 >= 120 else 0.0
    )
    assert "short_cycling" in {f.code for f in find(visit).with_status(Status.ACTIVE)}


def test_a_stopped_machine_is_not_judged_as_a_running_one(tmp_path: Path) -> None:
    visit = recorded(tmp_path / "s", 400, lambda _c, _k, value: value, lambda _: 0.0)
    assert not visit.running
    assert not visit.steady
    flowing = dataclasses.replace(
        visit, values={**visit.values, "source_flow": seen_value("source_flow", 0.0, 1e-5)}
    )
    found = find(flowing, read_card())
    assert [f.code for f in found.with_status(Status.ACTIVE)] == []
    low = next(f for f in found.findings if f.code == "low_source_flow")
    assert (low.status, low.strength, low.supporting) == (Status.DECLINED, 0.0, ())
    assert "does not run" in low.reason


def test_a_running_machine_has_no_further_findings(tmp_path: Path) -> None:
    visit = recorded(tmp_path / "s", 1200, lambda _c, _k, value: value, lambda _: 2960.0)
    assert visit.running
    assert visit.steady
    assert "superheat_swing" not in visit.values
    assert "starts_per_hour" not in visit.values
