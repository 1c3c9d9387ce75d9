"""Foreign tables: any dialect gives back what was written; encodings, headers, times, spreadsheets."""

from __future__ import annotations

import csv
import gzip
import io
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.table_dialect import Dialect
from drivers.table_file import Table, open_table
from drivers.table_numbers import CellState, NumberStyle, parse_number, parse_numbers
from drivers.table_source import TableError
from drivers.table_times import NO_TIME, TimeReader, TimeRule


def opened(folder: Path, content: bytes | str, wanted: Dialect = Dialect(), name: str = "log.csv") -> Table:  # noqa: B008
    path = folder / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return open_table(path, wanted)


def columns(table: Table) -> dict[str, list[object]]:
    found: dict[str, list[object]] = {name: [] for name in table.header}
    for block in table.blocks():
        for name, cells in zip(table.header, block.columns, strict=True):
            found[name] += cells
    return found


_VALUES = st.one_of(
    st.none(), st.floats(-1e6, 1e6).map(lambda v: round(v, 4)), st.floats(-1e12, 1e12), st.integers(-999, 999)
)
_MARKS = [(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ",")]
_NAMES = st.text(st.characters(categories=["Lu", "Ll"], max_codepoint=0x17F), min_size=1, max_size=8)


@settings(derandomize=True, deadline=None, max_examples=80)
@given(data=st.data())
def test_any_dialect_gives_equal_values(
    data: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
    delimiter, decimal = data.draw(
        st.sampled_from([(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ",")])
    )
    encoding = data.draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"]))
    end = data.draw(st.sampled_from(["\r\n", "\n", "\r"]))
    quote_all = data.draw(st.booleans())
    header = ["time", *data.draw(st.lists(_NAMES, min_size=1, max_size=5, unique=True))]
    width = len(header)
    row = st.lists(_VALUES, min_size=width - 1, max_size=width - 1)
    rows = [[n, *values] for n, values in enumerate(data.draw(st.lists(row, min_size=1, max_size=20)))]
    packed = data.draw(st.booleans())
    text = io.StringIO()
    quoting: Literal[0, 1] = csv.QUOTE_ALL if quote_all else csv.QUOTE_MINIMAL
    writer = csv.writer(text, delimiter=delimiter, lineterminator=end, quoting=quoting)
    writer.writerow(header)
    writer.writerows(["" if v is None else repr(v).replace(".", decimal) for v in values] for values in rows)
    content = text.getvalue().encode(encoding)
    # What the file cannot show (a comma file of whole numbers only) is declared, as a map would.
    wanted = Dialect(
        delimiter=delimiter, decimal=decimal, encoding="" if encoding != "utf-16-be" else encoding
    )
    folder = tmp_path_factory.mktemp("table")
    table = opened(folder, gzip.compress(content) if packed else content, wanted)
    assert table.header == tuple(header)
    found = columns(table)
    for place, name in enumerate(header):
        read = parse_numbers(found[name], table.style)  # type: ignore[arg-type]
        wrote = np.array([values[place] for values in rows], np.float64)  # None becomes NaN
        assert np.array_equal(read.value, wrote, equal_nan=True)
        assert set(read.state.tolist()) <= {CellState.NUMBER, CellState.EMPTY}
    assert table.refusals.counts == {}


@pytest.mark.parametrize(
    ("content", "delimiter", "decimal", "encoding", "header_row"),
    [
        ("t,in\n0,9.5\n1,9.6\n", ",", ".", "utf-8", 1),
        ("t;in\n0;9,5\n1;9,6\n", ";", ",", "utf-8", 1),
        ("\ufefft\tin\n0\t9,5\n1\t9,6\n", "\t", ",", "utf-8-sig", 1),
        ("logger 3\nserial 17\n\nt;in\ns;°C\n0;9,5\n1;9,6\n", ";", ",", "utf-8", 4),
        ("t;T [°C]\n0;9,5\n".encode("latin-1"), ";", ",", "latin-1", 1),
        ("t;T [°C]\n0;9,5\n".encode("utf-16"), ";", ",", "utf-16", 1),
        ("0,9.5\n1,9.6\n", ",", ".", "utf-8", 0),
    ],
)
def test_dialect_is_found_and_said(
    content: str | bytes, delimiter: str, decimal: str, encoding: str, header_row: int, tmp_path: Path
) -> None:
    table = opened(tmp_path, content)
    found = table.found.dialect
    assert (found.delimiter, found.decimal, found.encoding, found.header_row) == (
        delimiter, decimal, encoding, header_row,
    )  # fmt: skip
    assert encoding in table.facts


def test_units_row_comments_and_names_that_stand_twice(tmp_path: Path) -> None:
    table = opened(
        tmp_path, "# made by hand\nt,p,p\ns,bar,bar\n0,1,2\n# pause\n1,3,4\n", Dialect(comment="#")
    )
    assert table.header == ("t", "p", "p (2)")
    assert table.found.units == ("s", "bar", "bar")
    assert columns(table)["p (2)"] == ["2", "4"]


def test_thousands_marks_and_other_numbers() -> None:
    us = NumberStyle(".", ",")
    assert parse_number("1,204.5", us) == (1204.5, CellState.NUMBER)
    assert parse_number("1,20", us)[1] is CellState.OTHER_MARK
    assert parse_number("1.204,5", NumberStyle(",", "."))[0] == 1204.5
    assert parse_number("−3.5")[0] == -3.5
    assert parse_number("٣")[1] is CellState.TEXT
    for text in ("0x10", "1_000", "inf", "nan", "1e", "--1", "1 2", "TRUE"):
        assert parse_number(text)[1] is CellState.TEXT
        assert parse_numbers(["1", text]).state.tolist() == [CellState.NUMBER, CellState.TEXT]
    assert parse_number("n/a", NumberStyle(missing=frozenset({"n/a"})))[1] is CellState.MISSING


@settings(derandomize=True, deadline=None, max_examples=300)
@given(st.lists(st.text(st.sampled_from("0123456789+-.,eE nai_\u00a0"), max_size=7), min_size=1, max_size=6))
def test_whole_columns_read_as_single_cells_do(cells: list[str]) -> None:
    for decimal in ".,":
        read = parse_numbers(cells, NumberStyle(decimal))
        one = [parse_number(cell, NumberStyle(decimal)) for cell in cells]
        assert np.array_equal(read.value, np.array([value for value, _ in one]), equal_nan=True)
        assert read.state.tolist() == [state for _, state in one]


OSLO = ZoneInfo("Europe/Oslo")
UTC_US = 1_768_377_600_000_000  # 2026-01-14T08:00:00Z


@pytest.mark.parametrize(
    ("rule", "cells"),
    [
        (TimeRule("iso", ("t",)), [["2026-01-14 08:00:00"]]),
        (TimeRule("iso", ("t",)), [["2026-01-14T09:00:00+01:00"]]),
        (TimeRule("iso", ("d", "t")), [["2026-01-14"], ["08:00"]]),
        (
            TimeRule("format", ("t",), format="%d.%m.%Y %H:%M", zone=ZoneInfo("Europe/Oslo")),
            [["14.01.2026 09:00"]],
        ),
        (TimeRule("format", ("t",), format="%m/%d %H:%M", year=2026), [["01/14 08:00"]]),
        (TimeRule("format", ("t",), format="%d/%m/%Y %H:%M", zone=UTC), [["14/01/2026 08:00"]]),
        (TimeRule("serial", ("t",)), [["46036.333333333336"]]),
        (TimeRule("serial", ("t",)), [[46036.333333333336]]),
        (TimeRule("serial1904", ("t",)), [["44574.333333333336"]]),
        (TimeRule("unix", ("t",)), [["1768377600"]]),
        (TimeRule("unix", ("t",), 1e-3), [["1768377600000"]]),
        (TimeRule("iso", ("t",)), [[datetime(2026, 1, 14, 8)]]),  # noqa: DTZ001  (as a spreadsheet gives it)
    ],
)
def test_the_same_moment_written_in_many_ways(rule: TimeRule, cells: list[list[object]]) -> None:
    assert TimeReader(rule, NumberStyle()).read(cells, [0]).tolist() == [UTC_US]  # type: ignore[arg-type]


def test_end_of_day_is_midnight_and_minutes_are_not() -> None:
    reader = TimeReader(TimeRule("format", ("t",), format="%m/%d %H:%M:%S", year=2026), NumberStyle())
    t = reader.read([["01/14 00:24:00", "01/14 23:59:00", "01/14 24:00:00", "01/14 25:00:00"]], [0, 1, 2, 3])
    assert (t[1:3] - t[0]).tolist() == [(23 * 60 + 35) * 60_000_000, (23 * 60 + 36) * 60_000_000]
    assert t[3] == NO_TIME


def test_autumn_hour_is_not_doubled() -> None:
    """The European clock change of 2025-10-26 (published: 01:00 UTC): one hour comes twice."""
    zone = OSLO
    begin = datetime(2025, 10, 25, 23, 0, tzinfo=UTC)
    moments = [begin + timedelta(minutes=10 * n) for n in range(24)]
    local = [moment.astimezone(zone).strftime("%Y-%m-%d %H:%M:%S") for moment in moments]
    assert len(set(local)) == 18
    reader = TimeReader(TimeRule("iso", ("t",), zone=zone), NumberStyle())
    t = reader.read([local], list(range(24)))
    assert np.diff(t).tolist() == [600_000_000] * 23
    assert reader.repeated_hour == 6


def test_elapsed_clock_and_every() -> None:
    reader = TimeReader(TimeRule("clock", ("t",)), NumberStyle())
    assert reader.read([["0:00:05", "1:02:03,5", "26:00:00", "x"]], [0, 1, 2, 3]).tolist() == [
        5_000_000, 3_723_500_000, 93_600_000_000, NO_TIME,
    ]  # fmt: skip
    every = TimeReader(TimeRule("every", seconds=10.0), NumberStyle())
    assert every.read([], [0, 2, 3]).tolist() == [0, 20_000_000, 30_000_000]


def test_spreadsheet_sheets(tmp_path: Path) -> None:
    openpyxl = pytest.importorskip("openpyxl", reason="openpyxl, which writes spreadsheets, is not installed")
    book = openpyxl.Workbook()
    book.active.title = "Empty"
    sheet = book.create_sheet("Log")
    moment = datetime(2026, 1, 14, 8)  # noqa: DTZ001  (a spreadsheet knows no zone)
    for row in (["made by hand"], ["Time", "T in"], [moment, 9.5], [moment, "ERR"]):
        sheet.append(row)
    book.save(tmp_path / "log.xlsx")
    table = open_table(tmp_path / "log.xlsx", Dialect(names=frozenset({"Time", "T in"})))
    assert table.found.dialect.sheet == "Log"
    assert columns(table)["T in"] == [9.5, "ERR"]
    with pytest.raises(TableError, match="has no sheet 'Other'; it has Empty, Log"):
        open_table(tmp_path / "log.xlsx", Dialect(sheet="Other"))


def test_old_spreadsheet(tmp_path: Path) -> None:
    xlwt = pytest.importorskip("xlwt", reason="xlwt, which writes old spreadsheets, is not installed")
    book = xlwt.Workbook()
    sheet = book.add_sheet("Log")
    for number, row in enumerate((("t", "in"), (0.0, 9.5), (10.0, 9.625))):
        for place, cell in enumerate(row):
            sheet.write(number, place, cell)
    book.save(str(tmp_path / "log.xls"))
    table = open_table(tmp_path / "log.xls")
    assert table.kind == "spreadsheet"
    assert columns(table) == {"t": [0.0, 10.0], "in": [9.5, 9.625]}
