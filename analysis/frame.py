"""From readings that arrive when they like to rows on one time base, each cell with its age.

A row stands at every whole step of the grid. It is closed once a reading (or the clock) has passed it by the
grace time; a reading that comes after its row was closed is *late*: it is stored, flagged, and left out of
the frame in every path. Whether a reading is late depends only on the order of the readings, so live,
replay and batch agree, however the readings are cut into chunks.
"""

from __future__ import annotations

from dataclasses import dataclass, field

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
    """One channel over the rows of a frame."""

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
    cells: dict[str, Cells]

    @property
    def rows(self) -> int:
        """How many rows there are."""
        return int(self.t_us.size)

    def age_s(self, channel: str) -> Floats:
        """Age of the channel's indication at each row [s]."""
        return np.asarray((self.t_us - self.cells[channel].taken_us) / 1e6)


@dataclass(slots=True)
class _Pending:
    """A channel's readings that no closed row has used up yet, and its last used one."""

    t_us: list[Ints] = field(default_factory=list)
    value: list[Floats] = field(default_factory=list)
    last_t_us: int = LONG_AGO_US
    last_value: float = np.nan


class FrameBuilder:
    """Turns readings into rows, one frame for every span of rows that can be closed."""

    def __init__(self, step_us: int = STEP_US, grace_us: int = GRACE_US) -> None:
        self.step_us, self.grace_us = step_us, grace_us
        self._watermark = self._seen_us = LONG_AGO_US
        self._next_row = 0
        self._channels: dict[str, _Pending] = {}

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
        news = (rows.quality & _NO_NEWS) == 0
        value = np.where((rows.quality & _NO_VALUE) != 0, np.nan, rows.value)
        for index in np.unique(rows.channel[news]):
            mine = news & (rows.channel == index)
            pending = self._channels.setdefault(rows.ids[index], _Pending())
            pending.t_us.append(rows.t_us[mine])
            pending.value.append(value[mine])

    def _close(self, last_row: int) -> Frame:
        first = self._next_row
        n = max(last_row + 1 - first, 0)
        t_us = (first + np.arange(n, dtype=np.int64)) * self.step_us
        self._next_row = first + n
        if not n:
            return Frame(first, t_us, {})
        return Frame(first, t_us, {name: _take(pending, t_us) for name, pending in self._channels.items()})


def _take(pending: _Pending, t_us: Ints) -> Cells:
    """Use up a channel's readings for rows at ``t_us``; what is newer stays pending."""
    t = np.concatenate([np.empty(0, np.int64), *pending.t_us])
    value = np.concatenate([np.empty(0), *pending.value])
    order = np.argsort(t, kind="stable")  # of two readings at one moment, the one that came later counts
    t, value = t[order], value[order]
    upto = np.searchsorted(t, t_us, side="right")
    t_all = np.concatenate([[pending.last_t_us], t])
    value_all = np.concatenate([[pending.last_value], value])
    cells = Cells(
        value=value_all[upto],
        taken_us=t_all[upto],
        fresh=(np.diff(upto, prepend=0) > 0) & np.isfinite(value_all[upto]),
    )
    used = int(upto[-1])
    pending.last_t_us, pending.last_value = int(t_all[used]), float(value_all[used])
    pending.t_us = [t[used:]] if used < t.size else []
    pending.value = [value[used:]] if used < t.size else []
    return cells
