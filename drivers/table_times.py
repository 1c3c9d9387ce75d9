"""The time of each row of a foreign table, in whole microseconds."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Literal

import numpy as np
import numpy.typing as npt

from drivers.table_numbers import Cell, NumberStyle, parse_numbers

Ints = npt.NDArray[np.int64]
NO_TIME = -(2**63)
"""Stands where a row has no readable time."""
TimeKind = Literal["elapsed", "clock", "every", "iso", "format", "serial", "serial1904", "unix"]
WALL_KINDS: tuple[TimeKind, ...] = ("iso", "format", "serial", "serial1904", "unix")
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND = timedelta(microseconds=1)
_SERIAL_EPOCH = {"serial": datetime(1899, 12, 30), "serial1904": datetime(1904, 1, 1)}  # noqa: DTZ001
MIDNIGHT = re.compile(r"(?<![\d:.])24:00(?=$|:00|[^\d:])")
_CLOCK = re.compile(r"\s*(\d+):([0-5]?\d)(?::([0-5]?\d(?:[.,]\d+)?))?\s*")
_MOST_SECONDS = 1e10
"""A moment further off than 300 years is none."""


@dataclass(frozen=True, slots=True)
class TimeRule:
    """How a table states its time."""

    kind: TimeKind
    columns: tuple[str, ...] = ()
    """Joined by one blank where there are several, as date and time."""
    seconds: float = 1.0
    """One unit of an elapsed or Unix time, or the step of "every" [s]."""
    format: str = ""
    """As of Python's strptime."""
    year: int | None = None
    """For moments that do not state theirs."""
    zone: tzinfo = UTC
    zone_stated: bool = False

    @property
    def wall(self) -> bool:
        """Whether the date is known; else time runs from an unknown start."""
        return self.kind in WALL_KINDS


class TimeReader:
    """Reads the time of rows in their order; the one before tells the two hours of autumn apart."""

    def __init__(self, rule: TimeRule, style: NumberStyle) -> None:
        self._rule, self._style = rule, style
        self._before = NO_TIME
        self.repeated_hour = 0
        """Rows that were put into the second of two hours with the same name."""

    def read(self, columns: Sequence[Sequence[Cell]], places: Sequence[int]) -> Ints:
        """Give the time of each row [us]: since 1970 UTC where the date is known, else since the file's zero.

        Parameters
        ----------
        columns
            The cells of the rule's columns, each of shape (n,).
        places
            Which row of data each is, from 0; shape (n,).

        Returns
        -------
        array of int64
            Shape (n,); :data:`NO_TIME` where it cannot be read.
        """
        rule = self._rule
        if rule.kind == "every":
            return np.array([round(place * rule.seconds * 1e6) for place in places], np.int64)
        if rule.kind in ("elapsed", "unix") and len(columns) == 1 and not _typed(columns[0]):
            value = parse_numbers(columns[0], self._style).value * rule.seconds
            good = np.isfinite(value) & (np.abs(value) < _MOST_SECONDS)
            return np.where(good, np.rint(np.where(good, value, 0.0) * 1e6).astype(np.int64), NO_TIME)
        return np.array([self._one(cells) for cells in zip(*columns, strict=True)], np.int64)

    def _one(self, cells: tuple[Cell, ...]) -> int:
        try:
            moment = self._moment(cells)
        except (ValueError, OverflowError):
            return NO_TIME
        return moment

    def _moment(self, cells: tuple[Cell, ...]) -> int:
        rule = self._rule
        if rule.kind in ("clock", "elapsed"):
            return _elapsed(cells[0])
        typed = _typed_moment(cells)
        if typed is None and rule.kind in _SERIAL_EPOCH:
            # Spreadsheets keep days as binary fractions; a millisecond is what is left of them.
            value = sum(float(n) for n in parse_numbers(cells, self._style).value)
            typed = _SERIAL_EPOCH[rule.kind] + timedelta(milliseconds=round(value * 86_400_000))
        if typed is None:
            typed = self._written(" ".join(str(cell).strip() for cell in cells if cell is not None))
        return self._utc(typed)

    def _written(self, text: str) -> datetime:
        days = 0
        if MIDNIGHT.search(text):
            text, days = MIDNIGHT.sub("00:00", text), 1  # the end of a day, ISO 8601:2004 4.2.3
        if self._rule.kind == "iso":
            moment = datetime.fromisoformat(text.replace("/", "-"))
        elif self._rule.year is not None:
            moment = datetime.strptime(f"{self._rule.year} {text}", f"%Y {self._rule.format}")  # noqa: DTZ007
        else:
            moment = datetime.strptime(text, self._rule.format)  # noqa: DTZ007  (the zone is the rule's)
        return moment + timedelta(days=days)

    def _utc(self, moment: datetime) -> int:
        if moment.tzinfo is not None:
            found = (moment - _EPOCH) // _MICROSECOND
        else:
            found = (moment.replace(tzinfo=self._rule.zone) - _EPOCH) // _MICROSECOND
            if found < self._before:
                second = (moment.replace(tzinfo=self._rule.zone, fold=1) - _EPOCH) // _MICROSECOND
                if second >= self._before and second != found:
                    self.repeated_hour += 1
                    found = second
        self._before = max(found, self._before)
        return found


def _typed(cells: Sequence[Cell]) -> bool:
    """Whether a spreadsheet's own times are among the cells."""
    return any(isinstance(cell, (datetime, date, time, timedelta)) for cell in cells)


def _typed_moment(cells: tuple[Cell, ...]) -> datetime | None:
    """Give the moment where a spreadsheet has stored it as one, or as a date and a time."""
    first = cells[0]
    if isinstance(first, datetime):
        moment = first
    elif isinstance(first, date):
        moment = datetime(first.year, first.month, first.day)  # noqa: DTZ001  (the zone is the rule's)
    else:
        return None
    for cell in cells[1:]:
        if isinstance(cell, datetime):
            cell = cell.time()
        if isinstance(cell, time):
            moment += timedelta(
                hours=cell.hour, minutes=cell.minute, seconds=cell.second, microseconds=cell.microsecond
            )
        elif isinstance(cell, timedelta):
            moment += cell
        elif isinstance(cell, (float, int)):
            moment += timedelta(milliseconds=round(cell * 86_400_000))
        elif cell:
            raise ValueError("a date with text behind it")
    return moment


def _elapsed(cell: Cell) -> int:
    """Read an elapsed time ``h:mm:ss``, or one that a spreadsheet has stored as such [us]."""
    if isinstance(cell, timedelta):
        return cell // _MICROSECOND
    if isinstance(cell, datetime):
        cell = cell.time()
    if isinstance(cell, time):
        return ((cell.hour * 60 + cell.minute) * 60 + cell.second) * 1_000_000 + cell.microsecond
    match = _CLOCK.fullmatch(cell) if isinstance(cell, str) else None
    if match is None:
        raise ValueError("no elapsed time")
    hours, minutes, seconds = match.groups()
    return (int(hours) * 60 + int(minutes)) * 60_000_000 + round(
        float((seconds or "0").replace(",", ".")) * 1e6
    )
