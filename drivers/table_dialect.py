"""How a table is written: delimiter, decimal mark, header and units; found, or as declared."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from drivers.table_numbers import Cell

DELIMITERS = ("\t", ";", ",")
"""Where two explain a file equally well, the earlier one counts: a comma may be a decimal mark."""
_POINT = re.compile(r"\s*[+\-−]?\d*\.\d+(?:[eE][+-]?\d+)?\s*")
_COMMA = re.compile(r"\s*[+\-−]?\d*,\d+(?:[eE][+-]?\d+)?\s*")
_WHOLE = re.compile(r"\s*[+\-−]?\d+(?:[eE][+-]?\d+)?\s*")
_MOMENT = re.compile(
    r"\s*\d{1,4}[-/.]\d{1,2}(?:[-/.]\d{1,4})?(?:[T ]+\d{1,2}:\d{2}.*)?\s*|\s*\d{1,3}:\d{2}.*"
)
_UNIT_WORD = re.compile(
    r"[\[(]?\s*(?:[°℃℉ºµμk]?[CFKVAWsh%]|deg ?[CF]|[kMmh]?Pa|m?bar|psi|in ?Hg|[kM]?W|kWh|Btu/h|tons?|gpm|cfm"
    r"|l(?:pm|ps)|[lL]/(?:s|min|h)|m[3³]/[sh]|kg/[sh]|lbm?/(?:min|h)|rpm|Hz|[km]?V|mA|ohm|Ω|s|sec|min|ms|m/s|1|-|)"
    r"\s*(?:\(?[ga]\)?)?\s*[\])]?",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Dialect:
    """How one table is written; None and empty text mean: to be found."""

    delimiter: str = ""
    decimal: str = ""
    thousands: str = ""
    encoding: str = ""
    header_row: int | None = None
    """Number of the row with the names; 0 where there is none."""
    units_row: int | None = None
    """Number of a row with units; 0 where there is none."""
    comment: str = ""
    sheet: str = ""
    missing: tuple[str, ...] = ()
    names: frozenset[str] = frozenset()
    """Columns that are expected; the row that holds most of them is the header."""


@dataclass(frozen=True, slots=True)
class Found:
    """What looking at the first rows has shown."""

    dialect: Dialect
    header: tuple[str, ...]
    units: tuple[str, ...]
    first_row: int
    """Number of the first row of data."""
    points: int
    commas: int
    """How many cells have a decimal point, and how many a decimal comma."""
    doubts: list[str] = field(default_factory=list)


def is_number(cell: Cell) -> bool:
    """Whether a cell is a number, with either decimal mark."""
    if isinstance(cell, str):
        return any(pattern.fullmatch(cell) for pattern in (_WHOLE, _POINT, _COMMA))
    return isinstance(cell, (int, float)) and not isinstance(cell, bool)


def is_data(cell: Cell) -> bool:
    """Whether a cell is a number or a moment."""
    return is_number(cell) or (
        _MOMENT.fullmatch(cell) is not None if isinstance(cell, str) else cell is not None
    )


def find_delimiter(lines: Sequence[str]) -> str:
    r"""Find what separates the cells.

    Examples
    --------
    >>> find_delimiter(["t;in\n", "0;9,5\n", "1;9,6\n"])
    ';'
    """
    best, best_score = ",", 0.0
    for delimiter in DELIMITERS:
        counts = Counter(len(row) for row in csv.reader(lines, delimiter=delimiter) if row)
        wide = [(number * width**0.1, number) for width, number in counts.items() if width > 1]
        score = max(wide, default=(0.0, 0))[1] / max(sum(counts.values()), 1)
        if score > best_score + 0.05:
            best, best_score = delimiter, score
    return best


def look(rows: Sequence[tuple[int, Sequence[Cell]]], wanted: Dialect) -> Found:
    """Find header, units and decimal mark in the first rows; what is declared stands.

    Parameters
    ----------
    rows
        Numbered rows, cut into cells.
    """
    filled = [(number, row) for number, row in rows if any(_text(cell) for cell in row)]
    widths = Counter(len(row) for _, row in filled)
    width = max(widths, key=lambda w: (widths[w], w)) if widths else 0
    data = next((n for n, (_, row) in enumerate(filled) if len(row) == width and _mostly_data(row)), None)
    above = filled[: len(filled) if data is None else data]
    doubts: list[str] = []
    header_row, units_row = wanted.header_row, wanted.units_row
    if header_row is None:
        names = [(number, row) for number, row in above if len(row) == width]
        if units_row is None and len(names) > 1 and _units(names[-1][1]):
            units_row = names[-1][0]
        names = [entry for entry in names if entry[0] != units_row]
        expected = max(filled, key=lambda entry: _known(entry[1], wanted), default=None)
        if expected is not None and 2 * _known(expected[1], wanted) >= max(len(wanted.names), 1):
            header_row = expected[0]
        else:
            header_row = names[-1 if data is not None else 0][0] if names else 0
    header = next((row for number, row in rows if number == header_row), None)
    units = next((row for number, row in rows if number == units_row), ()) if units_row else ()
    first = max(header_row, units_row or 0) + 1
    cells = [cell for number, row in filled if number >= first for cell in row if isinstance(cell, str)]
    points, commas = (sum(1 for c in cells if p.fullmatch(c)) for p in (_POINT, _COMMA))
    decimal = wanted.decimal or ("," if commas > points else ".")
    if points and commas:
        doubts.append(
            f"{points} cells have a decimal point and {commas} a decimal comma; '{decimal}' is taken"
        )
    if header is None:
        header = [str(n + 1) for n in range(width)]
        doubts.append("no row of names was found; columns are named by their number")
    dialect = Dialect(
        wanted.delimiter, decimal, wanted.thousands, wanted.encoding, header_row, units_row or 0,
        wanted.comment, wanted.sheet, wanted.missing, wanted.names,
    )  # fmt: skip
    return Found(dialect, unique_names(header), tuple(map(_text, units)), first, points, commas, doubts)


def unique_names(cells: Sequence[Cell]) -> tuple[str, ...]:
    """Give each column a name of its own: a name that stands again gets its number behind it.

    Examples
    --------
    >>> unique_names(["T", "T", ""])
    ('T', 'T (2)', 'column 3')
    """
    names: list[str] = []
    for place, cell in enumerate(cells):
        plain = " ".join(_text(cell).split()) or f"column {place + 1}"
        name, count = plain, 1
        while name in names:
            count += 1
            name = f"{plain} ({count})"
        names.append(name)
    return tuple(names)


def _known(row: Sequence[Cell], wanted: Dialect) -> int:
    """Count the expected columns that a row names."""
    if not wanted.names or _mostly_data(row):
        return 0
    return len(wanted.names & {" ".join(_text(cell).split()) for cell in row})


def _text(cell: Cell) -> str:
    return "" if cell is None else str(cell).strip().strip("\ufeff")


def _mostly_data(row: Sequence[Cell]) -> bool:
    filled = [cell for cell in row if _text(cell)]
    return bool(filled) and sum(map(is_data, filled)) * 3 >= len(filled)


def _units(row: Sequence[Cell]) -> bool:
    filled = [_text(cell) for cell in row if _text(cell)]
    return bool(filled) and sum(1 for text in filled if _UNIT_WORD.fullmatch(text)) * 2 > len(filled)
