"""Cells of a foreign table as numbers, in columns; what is no number is told apart, never guessed."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from enum import IntEnum

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

Cell = str | float | bool | datetime | date | time | timedelta | None
"""What a table holds at one place; a text file holds only text."""


class CellState(IntEnum):
    """What a cell is."""

    NUMBER = 0
    EMPTY = 1
    MISSING = 2
    """One of the words that were declared to mean that there is no value."""
    TEXT = 3
    """No number."""
    TOO_LARGE = 4
    """A number that no computer number can hold."""
    OTHER_MARK = 5
    """A number with the other decimal mark than the table's."""


@dataclass(frozen=True, slots=True)
class NumberStyle:
    """How numbers are written in a table."""

    decimal: str = "."
    thousands: str = ""
    missing: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Numbers:
    """A column as numbers: value (NaN where there is none) and :class:`CellState` of each cell."""

    value: npt.NDArray[np.float64]
    state: npt.NDArray[np.uint8]


_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_OTHER = {".": re.compile(r"[+-]?[0-9]*,[0-9]+"), ",": re.compile(r"[+-]?[0-9]*\.[0-9]+")}


def parse_numbers(cells: Sequence[Cell], style: NumberStyle = NumberStyle()) -> Numbers:
    """Read a column.

    Parameters
    ----------
    cells
        Shape (n,).

    Returns
    -------
    Numbers
        Arrays of shape (n,).

    Examples
    --------
    >>> parse_numbers(["9,5", "", "9.5"], NumberStyle(",")).state.tolist()
    [0, 1, 5]
    """
    quick = _quick(cells, style)
    if quick is not None:
        return quick
    value = np.full(len(cells), np.nan)
    state = np.zeros(len(cells), np.uint8)
    for place, cell in enumerate(cells):
        value[place], state[place] = parse_number(cell, style)
    return Numbers(value, state)


def parse_number(cell: Cell, style: NumberStyle = NumberStyle()) -> tuple[float, CellState]:
    """Read one cell.

    Examples
    --------
    >>> parse_number("1 204,5", NumberStyle(",", " "))[0]
    1204.5
    """
    if isinstance(cell, bool) or not isinstance(cell, (str, float, int, type(None))):
        return math.nan, CellState.TEXT
    if cell is None:
        return math.nan, CellState.EMPTY
    if not isinstance(cell, str):
        return (float(cell), CellState.NUMBER) if math.isfinite(cell) else (math.nan, CellState.TEXT)
    text = cell.strip().strip("\ufeff")
    if not text:
        return math.nan, CellState.EMPTY
    if text in style.missing:
        return math.nan, CellState.MISSING
    plain = text.replace("−", "-")
    if style.thousands:
        plain = _without_groups(plain, style)
    if style.decimal == ",":
        plain = plain.replace(".", "?").replace(",", ".")
    if not _NUMBER.fullmatch(plain):
        other = _OTHER[style.decimal].fullmatch(text.replace("−", "-"))
        return math.nan, CellState.OTHER_MARK if other else CellState.TEXT
    value = float(plain)
    return (value, CellState.NUMBER) if math.isfinite(value) else (math.nan, CellState.TOO_LARGE)


def _without_groups(text: str, style: NumberStyle) -> str:
    """Take the marks between groups of three digits away, where they stand at such places only."""
    mark = re.escape(style.thousands) if style.thousands != " " else "[ \u00a0\u202f]"
    whole, point, rest = text.partition(style.decimal)
    if re.fullmatch(rf"[+-]?[0-9]{{1,3}}(?:{mark}[0-9]{{3}})+", whole):
        whole = re.sub(mark, "", whole)
    return whole + point + rest


def _quick(cells: Sequence[Cell], style: NumberStyle) -> Numbers | None:
    """Read a whole column of plain numbers at once; None where one cell is anything else."""
    try:
        joined = "\n".join(cells)  # type: ignore[arg-type]
    except TypeError:
        return None
    if style.decimal == ",":
        if "." in joined:
            return None
        joined = joined.replace(",", ".")
    plain = pc.utf8_trim_whitespace(pa.array(joined.split("\n")))
    if len(plain) != len(cells):
        return None
    empty = pc.equal(plain, "")
    try:
        found = pc.if_else(empty, None, plain).cast(pa.float64())
    except pa.ArrowInvalid:
        return None
    value = found.to_numpy(zero_copy_only=False)
    blank = empty.to_numpy(zero_copy_only=False)
    if not np.all(np.isfinite(value) | blank):
        return None
    return Numbers(np.array(value, np.float64), np.where(blank, CellState.EMPTY, 0).astype(np.uint8))
