"""One foreign file on its way into a session: its mapped columns, in batches, with what was refused."""

from __future__ import annotations

import fnmatch
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import numpy.typing as npt

from analysis.measure import Channel, Quality
from analysis.units import Quantity
from drivers.table_file import Refusals, Table, open_table
from drivers.table_numbers import Cell, CellState, Numbers, parse_numbers
from drivers.table_source import TableError
from drivers.table_times import NO_TIME, TimeReader, TimeRule
from logger.draft_words import header_unit, unit_in_header
from logger.errors import DamagedInputError, NotAvailableError
from logger.mapping import ColumnTable, Mapping, channel_of
from logger.mapping_time import time_rule

MOST_INDICATED = 1e15
"""No instrument indicates more, in whatever unit."""
LONGEST_GAP_US = 7 * 86_400_000_000
"""A row so far ahead of the one before has a wrong time [us]."""
SPIKE_US = 60_000_000
"""A single row so far ahead of the next one, which goes on from the one before, has a wrong time [us]."""
NO_MOMENT = "rows whose time cannot be read, refused"
FAR_AHEAD = "rows with a time more than 7 days ahead of the row before, refused"
UNSET = "rows before the time jumps ahead by more than 7 days (a clock not yet set), refused"
SPIKE = "single rows with a time ahead of those after them, refused"
_KINDS = {
    CellState.TEXT: "cells that are no number, stored as not known",
    CellState.TOO_LARGE: "cells with a number too large to be one, stored as out of range",
    CellState.OTHER_MARK: "cells with the other decimal mark, stored as not known",
}
_ABSURD = "cells with a value that cannot be, stored as out of range"


@dataclass(frozen=True, slots=True)
class Batch:
    """Some rows: time, and one value and quality for each channel; ``present`` where a cell is filled."""

    t_us: npt.NDArray[np.int64]
    value: npt.NDArray[np.float64]
    """Shape (rows, channels), as indicated."""
    quality: npt.NDArray[np.uint16]
    present: npt.NDArray[np.bool_]


