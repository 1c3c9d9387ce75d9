"""The wide table: right numbers in the right rows, readable by other programs, harmless to spreadsheets."""

from __future__ import annotations

import csv
import math
import sys
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pyarrow.parquet
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import logger.resample
from analysis.measure import UNUSABLE, Channel, Quality
from analysis.rows import Rows
from analysis.timeline import Event
from analysis.units import Quantity
from drivers.clock import FollowedClock
from logger.descriptor import SessionHeader
from logger.events import clock_event
from logger.export import export, harmless
from logger.export_formats import ExportOptions
from logger.resample import resample
from logger.session import Session
from logger.session_errors import SessionError, StorageError
from logger.session_writer import SessionWriter
from tests.logger.session_factory import IDS, SECOND, START_UTC_NS, begin, recorded, regular_rows

HOLDS = {"a": 3, "b": 0}
small_rows = st.lists(
    st.tuples(
        st.integers(0, 60),
        st.sampled_from("abc"),
        st.one_of(st.none(), st.integers(-9, 9).map(float)),
        st.sampled_from([0, 0, 0, Quality.LATE.value, Quality.UNVERIFIED.value, Quality.INVALID.value]),
    ),
    max_size=40,
)


@settings(derandomize=True, deadline=None, max_examples=150)
@given(items=small_rows, step=st.integers(1, 7), batch=st.integers(1, 9), block=st.integers(1, 5))
def test_each_cell_is_the_newest_usable_reading_that_may_still_be_held(
    items: list[tuple[int, str, float | None, int]], step: int, batch: int, block: int
) -> None:
    rows = Rows.of(items)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(logger.resample, "BLOCK_ROWS", block)
        patch.setattr(logger.resample, "GRACE_US", 60)  # within it any order of arrival gives the same
        blocks = list(
            resample((rows.take(slice(n, n + batch)) for n in range(0, len(rows), batch)), HOLDS, step)
        )
    usable = [i for i in items if i[1] in HOLDS and i[2] is not None and not i[3] & UNUSABLE.value]
    times = [t for block in blocks for t in block.t_us.tolist()]
    if not usable:
        assert times == []
        return
    first, last = min(i[0] for i in usable), max(i[0] for i in usable)
    assert times == [t for t in range(0, 61, step) if first <= t <= last]
    cells = [tuple(row) for block in blocks for row in block.values.tolist()]
    for t, row in zip(times, cells, strict=True):
        for name, got in zip(HOLDS, row, strict=True):
            # Slow and plain: of the newest moment the last to arrive.
            candidates = [i for i in usable if i[1] == name and i[0] <= t]
            newest = max(candidates, key=lambda i: i[0])[0] if candidates else None
            values = [i[2] for i in candidates if i[0] == newest]
            expected = values[-1] if newest is not None and t - newest <= HOLDS[name] else None
            assert (None if math.isnan(got) else got) == expected


