"""``evenrun electrical``: files and the form, cautions first, nothing typed is lost, faults by key path."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from pathlib import Path

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.electrical_safety import cautions
from analysis.finding_acts import Safe
from analysis.measure import Channel, Quality
from analysis.rows import Rows
from analysis.units import Quantity
from drivers.clock import FollowedClock
from drivers.strict_toml import TomlError, decode
from logger.asking import Asker
from logger.cli import main
from logger.descriptor import SessionHeader
from logger.electrical_file import case_of
from logger.electrical_form import ElectricalForm
from logger.electrical_report import report_on, report_text
from logger.electrical_tables import ElectricalTable
from logger.errors import CommandError
from logger.session_writer import SessionWriter

RECORDINGS = Path(__file__).parents[2] / "recordings" / "electrical"
EXAMPLES = sorted(RECORDINGS.glob("*.toml"))
CAUTIONS = [c.text for c in cautions("A1")]


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    status = main(arguments)
    captured = capsys.readouterr()
    return status, captured.out, captured.err


def facts(capsys: pytest.CaptureFixture[str], name: str) -> dict:  # type: ignore[type-arg]
    status, out, _ = run(capsys, "electrical", str(RECORDINGS / f"{name}.toml"), "--json")
    assert status == 0
    return json.loads(out)  # type: ignore[no-any-return]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_example_reads_and_puts_the_cautions_first(
    capsys: pytest.CaptureFixture[str], path: Path
) -> None:
    status, out, err = run(capsys, "electrical", str(path))
    assert (status, err) == (0, "")
    first_value = re.search(r"[1-9][\d.]* (V|ohm)\b", out)
    assert first_value is not None
    for text in CAUTIONS:
        assert 0 <= out.index(text) < first_value.start()
    status, out, _ = run(capsys, "electrical", str(path), "--json")
    found = json.loads(out)
    assert next(iter(found)) == "cautions"
    assert [c["text"] for c in found["cautions"]] == CAUTIONS
    conditions = {condition.value for condition in Safe}
    assert all(act["condition"] in conditions for act in every_act(found))


def every_act(found: object) -> Iterable[dict[str, str]]:
    if isinstance(found, dict):
        for key, value in found.items():
            yield from value if key == "next" else every_act(value)
    elif isinstance(found, list):
        for value in found:
            yield from every_act(value)


def test_the_bakery_dead_on_arrival(capsys: pytest.CaptureFixture[str]) -> None:
    # Our scenario B.1 end to end: volts, nine ohms, ten ohms and the repair.
    dead = facts(capsys, "bakery-dead")
    assert dead["transformer"]["condemned"] is False
    assert dead["transformer"]["state"].startswith("not condemned")
    hunt = dead["short_hunt"]
    assert (hunt["entered"], hunt["wanted"]) == (9, 10)
    assert hunt["missing"] == ["reversing valve coil to earth"]
    assert hunt["held_back"] == ["new fuse", "new transformer"]
    (pointed,) = [branch for branch in hunt["branches"] if branch["look_here_first"]]
    assert (pointed["name"], pointed["state"]) == ("condensate switch", "earthed")
    assert pointed["to_earth"] == pytest.approx(0.4)  # the meter's own 0.2 ohm taken off
    assert pointed["to_common"] == pytest.approx(0.6)

    repaired = facts(capsys, "bakery-repaired")["short_hunt"]
    assert repaired["held_back"] == []
    assert repaired["repair"].startswith("proven: R to C 25.9 V at rest and 24.8 V under load")
    assert repaired["next"] == []


def test_the_hall_locked_out(capsys: pytest.CaptureFixture[str]) -> None:
    found = facts(capsys, "hall-locked-out")
    control, pump = found["circuits"]
    assert control["loss"]["named"] == "the unit's own control"
    assert {"transformer", "control fuse", "high-pressure switch"} <= set(control["cleared"])
    assert pump["outcome"] == "no loss as far as read"
    assert found["motors"][0]["supported"] == ["run capacitor"]
    assert found["isolation"]["complete"] is True


def test_a_compressor_that_hums(capsys: pytest.CaptureFixture[str]) -> None:
    # 2653 I / V at 60 Hz: 22.3 microfarad of 35.
    found = facts(capsys, "compressor-hums")
    assert found["motors"][0]["supported"] == ["run capacitor"]
    assert found["motors"][0]["statement"] == "run capacitor: 22 of 35 µF (64 %, least 94 %)"
    assert [c["outcome"] for c in found["circuits"]] == ["no loss as far as read"] * 2


def test_flammable_and_unknown_refrigerants_warn_of_ignition(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name, expected in (("R454B", True), ("R290", True), ("", True), ("R410A", False)):
        path = tmp_path / "case.toml"
        path.write_text(f'refrigerant = "{name}"\n')
        _, out, _ = run(capsys, "electrical", str(path))
        assert ("no ignition source" in out) is expected


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("titel = 'x'", "'titel' is not a key here; known are title"),
        ("[[circuit]]\nname = 'c'\nkind = 'control'\nreading = [{ point = 'sump', volts = '1 V' }]",
         "'circuit[1].reading[1].point': 'sump' is no point of this circuit; it has supply"),
        ("[[circuit]]\nname = 'c'\nkind = 'control'\nreading = [{ point = 'fuse', volts = '25' }]",
         "'circuit[1].reading[1].volts': '25' has no unit"),
        ("[[circuit]]\nname = 'c'\nkind = 'control'\nreading = [{ point = 'fuse', volts = '-3 V' }]",
         "must be zero or more"),
        ("[[circuit]]\nname = 'c'\nkind = 'lift'", "kind"),
        ("[[circuit]]\nname = 'c'\nkind = 'own'", "needs its points"),
        ("[[circuit]]\nname = 'c'\nkind = 'control'\n"
         "reading = [{ point = 'fuse', volts = '2 V', time = '25:99' }]",
         "no time of day"),
        ("[[short_hunt.branch]]\nname = 'a'\nto_earth = '3 V'", "short_hunt.branch[1].to_earth"),
        ("[[short_hunt.branch]]\nname = 'a'\n[[short_hunt.branch]]\nname = 'a'", "'a' stands twice"),
        ("[limits]\nplate = '230 V'\nsupply = '207-253 V'", "not both"),
        ("[limits]\nplate = '5000 V'", "'limits': a plate voltage"),
        ("[limits]\nsupply = '253-207 V'", "write a range"),
        ("refrigerant = 'R999'", "R999"),
        ("phase_volts = ['230 V']", "write three voltages"),
        ("[[motor]]\nname = 'p'\ncapacitor_volts = '3 V'\ncapacitor_amps = '1 A'", "need '50 Hz' or '60 Hz'"),
        ("[transformer]\nva = -40.0", "more than zero"),
        ("not toml", "not readable as TOML"),
    ],
)  # fmt: skip
def test_faults_are_told_by_key_path(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, words: str
) -> None:
    path = tmp_path / "case.toml"
    path.write_text(text)
    status, out, err = run(capsys, "electrical", str(path))
    assert status == 3
    assert words in err
    assert err.count("\n") == 1
    assert out == ""


def test_the_newest_volts_of_a_session(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    volts = {"supply_voltage": 230.0, "control_voltage": -0.1}  # a probe's noise
    channels = [Channel(f"meter/{n}", Quantity.VOLTAGE, "V", hold_s=60.0) for n in ("vs", "vc", "ps")]
    writer = SessionWriter.create(tmp_path / "s", SessionHeader(title="dead"), FollowedClock(0))
    writer.channels(channels)
    for place, channel in zip(volts, channels, strict=False):
        writer.note("assign", channel.id, place, from_us=0)
    items = [(0, c.id, v, Quality.OK) for c, v in zip(channels, volts.values(), strict=False)]
    writer.add(Rows.of([*items, (5_000_000, "meter/ps", 1.0, Quality.OK)]))
    writer.note("stop", "", "done", from_us=5_000_000)
    assert writer.close("done") == ()
    status, out, _ = run(capsys, "electrical", str(tmp_path / "s"), "--json")
    assert status == 0
    (control,) = json.loads(out)["circuits"]
    assert control["loss"]["named"] is None
    assert "a short or overload after the transformer" in control["loss"]["parts"]
    assert all(reading["live"] for reading in control["readings"])
    _, out, _ = run(capsys, "electrical", str(tmp_path / "s"), "--plate", "230V")
    for text in CAUTIONS:
        assert out.index(text) < out.index("230 V  ")
    status, _, err = run(capsys, "electrical", str(tmp_path / "s"), "--plate", "many")
    assert (status, "--plate" in err) == (2, True)
    status, _, err = run(capsys, "electrical", str(tmp_path))
    assert (status, "no session" in err) == (2, True)


def test_missing_and_strange_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(capsys, "electrical", str(tmp_path / "none.toml"))[0] == 4
    (tmp_path / "b.toml").write_bytes(b"\xff\xfe\x00")
    status, _, err = run(capsys, "electrical", str(tmp_path / "b.toml"))
    assert (status, "UTF-8" in err) == (3, True)
    assert run(capsys, "electrical", "--json")[0] == 2


BAKERY_ANSWERS = [
    "", "230", "2",  # cautions read, plate, short hunt
    "230", "0", "26", "40", "3",  # transformer: in, out with leads on, lifted; VA and fuse
    "A", "10:02", "1", "0", "1", "1", "1",  # isolation; second supplies looked for, none
    "0,2", "1",  # the meter's leads with a decimal comma; C bonded to earth
    "", "open", "open", "0", "", "open", "9999999", "", "", "0.8", "0.6", "0", "0", "14.2", "open", "0",
    "", "31.2", "", "0",
    "", "",  # R to C after the repair: not read
    "0",
]  # fmt: skip


def answered(answers: list[str]) -> tuple[ElectricalTable, list[str]]:
    said: list[str] = []
    left = iter(answers)

    def read(prompt: str) -> str:
        said.append(prompt)
        try:
            return next(left)
        except StopIteration:
            raise EOFError from None

    return ElectricalForm(Asker(read, said.append)).fill(), said


def test_the_form_asks_the_bakery_through() -> None:
    table, said = answered(BAKERY_ANSWERS)
    first_question = next(i for i, text in enumerate(said) if "[V]" in text)
    for text in CAUTIONS:
        assert any(text in line for line in said[:first_question])
    report = report_on(case_of(table))
    assert report.hunt is not None
    assert (report.hunt.entered, report.hunt.wanted) == (9, 10)
    assert report.hunt.branches[2].look_here_first
    assert report.hunt.branches[2].branch.to_earth == pytest.approx(0.4)
    assert report.hunt.held_back
    # What was typed can be written down and read again to the same report.
    again = decode(msgspec.toml.encode(table).decode(), ElectricalTable)
    assert report_text(report_on(case_of(again))) == report_text(report)


@pytest.mark.parametrize("end", range(len(BAKERY_ANSWERS)))
def test_an_interruption_loses_nothing_typed(end: int) -> None:
    table, said = answered(BAKERY_ANSWERS[:end])
    assert any("what was typed so far counts" in text for text in said)
    report_text(report_on(case_of(table)))
    if end >= 9:
        assert table.transformer is not None
        assert table.transformer.lifted == "26 V"
    if end > 20:
        assert table.short_hunt is not None
        assert table.short_hunt.branch[0].to_common == "open"


def test_the_form_walks_a_circuit_and_asks_again() -> None:
    walk = ["", "230", "1", "1", "1", "", "229", "volts?", "229", "229", "229", "25.6", "0", *[""] * 7, "0"]
    table, said = answered(walk)
    assert any("'volts?' is no number" in text for text in said)
    report = report_on(case_of(table))
    assert report.chains[0].loss is not None
    assert report.chains[0].loss.named == "control fuse"
    motor, _ = answered(["", "230", "3", "2", "1", "228", "1.16", "0.92", "1.9", "5.0", "", "", "", "", "0"])
    assert report_on(case_of(motor)).motors[0].supported == ("run capacitor",)


def test_save_is_refused_before_anything_is_typed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "there.toml").write_text("")
    status, out, err = run(capsys, "electrical", "--save", str(tmp_path / "there.toml"))
    assert (status, out) == (2, "")
    assert "is there already" in err
    assert run(capsys, "electrical", "--save", str(tmp_path / "no" / "x.toml"))[0] == 4


def test_the_form_in_the_command(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    left = iter(BAKERY_ANSWERS)
    monkeypatch.setattr("builtins.input", lambda _: next(left))
    status, out, _ = run(capsys, "electrical", "--save", str(tmp_path / "x.toml"))
    assert status == 0
    assert "HELD BACK: new fuse, new transformer" in out
    status, again, _ = run(capsys, "electrical", str(tmp_path / "x.toml"))
    assert status == 0
    assert "condensate switch: earthed (0.6 ohm to C, 0.4 ohm to earth): look here first" in again


@settings(derandomize=True, deadline=None, max_examples=150)
@given(st.sampled_from(EXAMPLES), st.integers(0, 3000), st.text(max_size=6))
def test_a_damaged_file_is_one_sentence_and_no_traceback(path: Path, at: int, inserted: str) -> None:
    text = path.read_text(encoding="utf-8")
    at = min(at, len(text))
    try:
        told = report_text(report_on(case_of(decode(text[:at] + inserted + text[at:], ElectricalTable))))
    except (TomlError, ValueError, CommandError) as refused:  # what the command turns into one sentence
        told = str(refused)
    assert told
