"""``evenrun typed``: three entries, the form by keypad, rows kept in a session, cautions first."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

import pytest

from analysis.electrical_safety import cautions
from logger.asking import Asker
from logger.cli import main
from logger.replay import analyse_session, open_session
from logger.typed_form import TypedForm, ask_refrigerant, matching
from logger.typed_session import TypedSession
from logger.typed_sheet import TypedSheet, declare
from logger.verify import verify

HALL = ("typed", "R410A", "--suction", "5.2bar(g)", "--line", "-2.4degC", "--barometer", "600 m")


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    status = main(arguments)
    captured = capsys.readouterr()
    return status, captured.out, captured.err


def test_three_entries(capsys: pytest.CaptureFixture[str]) -> None:
    # Our scenario A: 5.2 bar(g) and -2.4 degC over 943.2 hPa: superheat 5.6 +- 1.3 K.
    status, out, err = run(capsys, *HALL)
    assert (status, err) == (0, "")
    assert "superheat                          5.6 K  ± 1.3    single look" in out
    assert "assumed: gauge of class 1.0 over 16 bar, ± 0.16 bar (EN 837-1)" in out
    for caution in cautions("A1", gauges=True):
        assert out.index(caution.text) < out.index("5.2 bar(g)")
    status, out, _ = run(capsys, *HALL, "--json")
    found = json.loads(out)
    assert next(iter(found)) == "cautions"
    superheat = found["derived"]["superheat"]
    assert superheat["value"] == pytest.approx(5.6, abs=0.05)
    assert 2.0 * superheat["u"] == pytest.approx(1.3, abs=0.05)
    assert superheat["state"] == "single look"


def test_a_negative_temperature_needs_no_quotes(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(capsys, "typed", "R410A", "--line", "-2.4degC", "--suction", "5.2bar(g)")[0] == 0
    assert run(capsys, "typed", "R410A", "--line", "-.5degC")[0] == 0


def test_us_units_follow_what_was_typed(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, "typed", "R22", "--suction", "65psig", "--line", "50degF")
    assert "12.5 °F" in out
    assert "K " not in out.split("single look")[2]


def test_no_barometer_is_said_with_its_weight(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, *HALL[:-2])
    assert "standard atmosphere assumed" in out
    assert "each 300 m of altitude adds 0.2 K" in out


def test_a_wrong_scale_is_asked_for_and_nothing_recomputed(capsys: pytest.CaptureFixture[str]) -> None:
    # 200 psig is 101.4 degF on an R-22 scale and 69.7 degF on R-410A: below water that enters at 85 degF.
    arguments = ("typed", "R410A", "--high", "200psig", "--water-in", "85degF", "--mode", "cooling")
    _, out, _ = run(capsys, *arguments)
    assert "CHECK Condensing" in out
    assert "What is the machine filled with" in out
    _, out, _ = run(capsys, *arguments, "--json")
    conflict = json.loads(out)["conflicts"][0]
    assert conflict["code"] == "refrigerant_scale"
    assert "R22" in conflict["fits"]
    assert json.loads(out)["derived"]["condensing_temperature"]["value"] == pytest.approx(294.0, abs=0.5)


HEAT = (
    "typed", "R410A", "--water-in", "4.0degC", "--water-out", "0.1degC", "--flow", "0.60L/s", "--fluid",
    "propylene_glycol 25 % mass", "--volts", "229V", "--amps", "14.4A", "--mode", "heating", "--rated",
    "9.3kW",
    "--flow-band", "0.55 to 0.65 L/s",
)  # fmt: skip


def test_no_ports_no_gauges(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, *HEAT)
    assert "without gauges: CANNOT SAY" in out, "two thermometers of +- 1 K each say too little"
    _, out, _ = run(capsys, *HEAT, "--water-matched", "0.2K")
    assert "without gauges: ENOUGH" in out
    assert "hooking up: not worth it; a hose of 1.5 m and 5 mm bore full of liquid holds 30 g" in out
    _, out, _ = run(capsys, *HEAT, "--json", "--water-matched", "0.2K")
    heat = json.loads(out)["without_gauges"]
    assert heat["worth_hooking_up"] is False
    assert heat["hose_kg"] == pytest.approx(0.0304, abs=0.0005)
    assert heat["heat_other"]["value"] == pytest.approx(12_100, abs=300)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("typed", "R410A", "--suction", "5.2bar"), "write bar(g) or bar(a)"),
        (("typed", "R999", "--suction", "5.2bar(g)"), "R999"),
        (("typed", "R410A", "--suction", "5.2"), "has no unit"),
        (("typed", "R410A", "--suction", "520bar(g)"), "type it again"),
        (("typed", "R410A", "--line", "1degC", "--barometer", "3 bar(a)"), "--barometer"),
        (("typed", "R410A", "--line", "1degC", "--fluid", "beer"), "--fluid"),
        (("typed", "R410A", "--line", "1degC", "--gauge-class", "fine"), "Instruments"),
        (("typed", "R410A", "--line", "1degC", "--clamp", "40K"), "0.02 and 20 K"),
        (("typed", "R410A", "--line", "1degC", "--flow-band", "0.5 L/s"), "write it like"),
        (("typed", "R410A", "--line", "1degC", "--power-factor", "3"), "--power-factor"),
        (("typed", "R410A", "--json"), "--json needs values"),
    ],
)
def test_wrong_entries_are_one_sentence(
    capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], words: str
) -> None:
    status, out, err = run(capsys, *arguments)
    assert (status, out) == (2, "")
    assert words in err
    assert err.count("\n") == 1


def test_rows_are_kept_in_a_session(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "visit"
    assert run(capsys, *HALL, "--mode", "heating", "--out", str(folder))[0] == 0
    assert verify(folder) == []
    (result, *_) = list(analyse_session(open_session(str(folder))))
    assert result.derived["superheat"].value[-1] == pytest.approx(5.6, abs=0.05)
    assert 2.0 * result.derived["superheat"].u[-1] == pytest.approx(1.3, abs=0.05)
    status, _, err = run(capsys, *HALL, "--out", str(folder))
    assert status == 4
    assert "is there already" in err


class Watch:
    """A clock that a test moves."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


