"""Hunting: a control that swings about its value instead of settling on it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from analysis.elementwise import FloatArray
from analysis.window_sums import WINDOW_ROWS, Bools

LEAST_SWING = 1.0
"""Peak-to-peak swing [K] from which a swing is called hunting (design rule: amplitude above 1 K matters)."""
LEAST_CYCLES = 3
PERIOD_SPREAD = 0.2
"""The last cycles must agree in length within this fraction of their mean."""
LOOK_EVERY_ROWS = 10
"""Swings are looked for at every tenth row; a swing lasts far longer."""
TAIL_ROWS = 600
"""How much of each signal is kept, for swings and for the time to steady [rows]."""


@dataclass(frozen=True, slots=True)
class Swing:
    """A regular swing."""

    period_s: float
    swing: float
    """Peak to peak."""


def find_swing(values: FloatArray, row_s: float = 1.0) -> Swing | None:
    """Look for a regular swing in a window of a signal.

    The line through the window is taken off; upward crossings of the middle count once the signal has been
    a quarter of the swing below it, so that noise does not make cycles. Three successive cycles must agree.

    Parameters
    ----------
    values : (n,)
        The signal at every row of the window, without gaps.
    row_s
        Length of a row [s].

    Examples
    --------
    >>> t = np.arange(300.0)
    >>> found = find_swing(280.0 + 1.5 * np.sin(2 * np.pi * t / 40.0))
    >>> round(found.period_s), round(found.swing, 1)
    (40, 3.0)
    >>> find_swing(280.0 + 0.01 * t) is None
    True
    """
    if values.size < 10 or not np.isfinite(values).all():
        return None
    t = np.arange(values.size, dtype=np.float64)
    t -= t.mean()
    level = values - values.mean()
    level = level - t * (float((t * level).sum()) / float((t * t).sum()))
    swing = float(np.percentile(level, 98) - np.percentile(level, 2))
    if swing < LEAST_SWING:
        return None
    crossings = _upward_crossings(level, swing / 4.0)
    periods = np.diff(crossings[-(LEAST_CYCLES + 1) :]) * row_s
    if periods.size < LEAST_CYCLES:
        return None
    mean = float(periods.mean())
    if float(np.abs(periods - mean).max()) > PERIOD_SPREAD * mean:
        return None
    return Swing(mean, swing)


def _upward_crossings(level: FloatArray, band: float) -> FloatArray:
    """Rows at which the signal goes up through the band after having been below it."""
    side = np.where(level > band, 1, np.where(level < -band, -1, 0))
    marks = np.flatnonzero(side)
    sides = side[marks]
    up = np.flatnonzero((sides[1:] == 1) & (sides[:-1] == -1)) + 1
    return np.asarray(marks[up], dtype=np.float64)


@dataclass(slots=True)
class Swings:
    """The fold's memory of several signals' last rows, and which of them swing."""

    tails: FloatArray = field(default_factory=lambda: np.empty((0, 0)))
    """The signals over the rows just before (s, at most so many)."""
    now: list[Swing | None] = field(default_factory=list)

    def of(self, keep: list[int]) -> Swings:
        """Give the memory for another choice of signals: index of the one continued, or -1 for a new one."""
        tails = np.full((len(keep), self.tails.shape[1]), np.nan)
        for new, old in enumerate(keep):
            if old >= 0:
                tails[new] = self.tails[old]
        return Swings(tails, [self.now[old] if old >= 0 else None for old in keep])

    def extend(self, first_row: int, values: FloatArray, may_swing: Bools) -> Bools:
        """Say at each row whether each signal swings, looked at in every tenth row and held between.

        Parameters
        ----------
        first_row
            Index of the first of the rows.
        values : (s, n)
        may_swing : (s, n)
            Where the signal moves enough to be looked at.

        Returns
        -------
        (s, n)
        """
        held = np.concatenate([self.tails, values], axis=1)
        offset, n = self.tails.shape[1], values.shape[1]
        told = np.where(may_swing, -1, 0).astype(np.int8)  # -1: as at the row before
        looked = may_swing & ((first_row + np.arange(n)) % LOOK_EVERY_ROWS == 0)
        before = np.array([[swing is not None] for swing in self.now], np.int8)
        for index, row in np.argwhere(looked).tolist():
            end = offset + row + 1
            swing = find_swing(held[index, max(end - WINDOW_ROWS, 0) : end])
            self.now[index], told[index, row] = swing, swing is not None
        self.tails = held[:, -TAIL_ROWS:].copy()
        known = np.concatenate([before, told], axis=1)
        newest = np.maximum.accumulate(np.where(known >= 0, np.arange(n + 1), 0), axis=1)
        hunts = np.asarray(np.take_along_axis(known, newest, 1)[:, 1:] == 1)
        if n:
            self.now = [swing if hunts[index, -1] else None for index, swing in enumerate(self.now)]
        return hunts
