"""A machine over its visits: like conditions only, repairs begin anew, damaged sessions stop nothing."""

from __future__ import annotations

import argparse
import json
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest

from analysis.history import Dated, Drift, histories
from logger.commands import history as command
from logger.comparison import Studied, study
from logger.errors import CommandError
from logger.history import history_facts, machine_history
from logger.replay import open_session
from tests.logger.hall_sessions import AS_LEFT, DECLARED, hall_session

DAY_US = 86_400_000_000


@pytest.fixture(scope="module")
def studied(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Studied]:
    """Sessions whose subcooling falls by 1 K each, and one with warmer water."""
    top = tmp_path_factory.mktemp("visits")
    levels = {f"year{n}": {**AS_LEFT, "clamps/tl": 34.0 + n} for n in range(4)}
    levels["warm"] = {**AS_LEFT, "water/si": 9.0, "water/so": 5.0}
    return {
        name: study(open_session(str(hall_session(top / name, level, seed=n, declared=DECLARED))))
        for n, (name, level) in enumerate(levels.items())
    }


def dated(studied: Mapping[str, Studied], name: str, day: int, phase: str = "") -> Dated:
    one = studied[name]
    best = max(one.stretches, key=lambda stretch: stretch.seconds)
    return Dated(name, day * DAY_US, replace(best, settings=replace(best.settings, phase=phase)), one.side)


def test_a_charge_that_is_being_lost_drifts_and_superheat_does_not(studied: dict[str, Studied]) -> None:
    (series,) = histories([dated(studied, f"year{n}", 365 * n) for n in range(4)])
    assert len(series.matched) == 4
    trends = {trend.symbol: trend for trend in series.trends}
    assert trends["subcooling"].drift is Drift.DRIFTS
    assert trends["subcooling"].slope == pytest.approx(-1.0, abs=0.05)
    assert trends["superheat"].drift is Drift.NOT_SHOWN
    assert "cop" not in trends  # never measured here


def test_warmer_water_is_no_like_condition(studied: dict[str, Studied]) -> None:
    visits = [dated(studied, f"year{n}", 365 * n) for n in range(3)] + [dated(studied, "warm", 2000)]
    (series,) = histories(visits)
    assert [visit.name for visit in series.matched] == ["year0", "year1", "year2"]
    assert series.unmatched == (("warm", "source water in unlike"),)


def test_two_visits_are_too_few_and_three_in_a_week_too_close(studied: dict[str, Studied]) -> None:
    (few,) = histories([dated(studied, "year0", 0), dated(studied, "year1", 365)])
    assert {trend.drift for trend in few.trends if trend.entries} == {Drift.TOO_FEW}
    (close,) = histories([dated(studied, f"year{n}", 2 * n) for n in range(3)])
    assert {trend.drift for trend in close.trends if trend.entries} == {Drift.TOO_CLOSE}


def test_a_repair_begins_a_new_series_and_the_repair_itself_is_left_out(studied: dict[str, Studied]) -> None:
    visits = [dated(studied, f"year{n}", 300 * n) for n in range(3)]
    visits += [dated(studied, "year3", 1000, "repair"), dated(studied, "year0", 1001, "as-left")]
    (series,) = histories(visits)
    assert [visit.name for visit in series.matched] == ["year0", "year1", "year2"]
    assert series.newest is False
    again = [dated(studied, f"year{n}", 1100 + 200 * n) for n in range(2)]
    (series,) = histories([*visits, *again])
    assert series.newest is True
    assert len(series.matched) == 3


def test_the_folder_with_a_damaged_session_and_open_temporary_repairs(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    one = hall_session(tmp_path / "a", AS_LEFT, seconds=900)
    hall_session(tmp_path / "b", AS_LEFT, seconds=900, seed=2)
    (tmp_path / "b" / "datapackage.json").write_text("{torn")
    hose = '[[temporary_repair]]\nwhat = "hose"\nsince = "2026-07-08"\nuntil = "2026-08-15"\n'
    tape = '[[temporary_repair]]\nwhat = "tape"\nsince = "2026-07-08"\n'
    (one / "visit.toml").write_text(hose + tape)
    later = tmp_path / "z"
    later.mkdir()
    (later / "visit.toml").write_text(tape + 'replaced = "2026-08-01"\n')
    assert command.run(argparse.Namespace(folder=str(tmp_path), json=False, units="us")) == 0
    said = capsys.readouterr().out
    assert "too few visits (1 of 3)" in said
    assert "hose (since 2026-07-08, to be replaced by 2026-08-15; a)" in said
    assert "tape" not in said
    assert "Not read: b: " in said
    assert "°F" in said
    assert "°C" not in said
    json.dumps(history_facts(machine_history(tmp_path)), allow_nan=False)


def test_no_folder_and_an_empty_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(CommandError, match="is no folder"):
        machine_history(tmp_path / "none")
    assert command.run(argparse.Namespace(folder=str(tmp_path), json=False, units=None)) == 0
    assert "no session here" in capsys.readouterr().out