def form(answers: list[str | float], sheet: TypedSheet) -> tuple[list[str], Watch]:
    """Fill the form; a number among the answers moves the clock by so many seconds."""
    said: list[str] = []
    watch = Watch()
    left = iter(answers)

    def read(prompt: str) -> str:
        said.append(prompt)
        for answer in left:
            if isinstance(answer, str):
                return answer
            watch.now += answer
        raise EOFError

    wall = datetime(2026, 1, 13, 15, 24)  # noqa: DTZ001
    TypedForm(Asker(read, said.append), sheet, "si", watch, lambda: wall).fill()
    return said, watch


def test_the_form_by_keypad() -> None:
    sheet = declare(refrigerant="R410A", barometer="600 m")
    said, _ = form(["1", "5,2", "2", "-2.4", 360.0, "1", "5.2", "2", "-2.4", "0"], sheet)
    text = "\n".join(said)
    for caution in cautions("A1", gauges=True):
        assert text.index(caution.text) < text.index("[bar(g)]")
    assert "superheat                          5.6 K  ± 1.3    single look" in text
    assert "superheat                          5.6 K  ± 1.3    repeats" in text
    assert [row.value for row in sheet.rows] == [5.2, -2.4, 5.2, -2.4]
    assert "suction pressure  (last 5.2 bar(g))" in text
    keys = "0123456789.,-"
    assert all(set(answer) <= set(keys) for answer in ("1", "5,2", "2", "-2.4", "0"))


def test_the_form_asks_again_and_ends_with_what_it_has() -> None:
    sheet = declare(refrigerant="R410A")
    said, _ = form(["77", "1", "-1.4", "5.2 bar", "99999", "5.2", "5", "-", "4.0"], sheet)
    text = "\n".join(said)
    assert "'77' is none of the numbers" in text
    assert "write bar(g) or bar(a)" in text
    assert text.count("type it again") >= 2
    assert [row.point for row in sheet.rows] == ["suction_pressure", "source_entering_temperature"]
    assert "every row typed so far counts" in text


def test_an_old_row_is_not_judged() -> None:
    sheet = declare(refrigerant="R410A")
    said, _ = form(["1", "5.2", 1260.0, "2", "-2.4", "0"], sheet)
    assert "typed 21:00 ago: not judged" in "\n".join(said)


def test_the_form_keeps_every_row_before_the_next_question(tmp_path: Path) -> None:
    sheet = declare(refrigerant="R410A", barometer="600 m")
    session = TypedSession.create(tmp_path / "s", sheet)
    sheet.enter(0.0, "suction_pressure", "5.2 bar(g)")
    sheet.enter(360.0, "suction_pressure", "75.5 psig")
    # Not closed: what is typed is with the operating system already.
    lines = (tmp_path / "s" / "readings.csv").read_text(encoding="utf-8").splitlines()
    assert lines[1].startswith("0.000000,typed/suction_pressure,5.2,bar(g),")
    assert float(lines[2].split(",")[2]) == pytest.approx(5.2055, abs=0.001)
    assert lines[2].split(",")[3] == "bar(g)"
    assert session.close() == ()
    assert verify(tmp_path / "s") == []


def test_refrigerants_by_number() -> None:
    assert matching("410") == ("R410A",)
    assert matching("32") == ("R32",)
    assert matching("454") == ("R454A", "R454B", "R454C")
    assert matching("999") == ()
    answers = iter(["999", "454", "2"])
    said: list[str] = []
    assert ask_refrigerant(Asker(lambda _: next(answers), said.append)) == "R454B"
    assert any("999" in text for text in said)


def test_the_command_as_a_form(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    left = iter(["410", "1", "5.2", "2", "-2.4", "0"])
    monkeypatch.setattr("builtins.input", lambda _: next(left))
    status, out, _ = run(capsys, "typed", "--barometer", "600 m", "--out", str(tmp_path / "v"))
    assert status == 0
    assert "5.6 K" in out
    assert verify(tmp_path / "v") == []
    monkeypatch.setattr("builtins.input", lambda _: (_ for _ in ()).throw(EOFError))
    assert run(capsys, "typed")[0] == 0
