"""What `evenrun analyse` says of a machine that stops before it can be measured."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from analysis.measure import Channel, Specification
from analysis.rows import Rows
from analysis.timeline import Event
from analysis.units import Quantity
from drivers.clock import FollowedClock
from logger.cli import main
from logger.descriptor import SessionHeader
from logger.session_writer import SessionWriter

CHANNELS = (
    Channel("g/ps", Quantity.GAUGE_PRESSURE, "bar(g)", uncertainty=Specification(fixed=0.05)),
    Channel("g/pd", Quantity.GAUGE_PRESSURE, "bar(g)", uncertainty=Specification(fixed=0.2)),
    Channel("g/pw", Quantity.POWER, "W", uncertainty=Specification(fixed=20.0)),
)
PLACES = {"g/ps": "suction_pressure", "g/pd": "discharge_pressure", "g/pw": "compressor_power"}


def three_runs(folder: Path, run_s: int) -> Path:
    """Record three runs of a machine whose high side climbs until its switch opens at 40 bar(g)."""
    clock = FollowedClock(0)
    writer = SessionWriter.create(folder, SessionHeader(title="trips"), clock)
    writer.channels(CHANNELS)
    for name, place in PLACES.items():
        writer.event(Event(0, 0, "assign", name, place))
    writer.event(Event(0, 0, "refrigerant", "", "R410A"))
    writer.event(Event(0, 0, "mode", "", "heating"))
    items = []
    period = run_s + 400
    for t in range(3 * period):
        on = 200 <= t % period < 200 + run_s
        done = (t % period - 200) / run_s
        values = (6.0, 14.0 + 26.0 * done, 2500.0) if on else (13.0, 13.0, 0.0)
        items += [(t * 1_000_000, name, value, 0) for name, value in zip(PLACES, values, strict=True)]
    writer.add(Rows.of(items, list(PLACES)))
    clock.follow(3 * period * 1_000_000_000)
    writer.close("end of the test")
    return folder


def test_runs_that_do_not_last_are_said_and_never_called_steady(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    session = three_runs(tmp_path / "s", 40)
    assert main(["analyse", str(session)]) == 0
    said = capsys.readouterr().out
    assert "SHORT RUNS" in said
    assert "Steady from" not in said
    assert main(["analyse", str(session), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["short_runs"]
    assert found["state"] == "short runs"
    assert found["not_told"], "what forty seconds cannot tell is said"


def test_runs_that_last_are_no_short_runs(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    session = three_runs(tmp_path / "s", 900)
    assert main(["analyse", str(session), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["short_runs"] is None
