"""Import from end to end: readings as indicated, declarations as events, merging, drafts, refusals by key."""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import tomllib
import tracemalloc
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.frame import FrameBuilder
from analysis.measure import Quality
from analysis.rows import Rows
from drivers.table_file import open_table
from logger.cli import main
from logger.draft_mapping import draft
from logger.errors import CommandError
from logger.import_merge import Lateness
from logger.importing import import_tables
from logger.mapping_check import parse_mapping
from logger.session import Session
from tests.logger.import_files import MAP, bring_in, refused_whole

MAPS = Path(__file__).parents[2] / "recordings" / "maps"
Capture = pytest.CaptureFixture[str]
CELL = st.one_of(st.none(), st.floats(-200, 500).map(lambda v: round(v, 3)))


@settings(derandomize=True, deadline=None, max_examples=25)
@given(st.lists(st.tuples(st.integers(0, 400), CELL, CELL), min_size=1, max_size=40), st.sampled_from(",;\t"))
def test_what_is_written_comes_out_equal(
    tmp_path_factory: pytest.TempPathFactory, rows: list[tuple[int, float | None, float | None]], mark: str
) -> None:
    folder = tmp_path_factory.mktemp("import")
    decimal = "." if mark == "," else ","
    moments = np.cumsum([step for step, _, _ in rows]) - rows[0][0]
    lines = [f"t{mark}in{mark}out"]
    for t, (_, *cells) in zip(moments, rows, strict=True):
        texts = ["" if cell is None else repr(cell).replace(".", decimal) for cell in cells]
        lines.append(mark.join([str(t), *texts]))
    (folder / "log.csv").write_text("\n".join(lines) + "\n")
    delimiter = {"\t": "tab"}.get(mark, mark)
    text = f'table = {{ delimiter = "{delimiter}", decimal = "{decimal}" }}\n' + MAP
    report = import_tables([folder / "log.csv"], parse_mapping(text, "map"), text, folder / "s")
    assert report.refused == 0
    found: dict[str, list[tuple[float, float]]] = {"in": [], "out": []}
    for batch in Session.open(folder / "s").rows():
        for t_us, channel, value in zip(batch.t_us, batch.channel, batch.value, strict=True):
            found[batch.ids[channel]].append((t_us / 1e6, value))
    for place, name in ((1, "in"), (2, "out")):
        wrote = [
            (float(t), row[place]) for t, row in zip(moments, rows, strict=True) if row[place] is not None
        ]
        assert found[name] == wrote


HALL = """Datum;Zeit;T_in [°C];T_out [°C];p_low [bar];p_high [bar];flow [m3/h];P_comp [W]
14.01.2026;08:00:00;4,0;-2,4;5,15;24,59;1,19;3000
14.01.2026;08:00:10;4,1;---;5,15;24,59;9999;3001
"""


def test_example_map_of_the_hall(tmp_path: Path, capsys: Capture) -> None:
    text = (MAPS / "hall-logger.toml").read_text(encoding="utf-8")
    outcome = bring_in(tmp_path, capsys, HALL, text)
    assert outcome.status == 0
    assert outcome.facts["utc_start"] == "2026-01-14T07:00:00.000000Z"
    assert outcome.facts["files"][0]["missing"] == 2
    assert outcome.values("logger/brine_in") == [(0.0, 4.0, 0), (10.0, 4.1, 0)]
    assert outcome.events("offset") == ["0.2 K"]
    assert outcome.facts["files"][0]["overruled"] == []  # "bar" is completed to bar(g)
    session = Session.open(outcome.folder)
    channels = {channel.id: channel for channel in session.channels}
    assert channels["logger/brine_in"].uncertainty is not None
    assert channels["p_low [bar]"].unit == "bar(g)"
    assert session.header.setup == text
    assert session.header.barometer_pa == pytest.approx(94320, abs=10)
    assert (outcome.folder / "original" / "log.csv").read_text() == HALL
    assert main(["verify", str(outcome.folder)]) == 0
    assert not (outcome.folder / "results.csv").exists()


