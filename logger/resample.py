"""From readings in the order of arrival to rows of a regular grid, a block at a time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.measure import UNUSABLE
from analysis.rows import Rows

GRACE_US = 60_000_000
"""How far a usable reading may lie behind the newest one and still find its row [us]."""
BLOCK_ROWS = 16_384


@dataclass(frozen=True, slots=True)
class Block:
    """Some rows of the grid."""

    t_us: npt.NDArray[np.int64]
    """Moments of the rows [us]."""
    values: npt.NDArray[np.float64]
    """One column for each channel asked for; NaN where nothing may stand there."""


def resample(batches: Iterable[Rows], holds_us: Mapping[str, int], step_us: int) -> Iterator[Block]:
    """Give each channel's newest usable reading at each moment of a grid, held no longer than it may be.

    Parameters
    ----------
    batches
        Readings in the order of arrival.
    holds_us
        The channels to give, in this order, and how long a reading of each may stand [us].
    step_us
        Distance of the rows; moments are whole multiples of it [us].

    Yields
    ------
    Block
        From the first to the last usable reading; moments ascend without a gap.
    """
    names = tuple(holds_us)
    holds = list(holds_us.values())
    pending = Rows.empty(names)
    following: int | None = None  # number of the next row of the grid
    newest_us = -(2**62)
    for batch in batches:
        rows = _usable(batch, names)
        if not len(rows):
            continue
        pending = Rows.concatenate([pending, rows])
        newest_us = max(newest_us, int(rows.t_us.max()))
        end = (newest_us - GRACE_US) // step_us + 1
        first = _first(pending, step_us) if following is None else following
        if end > first:
            pending = _sorted(pending)
            following = first
            yield from _rows(pending, following, end, step_us, holds)
            following = end
            pending = _still_needed(pending, (end - 1) * step_us)
    if len(pending):
        first = _first(pending, step_us) if following is None else following
        yield from _rows(_sorted(pending), first, newest_us // step_us + 1, step_us, holds)


def _first(rows: Rows, step_us: int) -> int:
    """Find the number of the first row of the grid that a reading can stand in."""
    return -(-int(rows.t_us.min()) // step_us)


def _usable(batch: Rows, names: tuple[str, ...]) -> Rows:
    wanted = np.array([name in names for name in batch.ids], bool)
    keep = (batch.quality & UNUSABLE.value == 0) & ~np.isnan(batch.value)
    keep &= wanted[batch.channel] if len(wanted) else False
    return batch.take(keep).indexed_by(names)


def _sorted(rows: Rows) -> Rows:
    """By channel, then time; of equal times the one that came last stands last."""
    return rows.take(np.lexsort((np.arange(len(rows)), rows.t_us, rows.channel)))


def _still_needed(rows: Rows, done_us: int) -> Rows:
    """Keep what lies ahead, and of each channel the newest reading behind."""
    behind = rows.t_us <= done_us
    newest = np.zeros(len(rows), bool)
    places = np.flatnonzero(behind)
    if len(places):
        last_of_channel = np.append(np.diff(rows.channel[places]) != 0, True)
        newest[places[last_of_channel]] = True
    return rows.take(~behind | newest)


def _rows(rows: Rows, first: int, end: int, step_us: int, holds: list[int]) -> Iterator[Block]:
    """Fill the rows of the grid from readings that are sorted by channel and time."""
    edges = np.searchsorted(rows.channel, np.arange(len(holds) + 1))
    for start in range(first, end, BLOCK_ROWS):
        t_us = np.arange(start, min(start + BLOCK_ROWS, end), dtype=np.int64) * step_us
        values = np.full((len(t_us), len(holds)), np.nan)
        for channel, hold_us in enumerate(holds):
            own = slice(edges[channel], edges[channel + 1])
            moments, indications = rows.t_us[own], rows.value[own]
            place = np.searchsorted(moments, t_us, side="right") - 1
            there = place >= 0
            there[there] = t_us[there] - moments[place[there]] <= hold_us
            values[there, channel] = indications[place[there]]
        yield Block(t_us, values)
