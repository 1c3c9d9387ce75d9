"""Hunting: a control that swings about its value instead of settling on it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.elementwise import FloatArray

LEAST_SWING = 1.0
"""Peak-to-peak swing [K] from which a swing is called hunting (design rule: amplitude above 1 K matters)."""
LEAST_CYCLES = 3
PERIOD_SPREAD = 0.2
"""The last cycles must agree in length within this fraction of their mean."""


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