def _bakery(heat_factor: float = 500.0) -> str:
    """Write a log of our own: 36 000 Btu/h in 6.0 gpm, 58.0 to 70.0 degF, 323.4 psig = 101.0 degF bubble."""
    running = f"58.0,70.0,6.0,{heat_factor * 6.0 * 12.0},128.0,323.4,101.0,2.13\n"
    rest = "70.0,70.0,0,0,200.9,201.0,70.0,0\n"  # R410A stands at 201 psig beside water of 70 degF
    lines = [f"{10 * n}," + (rest if n < 30 else running) for n in range(200)]
    return "t_s,EWT,LWT,gpm,heat,ps,pd,t_cond,kW\n" + "".join(lines)


def test_example_map_of_the_bakery_checks_the_log(tmp_path: Path, capsys: Capture) -> None:
    text = (MAPS / "bakery-elapsed.toml").read_text(encoding="utf-8")
    outcome = bring_in(tmp_path, capsys, _bakery(), text)
    assert outcome.status == 0
    assert outcome.facts["utc_start"] == "2026-06-03T15:40:00.000000Z"
    assert [check["agrees"] for check in outcome.facts["checks"]] == [True, True, True]


@pytest.mark.parametrize(
    ("right", "wrong", "hint"),
    [
        ('unit = "Btu/h"', 'unit = "W"', "heat rate is in Btu/h, not W"),
        ('unit = "gpm"', 'unit = "L/min"', "volume flow is in gpm, not L/min"),
        ('header = "LWT"\nunit = "degF"', 'header = "LWT"\nunit = "degC"', "they do not agree"),
        ('header = "pd"\nunit = "psig"', 'header = "pd"\nunit = "kPa(g)"', "they do not agree"),
        ('refrigerant = "R410A"', 'refrigerant = "R22"', "they do not agree"),
    ],
)
def test_wrong_unit_is_caught(right: str, wrong: str, hint: str, tmp_path: Path, capsys: Capture) -> None:
    text = (MAPS / "bakery-elapsed.toml").read_text(encoding="utf-8")
    assert right in text
    outcome = bring_in(tmp_path, capsys, _bakery(), text.replace(right, wrong))
    off = [check["statement"] for check in outcome.facts["checks"] if check["agrees"] is False]
    assert any(hint in statement for statement in off)
    assert any(hint in statement for statement in outcome.events("check"))


def test_files_are_merged_by_time(tmp_path: Path, capsys: Capture) -> None:
    first = "t,in\n" + "".join(f"{2 * n},{n}\n" for n in range(30_000))
    second = "t,out\n" + "".join(f"{2 * n + 1},{n}\n" for n in range(30_000))
    outcome = bring_in(tmp_path, capsys, {"a.csv": first, "b.csv": second})
    assert outcome.status == 0
    rows = outcome.rows()
    assert np.array_equal(rows.t_us, np.arange(60_000) * 1_000_000)
    assert outcome.facts["late"] == 0
    assert {c.expected_interval_s for c in Session.open(outcome.folder).channels} == {2.0}


def test_two_days_in_any_order_become_one_session(tmp_path: Path, capsys: Capture) -> None:
    text = MAP.replace('elapsed = "s"', 'format = "iso"\nzone = "UTC"')
    day = "t,in,out\n2026-01-{0} 00:00:00,{0},1\n2026-01-{0} 12:00:00,{0},2\n"
    outcome = bring_in(tmp_path, capsys, {"b.csv": day.format(15), "a.csv": day.format(14)}, text)
    assert outcome.status == 0
    assert [value for _, value, _ in outcome.values("in")] == [14.0, 14.0, 15.0, 15.0]


def test_same_names_in_two_files(tmp_path: Path, capsys: Capture) -> None:
    text = MAP.replace('header = "in"', 'header = "value"\nchannel = "in"\nfile = "in*.csv"').replace(
        'header = "out"', 'header = "value"\nchannel = "out"\nfile = "out*.csv"'
    )
    outcome = bring_in(tmp_path, capsys, {"in1.csv": "t,value\n0,1\n", "out1.csv": "t,value\n0,2\n"}, text)
    assert outcome.status == 0
    assert outcome.values("in") == [(0.0, 1.0, 0)]
    assert outcome.values("out") == [(0.0, 2.0, 0)]