@dataclass(slots=True)
class Source:
    """One file, opened and matched with the map; see :func:`open_source`."""

    table: Table
    rule: TimeRule
    columns: list[tuple[int, ColumnTable]]
    """Place in the table and what the map says about it."""
    times: list[int]
    """Places of the columns that hold the time."""
    channels: list[Channel]
    refusals: Refusals = field(default_factory=Refusals)
    overruled: list[str] = field(default_factory=list)
    """Where the map's unit differs from the header's."""
    empty: int = 0
    """Empty cells in mapped columns; no reading is stored for them."""
    missing: int = 0
    """Cells that hold a declared word or sentinel for "no value"."""
    broken: str = ""
    """Why reading stopped before the end."""
    repeated_hour: int = 0
    repeated_times: int = 0
    """Rows with the same time as the row before; kept, in their order."""

    @property
    def name(self) -> str:
        """The file's name."""
        return self.table.path.name

    @property
    def counted(self) -> int:
        """How much was refused."""
        return sum(self.refusals.counts.values())

    def batches(self) -> Iterator[Batch]:
        """Give the rows; a damaged end is kept in ``broken`` and ends them."""
        reader = TimeReader(self.rule, self.table.style)
        before = last = NO_TIME
        try:
            for block in self.table.blocks():
                t_us = reader.read([block.columns[place] for place in self.times], block.place)
                good = self._checked(t_us, before, block.number, [block.columns[p] for p in self.times])
                if good.any():
                    t = t_us[good]
                    self.repeated_times += int(np.count_nonzero(np.diff(t, prepend=last) == 0))
                    last = int(t[-1])
                    before = max(before, int(t.max()))
                batch = self._batch(t_us, good, block.number, block.columns)
                if len(batch.t_us):
                    yield batch
        except TableError as error:
            self.broken = str(error)
        except OSError as error:
            self.broken = f"{self.table.path} cannot be read further: {error.strerror}."
        self.repeated_hour = reader.repeated_hour
        for kind, count in self.table.refusals.counts.items():
            self.refusals.add(kind, *self.table.refusals.first[kind], count)

    def _checked(
        self, t_us: npt.NDArray[np.int64], before: int, numbers: list[int], cells: list[Sequence[Cell]]
    ) -> npt.NDArray[np.bool_]:
        """Say which rows have a time that can be."""
        good = np.asarray(t_us != NO_TIME)
        if not good.all():
            self._refuse_rows(NO_MOMENT, ~good, numbers, cells)
        kept = np.flatnonzero(good)
        if before == NO_TIME and kept.size > 1:
            jumps = np.flatnonzero(np.diff(t_us[kept]) > LONGEST_GAP_US)
            if jumps.size and 2 * (jumps[-1] + 1) < kept.size:
                unset = np.arange(kept.size) <= jumps[-1]
                self._refuse_rows(UNSET, _spread(unset, kept, good.size), numbers, cells)
                good[kept[unset]] = False
                kept = np.flatnonzero(good)
        if kept.size > 1:
            t = t_us[kept]
            behind = np.concatenate([[before if before != NO_TIME else t[0]], t[:-1]])
            ahead = np.concatenate([t[1:], [t[-1]]])
            spike = (t - ahead > SPIKE_US) & (ahead >= behind) & (t > behind)
            self._refuse_rows(SPIKE, _spread(spike, kept, good.size), numbers, cells)
            good[kept[spike]] = False
        kept = np.flatnonzero(good)
        if kept.size:
            t = t_us[kept]
            if (np.diff(t, prepend=before if before != NO_TIME else t[0]) > LONGEST_GAP_US).any():
                newest = before if before != NO_TIME else int(t[0])
                far = np.zeros(kept.size, bool)
                for place, moment in enumerate(t.tolist()):
                    far[place] = moment - newest > LONGEST_GAP_US
                    newest = newest if far[place] else max(newest, moment)
                self._refuse_rows(FAR_AHEAD, _spread(far, kept, good.size), numbers, cells)
                good[kept[far]] = False
        return good

    def _refuse_rows(
        self, kind: str, which: npt.NDArray[np.bool_], numbers: list[int], cells: list[Sequence[Cell]]
    ) -> None:
        places = np.flatnonzero(which)
        if places.size:
            first = int(places[0])
            sample = " ".join(str(column[first]) for column in cells)
            self.refusals.add(kind, numbers[first], sample, int(places.size))

    def _batch(
        self,
        t_us: npt.NDArray[np.int64],
        good: npt.NDArray[np.bool_],
        numbers: list[int],
        cells: list[Sequence[Cell]],
    ) -> Batch:
        shape = (len(numbers), len(self.columns))
        value, quality = np.full(shape, np.nan), np.zeros(shape, np.uint16)
        present = np.zeros(shape, bool)
        for number, (place, column) in enumerate(self.columns):
            read = parse_numbers(cells[place], self.table.style)
            value[:, number], quality[:, number] = self._judged(read, column, number, numbers, cells[place])
            filled = read.state != CellState.EMPTY
            present[:, number] = filled
            self.empty += int(np.count_nonzero(~filled & good))
        return Batch(t_us[good], value[good], quality[good], present[good])

    def _judged(
        self, read: Numbers, column: ColumnTable, number: int, numbers: list[int], cells: Sequence[Cell]
    ) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.uint16]]:
        """Give each cell its quality, and count what is refused."""
        value, quality = read.value, np.zeros(len(cells), np.uint16)
        for state, kind in _KINDS.items():
            flag = Quality.OUT_OF_RANGE if state is CellState.TOO_LARGE else Quality.NOT_KNOWN
            self._refuse_cells(kind, read.state == state, quality, flag, column, numbers, cells)
        declared = read.state == CellState.MISSING
        if column.sentinels:
            sentinel = np.isin(value, column.sentinels)
            value = np.where(sentinel, np.nan, value)
            declared |= sentinel
        self.missing += int(np.count_nonzero(declared))
        quality[np.isnan(value)] |= Quality.NOT_KNOWN.value
        absurd = np.abs(value) > MOST_INDICATED
        unit = self.channels[number].si_unit
        with np.errstate(over="ignore", invalid="ignore"):
            if self.channels[number].quantity is Quantity.TEMPERATURE:
                absurd |= value * column.scale * unit.factor + unit.offset < 0.0
        self._refuse_cells(_ABSURD, absurd, quality, Quality.OUT_OF_RANGE, column, numbers, cells)
        return value, quality

    def _refuse_cells(
        self, kind: str, which: npt.NDArray[np.bool_], quality: npt.NDArray[np.uint16], flag: Quality,
        column: ColumnTable, numbers: list[int], cells: Sequence[Cell],
    ) -> None:  # fmt: skip
        if which.any():
            quality[which] |= flag.value
            first = int(np.flatnonzero(which)[0])
            sample = f"{column.header}: {cells[first]}"
            self.refusals.add(kind, numbers[first], sample, int(np.count_nonzero(which)))


