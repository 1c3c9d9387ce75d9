"""From readings that arrive when they like to rows on one time base, each cell with its age.

A row stands at every whole step of the grid. It is closed once a reading (or the clock) has passed it by the
grace time; a reading that comes after its row was closed is *late*: it is stored, flagged, and left out of
the frame in every path. Whether a reading is late depends only on the order of the readings, so live,
replay and batch agree, however the readings are cut into chunks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.measure import Quality
from analysis.rows import Rows

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]

STEP_US = 1_000_000
GRACE_US = 500_000
_NO_NEWS = int(Quality.MALFORMED | Quality.DUPLICATE | Quality.LATE)
"""Rows with these flags say nothing about the present; the last indication stands on until it is too old."""
_NO_VALUE = int(Quality.NOT_KNOWN | Quality.INVALID | Quality.OUT_OF_RANGE)
"""Rows with these flags say that the instrument has no value now: the cell is blank at once."""
LONG_AGO_US = -(2**62)


@dataclass(frozen=True, slots=True)
class Cells:
    """Some channels over the rows of a frame, each array (channels, rows)."""

    value: Floats
    """The newest indication at or before the row, in the channel's unit; NaN where there is none."""
    taken_us: Ints
    """When it was taken."""
    fresh: Bools
    """Whether a usable reading arrived since the row before."""


@dataclass(frozen=True, slots=True)
class Frame:
    """Rows on one time base."""

    first_row: int
    t_us: Ints
    cells: Cells
    """Every channel that has given anything yet, and last of all one that never does."""
    place_of: Mapping[str, int]
    """Channel to its place in ``cells``."""

    @property
    def rows(self) -> int:
        """How many rows there are."""
        return int(self.t_us.size)

    def of(self, channels: Sequence[str], part: slice) -> Cells:
        """Give the cells of these channels over some of the rows; blank where nothing has come yet."""
        places, cells = [self.place_of.get(channel, -1) for channel in channels], self.cells
        return Cells(cells.value[places, part], cells.taken_us[places, part], cells.fresh[places, part])


class FrameBuilder:
    """Turns readings into rows, one frame for every span of rows that can be closed."""

    def __init__(self, step_us: int = STEP_US, grace_us: int = GRACE_US) -> None:
        self.step_us, self.grace_us = step_us, grace_us
        self._watermark = self._seen_us = LONG_AGO_US
        self._next_row = 0
        self._place_of: dict[str, int] = {}
        self._ids: tuple[str, ...] = ()
        self._places = np.empty(0, np.intp)
        """Place of each channel of the batch before, which is nearly always that of the next one too."""
        self._pending: list[tuple[Ints, npt.NDArray[np.intp], Floats]] = []
        """Moments, places and values that no closed row has used up yet, in the order of arrival."""
        self._held_us: Ints = np.empty(0, np.int64)
        self._held: Floats = np.empty(0)
        """Each channel's last used reading."""

    @property
    def next_row(self) -> int:
        """Index of the first row that is still open."""
        return self._next_row

    def mark_late(self, rows: Rows) -> Rows:
        """Flag the readings whose row was already closed, or due to be closed, when they came.

        Each reading passes here once, in the order of arrival; live, before it is stored.
        """
        if not len(rows):
            return rows
        before = max(self._watermark, self._seen_us)
        newest = np.maximum.accumulate(np.concatenate([[before], rows.t_us[:-1]]))
        self._seen_us = max(before, int(rows.t_us.max()))
        closed_us = (np.maximum(newest, LONG_AGO_US // 2) - self.grace_us) // self.step_us * self.step_us
        # Row 0 is the first; before it is closed nothing is late.
        late = (rows.t_us <= closed_us) & (closed_us >= 0)
        quality = np.where(late, rows.quality | int(Quality.LATE), rows.quality).astype(np.uint16)
        return Rows(rows.ids, rows.t_us, rows.channel, rows.value, quality)

    def add(self, rows: Rows, now_us: int | None = None, *, marked: bool = False) -> Frame:
        """Take in readings, or only the time, and give the rows that are closed by them.

        ``marked`` says that the readings have passed :meth:`mark_late` already.
        """
        if not marked:
            rows = self.mark_late(rows)
        if len(rows):
            self._watermark = max(self._watermark, int(rows.t_us.max()))
            self._sort_in(rows)
        if now_us is not None:
            self._watermark = max(self._watermark, now_us)
        return self._close((self._watermark - self.grace_us) // self.step_us)

    def _sort_in(self, rows: Rows) -> None:
        if rows.ids is not self._ids:
            places = [self._place_of.setdefault(name, len(self._place_of)) for name in rows.ids]
            self._ids, self._places = rows.ids, np.array(places, np.intp)
        t_us, place, value = rows.t_us, self._places[rows.channel], rows.value
        if rows.quality.any():
            value = np.where((rows.quality & _NO_VALUE) != 0, np.nan, value)
            news = (rows.quality & _NO_NEWS) == 0
            t_us, place, value = t_us[news], place[news], value[news]
        self._pending.append((t_us, place, value))

    def _close(self, last_row: int) -> Frame:
        first = self._next_row
        n = max(last_row + 1 - first, 0)
        t_us = (first + np.arange(n, dtype=np.int64)) * self.step_us
        self._next_row = first + n
        return Frame(first, t_us, self._take(t_us) if n else _NOTHING, self._place_of)

    def _take(self, t_us: Ints) -> Cells:
        """Use up the readings for rows at ``t_us``; what is newer stays pending."""
        channels, n = len(self._place_of), t_us.size
        t, place, value = self._in_order()
        used = int(np.searchsorted(t, t_us[-1], side="right"))
        self._pending = [(t[used:], place[used:], value[used:])] if used < t.size else []
        t, place, value = t[:used], place[:used], value[:used]
        more = channels - self._held.size
        blank = np.full(more + 1, np.nan)
        value = np.concatenate([self._held, blank, value])
        taken_us = np.concatenate([self._held_us, np.full(more + 1, LONG_AGO_US), t])
        # Each cell points to its reading; of several in one row the newest counts, and of two at one moment
        # the one that came later, since numpy assigns repeated places in their order. Then what is held
        # is drawn along the rows.
        newest = np.zeros((channels + 1, n + 1), np.intp)
        newest[:, 0] = np.arange(channels + 1)
        row = np.maximum(-(-t // self.step_us) - t_us[0] // self.step_us, 0)
        newest[place, row + 1] = np.arange(channels + 1, value.size)
        arrived = newest[:, 1:] > channels
        newest = np.maximum.accumulate(newest, axis=1)[:, 1:]
        indicated = value[newest]
        cells = Cells(indicated, taken_us[newest], arrived & np.isfinite(indicated))
        self._held, self._held_us = cells.value[:-1, -1].copy(), cells.taken_us[:-1, -1].copy()
        return cells

    def _in_order(self) -> tuple[Ints, npt.NDArray[np.intp], Floats]:
        """Everything pending in the order of time, and at one moment in the order of arrival."""
        if not self._pending:
            return np.empty(0, np.int64), np.empty(0, np.intp), np.empty(0)
        t, place, value = (
            np.concatenate(column) if len(column) > 1 else column[0]
            for column in zip(*self._pending, strict=True)
        )
        if (t[1:] < t[:-1]).any():
            order = np.argsort(t, kind="stable")
            t, place, value = t[order], place[order], value[order]
        return t, place, value


_NOTHING = Cells(np.empty((0, 0)), np.empty((0, 0), np.int64), np.empty((0, 0), np.bool_))