def test_keep_all_takes_columns_with_a_unit(tmp_path: Path, capsys: Capture) -> None:
    text = 'keep = "all"\n' + MAP
    content = "t,in,out,T room [°C],p [bar],note\n0,1,2,21.5,3,x\n"
    outcome = bring_in(tmp_path, capsys, content, text)
    assert {c.id for c in Session.open(outcome.folder).channels} == {"in", "out", "T room [°C]"}


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('header = "in"', 'heder = "in"', "'column[1].heder' is not a key here; known are header"),
        (
            'header = "in"',
            'header = "inn"',
            "column[1].header: no file has a column 'inn'; there are 't', 'in', 'out'",
        ),
        ('column = "t"', 'column = "x"', "time.column: log.csv has no column 'x'; it has 't'"),
        ('unit = "degC"', 'unit = "deg"', "column[1].unit: 'deg' is not a unit of temperature"),
        (
            "source_leaving",
            "source_entering",
            "column[2].assign: 'source_entering_temperature' stands in column[1]",
        ),
        (
            "source_leaving_temperature",
            "source_leving",
            "column[2].assign: 'source_leving' is not a measuring point",
        ),
        ('elapsed = "s"', "", "exactly one of elapsed, format and every"),
        ('elapsed = "s"', 'format = "%H:%M"', "time.format has no year, so time.year must say it"),
        ('elapsed = "s"', 'format = "iso"\nzone = "Mars/Base"', "time.zone: 'Mars/Base' is not known"),
        ('elapsed = "s"', 'elapsed = "s"\nstart = "soon"', "time.start: 'soon' is no date and time"),
        ("\n[time]", 'barometer = "3 psia"\n[time]', "barometer: "),
        ("\n[time]", 'refrigerant = "R9"\n[time]', "refrigerant: "),
        ("\n[time]", 'fluid = "methanol 15 %"\n[time]', "fluid: "),
        ("\n[time]", 'table.encoding = "klingon"\n[time]', "table.encoding: 'klingon' is not known"),
        ("\n[time]", "table.header_row = 77\n[time]", "header_row"),
        (
            'assign = "source_entering_temperature"',
            "scale = 0.0\nquantity = 'temperature'",
            "column[1].scale",
        ),
        ('assign = "source_entering_temperature"', "", "column[1].unit: nothing says what it measures"),
        (
            'assign = "source_entering_temperature"',
            'quantity = "temperature"\noffset = "2 bar"',
            "column[1].offset",
        ),
        ("[time]", "[time", "not readable as TOML"),
    ],
)
def test_map_is_refused_by_key(old: str, new: str, words: str, tmp_path: Path, capsys: Capture) -> None:
    assert old in MAP
    outcome = bring_in(tmp_path, capsys, "t,in,out\n0,1,2\n", MAP.replace(old, new, 1))
    refused_whole(outcome, 3, words)


def test_draft_can_be_imported(tmp_path: Path, capsys: Capture) -> None:
    content = "Time,EWT [°F],LWT [°F],Suction pressure (Pa),comp (kW),always (V),gap [°C]\n"
    content += "".join(
        f"2026-01-14 08:{n // 60:02}:{n % 60:02},{58 + n % 3},{70 + n % 2},{8 + n % 2},2.1,5,-9999\n"
        for n in range(120)
    )
    (tmp_path / "log.csv").write_text(content, encoding="utf-8")
    assert main(["import", "--draft", str(tmp_path / "log.csv"), "--out", str(tmp_path / "map.toml")]) == 0
    text = (tmp_path / "map.toml").read_text(encoding="utf-8")
    assert "next to nothing for a refrigerant pressure; likely bar(g)" in text
    assert "Pa does not say gauge or absolute" in text
    assert "always 5" in text
    assert "-9999 may stand for 'no value'" in text
    assert 'assign = "source_entering_temperature"' in text
    mapping = parse_mapping(text, "map.toml")
    report = import_tables([tmp_path / "log.csv"], mapping, text, tmp_path / "session")
    assert report.rows == 120
    assert main(["import", "--draft", str(tmp_path / "log.csv"), "--out", str(tmp_path / "map.toml")]) == 4
    capsys.readouterr()


@settings(derandomize=True, deadline=None, max_examples=60)
@given(st.text(st.characters(codec="utf-8"), min_size=1, max_size=200))
def test_draft_of_anything_is_a_map_or_a_sentence(
    tmp_path_factory: pytest.TempPathFactory, text: str
) -> None:
    path = tmp_path_factory.mktemp("draft") / "log.csv"
    path.write_text(text, encoding="utf-8", newline="")
    proposal = ""
    with contextlib.suppress(CommandError):
        proposal = draft(path)
    tomllib.loads(proposal)