def _spread(which: npt.NDArray[np.bool_], kept: npt.NDArray[np.intp], size: int) -> npt.NDArray[np.bool_]:
    whole = np.zeros(size, bool)
    whole[kept[which]] = True
    return whole


def open_source(path: Path, mapping: Mapping) -> Source:
    """Open a file and find the map's columns in it.

    Raises
    ------
    CommandError
        Exit status 2 where a column of the map is not there, 3 where the file is no table, 4 where it cannot
        be opened.
    """
    try:
        table = open_table(path, mapping.dialect)
    except TableError as error:
        raise DamagedInputError(str(error)) from None
    except LookupError:
        raise DamagedInputError(
            f"table.encoding: '{mapping.table.encoding}' is not known; write utf-8."
        ) from None
    except OSError as error:
        raise NotAvailableError(f"{path} cannot be opened: {error.strerror}.") from None
    rule = time_rule(mapping.time)
    place = {name: number for number, name in enumerate(table.header)}
    for name in rule.columns:
        if _plain(name) not in place:
            raise DamagedInputError(
                f"time.column: {path.name} has no column '{name}'; it has {_names(table)}."
            )
    columns = [
        (place[_plain(column.header)], column)
        for column in mapping.column
        if _plain(column.header) in place and (not column.file or fnmatch.fnmatch(path.name, column.file))
    ]
    if mapping.keep == "all":
        columns += _unmapped(
            table, {*(number for number, _ in columns), *(place[_plain(n)] for n in rule.columns)}
        )
    source = Source(
        table,
        rule,
        columns,
        [place[_plain(name)] for name in rule.columns],
        [channel_of(column) for _, column in columns],
    )
    for number, column in columns:
        units = table.found.units
        said = header_unit(table.header[number], units[number] if number < len(units) else "")
        # A header that leaves gauge or absolute open is completed by the map, not overruled.
        completed = (f"{said}(g)", f"{said}(a)", f"{said}g", f"{said}a")
        if said and said != column.unit and column.unit not in completed:
            source.overruled.append(f"{column.header}: the file says {said}, the map says {column.unit}")
    return source


def _unmapped(table: Table, taken: set[int]) -> list[tuple[int, ColumnTable]]:
    """Describe the columns that the map does not name and whose header states a whole unit."""
    units = table.found.units
    found = []
    for number, name in enumerate(table.header):
        said = unit_in_header(name, units[number] if number < len(units) else "")
        # A pressure that does not say gauge or absolute is none that can be stored.
        if number not in taken and said and said[0] is not Quantity.PRESSURE_DIFFERENCE:
            found.append((number, ColumnTable(header=name, quantity=said[0], unit=said[1])))
    return found


def _plain(name: str) -> str:
    return " ".join(name.split())


def _names(table: Table) -> str:
    shown = [f"'{name}'" for name in table.header[:40]]
    return ", ".join(shown) + (f" and {len(table.header) - 40} more" if len(table.header) > 40 else "")