def test_a_long_session_is_given_in_blocks_with_carried_readings() -> None:
    slow = Rows.of([(n * 90 * SECOND, "a", float(n), 0) for n in range(100)])
    blocks = list(
        resample((slow.take(slice(n, n + 1)) for n in range(len(slow))), {"a": 90 * SECOND}, SECOND)
    )
    assert len(blocks) > 90
    t_us = np.concatenate([block.t_us for block in blocks])
    values = np.concatenate([block.values for block in blocks])[:, 0]
    assert t_us.tolist() == list(range(0, 8911 * SECOND, SECOND))
    assert np.array_equal(values, np.arange(8911) // 90)


@pytest.fixture
def session(tmp_path: Path) -> Session:
    return Session.open(recorded(tmp_path / "s", regular_rows(5, per_second=2)))


def table(path: Path, separator: str) -> list[list[str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.reader(file, delimiter=separator))


@pytest.mark.parametrize(("locale", "separator", "decimal"), [("point", ",", "."), ("comma", ";", ",")])
def test_text_for_spreadsheets_of_a_region(
    session: Session, tmp_path: Path, locale: str, separator: str, decimal: str
) -> None:
    options = ExportOptions(locale=locale, zone=ZoneInfo("Europe/Helsinki"))
    assert export(session, tmp_path / "t.csv", options) == 5
    lines = table(tmp_path / "t.csv", separator)
    assert lines[0] == [
        "date and time UTC",
        "local date and time",
        "elapsed [s]",
        "water/in [degC]",
        'gauge, "low side"/p [psig]',
        "clamp/current [A]",
    ]
    assert lines[3][:3] == ["2026-01-14 08:00:02", "2026-01-14 10:00:02 +0200", f"2{decimal}000000"]
    rows = regular_rows(5, per_second=2)
    at_two = rows.take(rows.t_us == 2 * SECOND).value.tolist()
    assert [float(cell.replace(decimal, ".")) for cell in lines[3][3:]] == at_two
    assert all(decimal in cell for cell in lines[3][3:])


def test_an_empty_cell_where_nothing_is_known(tmp_path: Path) -> None:
    rows = Rows.of(
        [(0, "water/in", 1.5, 0), (0, "clamp/current", 2.5, 0), (9 * SECOND, "water/in", 3.5, 0)], IDS
    )
    session = Session.open(recorded(tmp_path / "s", rows))
    export(session, tmp_path / "t.csv")
    cells = [line[3] for line in table(tmp_path / "t.csv", ",")[1:]]
    assert cells == ["1.5"] * 4 + [""] * 5 + ["3.5"]  # held for three expected intervals


def test_columns_named_by_point_and_labels_that_a_spreadsheet_would_run(tmp_path: Path) -> None:
    writer = SessionWriter.create(tmp_path / "s", SessionHeader(), FollowedClock(START_UTC_NS))
    writer.channels([Channel(name, Quantity.CURRENT, "A") for name in ("=cmd()", "b", "c")])
    writer.add(Rows.of([(0, name, 1.0, 0) for name in ("=cmd()", "b", "c")]))
    writer.note("assign", "b", "compressor_current")
    writer.note("assign", "c", "compressor_current")
    writer.close("done")
    export(Session.open(tmp_path / "s"), tmp_path / "t.csv", ExportOptions(names="point"))
    assert table(tmp_path / "t.csv", ",")[0][3:] == ["'=cmd() [A]", "compressor_current [A]", "c [A]"]


@pytest.mark.parametrize("label", ["=1+1", "+1", "-1", "@x", "\t=1", "\r=1", "  =1"])
def test_labels_are_made_harmless(label: str) -> None:
    assert harmless(label) == f"'{label}"


def test_a_jump_of_the_wall_clock_is_followed_and_small_adjustments_are_not(tmp_path: Path) -> None:
    writer = begin(tmp_path / "s")
    writer.add(regular_rows(6))
    start_us = START_UTC_NS // 1000
    writer.event(clock_event(2 * SECOND, start_us + 2 * SECOND + 1500))
    writer.event(clock_event(4 * SECOND, start_us + 3604 * SECOND))
    writer.event(Event(5 * SECOND, start_us, "clock", "", "not a moment"))
    writer.close("done")
    export(Session.open(tmp_path / "s"), tmp_path / "t.csv")
    assert [line[0][11:] for line in table(tmp_path / "t.csv", ",")[1:]] == [
        "08:00:00", "08:00:01", "08:00:02", "08:00:03", "09:00:04", "09:00:05",
    ]  # fmt: skip


def test_parquet(session: Session, tmp_path: Path) -> None:
    assert export(session, tmp_path / "t.parquet", ExportOptions(step_us=SECOND // 2)) == 10
    got = pyarrow.parquet.read_table(tmp_path / "t.parquet")
    assert got.column_names[:3] == ["date_time_utc", "elapsed_us", "water/in [degC]"]
    assert got.column(2).to_pylist() == regular_rows(5, per_second=2).only("water/in").value.tolist()
    assert got.column(0)[0].as_py().isoformat() == "2026-01-14T08:00:00+00:00"


def test_spreadsheet(session: Session, tmp_path: Path) -> None:
    pytest.importorskip("xlsxwriter", reason="the library that writes sheets is not installed")
    calamine = pytest.importorskip("python_calamine", reason="the library that reads sheets is not installed")
    assert export(session, tmp_path / "t.xlsx") == 5
    lines = calamine.CalamineWorkbook.from_path(tmp_path / "t.xlsx").get_sheet_by_index(0).to_python()
    assert lines[0][3] == "water/in [degC]"
    assert lines[2][0].isoformat() == "2026-01-14T08:00:01"
    rows = regular_rows(5, per_second=2)
    expected = rows.take(rows.t_us == SECOND).value.tolist()
    assert [float(cell) for cell in lines[2][2:]] == pytest.approx([1.0, *expected], rel=1e-14)


def test_without_the_library_the_way_out_is_said(
    session: Session, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "xlsxwriter", None)
    with pytest.raises(SessionError, match=r"export \.csv instead"):
        export(session, tmp_path / "t.xlsx")
    assert not list(tmp_path.glob(".*"))


def test_a_sheet_that_cannot_hold_it_is_refused(
    session: Session, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pytest.importorskip("xlsxwriter", reason="the library that writes sheets is not installed")
    monkeypatch.setattr("logger.export_formats.SHEET_ROWS", 4)
    with pytest.raises(SessionError, match="choose a larger step"):
        export(session, tmp_path / "t.xlsx")
    assert [path.name for path in tmp_path.iterdir()] == ["s"]


@pytest.mark.parametrize(
    ("name", "options", "words"),
    [
        ("t.ods", ExportOptions(), r"end in \.csv, \.parquet or \.xlsx"),
        ("t.csv", ExportOptions(locale="german"), "choose point or comma"),
        ("t.csv", ExportOptions(step_us=0), "more than zero"),
        ("t.csv", ExportOptions(names="colour"), "by 'channel' or by 'point'"),
        ("s", ExportOptions(), "choose another name"),
    ],
)
def test_wrong_wishes_are_one_sentence(
    session: Session, tmp_path: Path, name: str, options: ExportOptions, words: str
) -> None:
    with pytest.raises(SessionError, match=words):
        export(session, tmp_path / name, options)
    assert [path.name for path in tmp_path.iterdir()] == ["s"]


def test_a_folder_that_is_not_there_is_one_sentence(session: Session, tmp_path: Path) -> None:
    for ending in ("csv", "parquet", "xlsx"):
        with pytest.raises(StorageError, match="the export was not written: the folder is gone"):
            export(session, tmp_path / "missing" / f"t.{ending}")


def test_progress_is_told(session: Session, tmp_path: Path) -> None:
    said: list[int] = []
    export(session, tmp_path / "t.csv", progress=said.append)
    assert said == [4 * SECOND]