def test_autumn_hour_in_a_session(tmp_path: Path, capsys: Capture) -> None:
    begin = datetime(2025, 10, 26, 0, 0, tzinfo=UTC)
    local = [(begin + timedelta(minutes=5 * n)).astimezone(ZoneInfo("Europe/Oslo")) for n in range(36)]
    content = "t,in,out\n" + "".join(f"{moment:%Y-%m-%d %H:%M:%S},1,2\n" for moment in local)
    text = MAP.replace('elapsed = "s"', 'format = "iso"\nzone = "Europe/Oslo"')
    outcome = bring_in(tmp_path, capsys, content, text)
    assert outcome.status == 0
    assert [t for t, _, _ in outcome.values("in")] == [300.0 * n for n in range(36)]


def test_memory_does_not_grow_with_the_file(tmp_path: Path) -> None:
    """Reading 4 times the rows takes no more memory at its peak than some blocks do."""
    peaks = []
    for rows in (50_000, 200_000):
        path = tmp_path / f"{rows}.csv"
        with path.open("w") as file:
            file.write("t,in,out\n")
            file.writelines(f"{n},{n % 97 / 10},{n % 89 / 10}\n" for n in range(rows))
        tracemalloc.start()
        table = open_table(path)
        count = sum(len(block.number) for block in table.blocks())
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
        assert count == rows
    assert peaks[1] < 1.2 * peaks[0]


def test_whole_import_has_bounded_memory(tmp_path: Path) -> None:
    """Resident memory of a whole import as a process of its own, 10 times the rows: within 120 MB more."""
    (tmp_path / "map.toml").write_text('keep = "mapped"\n' + MAP)
    code = (
        "import resource, sys; from logger.cli import main; "
        "assert main(sys.argv[1:]) == 0; print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"
    )
    peaks = []
    for rows in (30_000, 300_000):
        path = tmp_path / f"{rows}.csv"
        with path.open("w") as file:
            file.write("t,in,out\n")
            file.writelines(f"{n},{n % 97 / 10},{n % 89 / 10}\n" for n in range(rows))
        out = tmp_path / f"s{rows}"
        arguments = ["import", str(path), "--map", str(tmp_path / "map.toml"), "--out", str(out), "--json"]
        command = [sys.executable, "-c", code, *arguments]
        done = subprocess.run(command, capture_output=True, text=True, check=True, env=dict(os.environ))
        facts, peak = done.stdout.splitlines()
        assert json.loads(facts)["readings"] == 2 * rows
        peaks.append(int(peak) / 1024)
    assert peaks[1] - peaks[0] < 120


@settings(derandomize=True, deadline=None, max_examples=100)
@given(st.lists(st.lists(st.integers(0, 8000), max_size=12), max_size=6))
def test_late_is_what_a_recording_calls_late(batches: list[list[int]]) -> None:
    """Whatever the chunks: the same readings are flagged as by the analyser's own frame."""
    lateness, frame = Lateness(), FrameBuilder()
    for moments in batches:
        rows = Rows.of((t * 1000, "a", 1.0, Quality.OK) for t in moments)
        assert lateness.mark(rows).quality.tolist() == frame.mark_late(rows).quality.tolist()
        frame.add(rows)


def test_one_channel_in_two_units(tmp_path: Path, capsys: Capture) -> None:
    content: dict[str, str | bytes] = dict.fromkeys(("a.csv", "b.csv"), "t,in,out,x [°C]\n0,1,2,3\n")
    text = 'keep = "all"\n' + MAP + '[[column]]\nheader = "x [°C]"\nunit = "degF"\nquantity = "temperature"\n'
    outcome = bring_in(tmp_path, capsys, content, text + 'file = "a.csv"\n')
    refused_whole(outcome, 3, "comes in degC here and in degF in another file")


def test_time_that_does_not_begin_at_zero(tmp_path: Path, capsys: Capture) -> None:
    outcome = bring_in(tmp_path, capsys, "t,in,out\n5000,1,2\n5010,3,4\n")
    assert outcome.facts["utc_start"] is None
    assert outcome.events("date")[-1] == "t = 0 is 5000 s of the file's own time"
    assert [t for t, _, _ in outcome.values("in")] == [0.0, 10.0]
