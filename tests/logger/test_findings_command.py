"""``evenrun findings``, ``proofs`` and ``check-card`` as a person calls them."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from logger.cli import main
from tests.logger.hall_sessions import AS_FOUND, AS_LEFT, hall_session

RECORDINGS = Path(__file__).parents[2] / "recordings"
HALL_CARD = str(RECORDINGS / "cards" / "hall.toml")
CASES = sorted((RECORDINGS / "cases").glob("*.toml"))


@pytest.fixture(scope="module")
def as_found(tmp_path_factory: pytest.TempPathFactory) -> str:
    return str(hall_session(tmp_path_factory.mktemp("hall") / "as-found", AS_FOUND))


@pytest.fixture(scope="module")
def as_left(tmp_path_factory: pytest.TempPathFactory) -> str:
    return str(hall_session(tmp_path_factory.mktemp("hall") / "as-left", AS_LEFT))


def facts(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict:  # type: ignore[type-arg]
    assert main([*arguments, "--json"]) == 0
    found: dict = json.loads(capsys.readouterr().out)  # type: ignore[type-arg]
    return found


def test_a_session_without_a_flow_holds_the_charge(as_found: str, capsys: pytest.CaptureFixture[str]) -> None:
    found = facts(capsys, "findings", as_found, "--card", HALL_CARD)
    assert found["water"]["verdict"] != "met"
    assert found["findings"]["overcharge"]["status"] == "held"
    assert "water not proven" in found["findings"]["overcharge"]["reason"]
    line = found["findings"]["overcharge"]["for"][0]
    assert line["symbol"] == "subcooling"
    assert (line["unit"], line["source"]) == ("K", "card: commissioning sheet")
    assert line["value"] == pytest.approx(11.5, abs=0.2)


def test_the_card_beside_a_session_is_used_unasked(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = hall_session(tmp_path / "s", AS_FOUND)
    (folder / "unit.toml").write_text(Path(HALL_CARD).read_text("utf-8"), "utf-8")
    unasked = facts(capsys, "findings", str(folder))
    assert unasked == facts(capsys, "findings", str(folder), "--card", HALL_CARD)
    assert facts(capsys, "proofs", str(folder)) == facts(capsys, "proofs", str(folder), "--card", HALL_CARD)


def test_a_reference_serves_and_says_why_not_where_it_does_not(
    as_found: str, as_left: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    fair = facts(capsys, "findings", as_found, "--reference", as_left)
    assert fair["findings"]["overcharge"]["for"][0]["source"].startswith("reference")
    warm = hall_session(tmp_path / "warm", AS_LEFT | {"water/si": 9.0, "water/so": 5.1})
    unfair = facts(capsys, "findings", as_found, "--reference", str(warm))
    assert any("reference was not used" in note for note in unfair["notes"])


def test_swapped_probes_are_asked_about(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    swapped = hall_session(tmp_path / "swapped", AS_LEFT | {"water/si": 0.1, "water/so": 4.0})
    assert main(["findings", str(swapped)]) == 0
    out = capsys.readouterr().out
    assert "CHECK" in out
    assert "exchanged" in out


@pytest.mark.parametrize("case", CASES, ids=lambda path: path.stem)
def test_the_typed_visits_of_our_own_are_judged(case: Path, capsys: pytest.CaptureFixture[str]) -> None:
    card = str(RECORDINGS / "cards" / f"{case.stem.split('-')[0]}.toml")
    for units in ("si", "us"):
        assert main(["findings", str(case), "--card", card, "--units", units]) == 0
        out = capsys.readouterr().out
        assert "Water proven:" in out
        assert "qualified persons" in out
        assert ("°F" in out) is (units == "us")
    first = facts(capsys, "findings", str(case), "--card", card)["order"][0]
    assert first == {"hall": "low_source_flow", "bakery": "scaled_source_coil"}[case.stem.split("-")[0]]


def test_proofs_begin_with_the_water(as_left: str, capsys: pytest.CaptureFixture[str]) -> None:
    found = facts(capsys, "proofs", as_left, "--card", HALL_CARD)["proofs"]
    assert next(iter(found)) == "water_proven"
    assert found["subcooling_in_band"]["verdict"] == "met"
    assert found["heat_balance"]["missing"]
    assert main(["proofs", as_left]) == 0
    assert "CANNOT SAY" in capsys.readouterr().out


def test_check_card(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check-card", HALL_CARD]) == 0
    assert "no fault found" in capsys.readouterr().out
    wrong = tmp_path / "card.toml"
    text = Path(HALL_CARD).read_text(encoding="utf-8")
    wrong.write_text(text.replace('"-9.5 degC"', '"-12.4 degC"'), encoding="utf-8")
    assert main(["check-card", str(wrong), "--json"]) == 1
    assert "low_temperature_cut_out" in json.loads(capsys.readouterr().out)["faults"][0]["path"]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[readings]\nsuction_presure = '5 bar(g)'", "readings.suction_presure"),
        ("[readings]\nsuction_pressure = '5 bar'", "does not say gauge or absolute"),
        ("[readings]\nsuction_pressure = '5'", "has no unit"),
        ("refrigerant = 'R41OB'", "refrigerant"),
        ("seen = ['ghosts']", "'ghosts' is not known"),
        ("mode = 'warming'", "mode"),
        ("[gauge_class]\nscale = '1 K'", "no kind of gauge"),
        ("source_fluid = 'propylene_glycol 25 %'", "mass or volume"),
        ("barometer = '3 kPa(a)'", "barometer"),
        ("readings = 3", "readings"),
        ("not toml", ""),
    ],
)
def test_a_typed_visit_that_cannot_be_read_is_refused_in_one_sentence(
    text: str, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    case = tmp_path / "case.toml"
    case.write_text(text, encoding="utf-8")
    assert main(["findings", str(case)]) == 3
    told = capsys.readouterr().err
    assert words in told
    assert told.count("\n") == 1
    assert "Traceback" not in told


def test_what_is_not_there_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check-card", str(tmp_path / "none.toml")]) == 4
    assert main(["findings", str(tmp_path / "none.toml")]) == 4
    assert main(["findings", str(tmp_path)]) == 2
    assert capsys.readouterr().err.count("\n") == 3


def test_an_empty_typed_visit_is_judged_as_saying_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    case = tmp_path / "case.toml"
    case.write_text("", encoding="utf-8")
    assert main(["findings", str(case)]) == 0
    assert "not enough to say" in capsys.readouterr().out


def test_pressure_tests_of_a_typed_visit(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    case = tmp_path / "case.toml"
    case.write_text(
        """
        [nitrogen_test]
        start_pressure = "25.0 bar(g)"
        end_pressure = "24.3 bar(g)"
        start_temperature = "20 degC"
        end_temperature = "12 degC"
        [vacuum_test]
        minutes = [0, 2, 5, 8, 11, 15]
        pressures = ["60 Pa(a)", "75 Pa(a)", "82 Pa(a)", "85 Pa(a)", "86 Pa(a)", "87 Pa(a)"]
        gauge = "5 Pa"
        [liquid_pressure_test]
        minutes = [1, 2, 5, 10, 20, 30, 45, 60]
        pressures = ["4.00 bar(g)", "3.92 bar(g)", "3.81 bar(g)", "3.72 bar(g)", "3.2 bar(g)", "2.8 bar(g)",
                     "2.1 bar(g)", "1.4 bar(g)"]
        gauge = "0.02 bar"
        """,
        encoding="utf-8",
    )
    found = facts(capsys, "proofs", str(case))["proofs"]
    assert found["nitrogen_pressure_test"]["verdict"] == "met"
    assert found["vacuum_rise"]["verdict"] == "met"
    assert found["liquid_pressure_decay"]["verdict"] == "not met"
    case.write_text("[vacuum_test]\nminutes = [0]\npressures = []\ngauge = '5 Pa'", encoding="utf-8")
    assert main(["proofs", str(case)]) == 3
    assert "one pressure for each" in capsys.readouterr().err


RECORD = """
[[purge]]
what = "ground loop"
dead_head_drop = "20 mm"
flow = "0.6 L/s"
bore = "26 mm"
[[leak_check]]
place = "service valves"
found = "tight"
method = "electronic detector"
tried_on = "reference leak"
[refrigerant]
mass_before = "1.31 kg"
mass_after = "1.03 kg"
[[refrigerant.transfer]]
kind = "recovered"
mass = "0.28 kg"
"""


def test_proofs_of_the_visit_s_record_and_of_typed_tests_beside_a_session(
    as_left: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record, tests = tmp_path / "visit.toml", tmp_path / "tests.toml"
    record.write_text(RECORD, encoding="utf-8")
    tests.write_text(
        """
        [vacuum_test]
        minutes = [0, 2, 5, 8, 11, 15]
        pressures = ["60 Pa(a)", "75 Pa(a)", "82 Pa(a)", "85 Pa(a)", "86 Pa(a)", "87 Pa(a)"]
        gauge = "5 Pa"
        """,
        encoding="utf-8",
    )
    more = ("--record", str(record), "--tests", str(tests), "--as-left", as_left)
    found = facts(capsys, "proofs", as_left, "--card", HALL_CARD, *more)["proofs"]
    for code in ("purge", "leak_test", "refrigerant_ledger", "vacuum_rise"):
        assert found[code]["verdict"] == "met", code
    assert "no later" in found["run_in"]["reason"]
    assert found["vacuum_rise"]["acts"][0]["safe"] == "isolated and proven dead"
    assert main(["proofs", as_left, "--units", "us", *more]) == 0
    out = capsys.readouterr().out
    assert "vacuum at end 653 microns" in out
    assert "dead head drop 0.8 in" in out
    assert "To get what is missing, stopped:" in out


def test_the_record_beside_a_session_is_used_unasked(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = hall_session(tmp_path / "s", AS_LEFT)
    (tmp_path / "visit.toml").write_text(RECORD, encoding="utf-8")
    assert facts(capsys, "proofs", str(folder))["proofs"]["purge"]["verdict"] == "met"
    (tmp_path / "visit.toml").write_text("[[leak_check]]\nplace = 3", encoding="utf-8")
    assert main(["proofs", str(folder)]) == 3
    assert "leak_check" in capsys.readouterr().err


def test_a_pressure_s_uncertainty_has_the_pressure_s_unit() -> None:
    from analysis.evidence import Line
    from logger.verdict_report import line_text

    line = Line("suction_pressure", 609_320.0, 5e3, math.nan, math.nan, "Pa(a)", "by gauge")
    assert line_text(line, "si", 94_320.0).startswith("suction pressure 5.15 bar(g) ± 0.10 (k = 2)")


def test_a_typed_desuperheater(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    case = tmp_path / "case.toml"
    case.write_text(
        """
        mode = "heating"
        [readings]
        desuperheater_entering_temperature = "45 degC"
        desuperheater_leaving_temperature = "49 degC"
        discharge_temperature = "77 degC"
        """,
        encoding="utf-8",
    )
    assert facts(capsys, "proofs", str(case))["proofs"]["desuperheater"]["verdict"] == "met"
    assert main(["proofs", str(case), "--tests", str(tmp_path)]) == 2
    assert capsys.readouterr().err.count("\n") == 1
