"""The mean of a quantity that should stand still: a line through it, and how well its middle is known.

Formula: least squares ``x = a + b (t - t_m)``. The readings depend on each other, so ``n`` of them count as
``n_eff`` (:func:`analysis.repeatability.effective_rows`)::

    u(a)^2 = s^2 / n_eff * nu / (nu - 2)        s: scatter about the line, nu = n_eff - 1, at least 3
    u(b)^2 = s^2 / sum (t - t_m)^2

A resolution that the readings do not leave shows no scatter; it is no part of this and is added where the
instrument is known.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analysis.elementwise import FloatArray
from analysis.measure import Channel
from analysis.repeatability import variance_of_mean
from analysis.windows import Mean


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """Usable indications of one channel, scaled and in SI, without its offset."""

    channel: Channel
    t_s: FloatArray
    """Moments, ascending [s]."""
    value: FloatArray
    """Each shape (n,) [SI]."""
    held: float = 0.0
    """The offset that holds already, for example of its calibration [SI difference]."""

    def within(self, begin_s: float, end_s: float) -> Series:
        """Give the part of a window."""
        inside = (self.t_s >= begin_s) & (self.t_s <= end_s)
        return Series(self.channel, self.t_s[inside], self.value[inside], self.held)


@dataclass(frozen=True, slots=True)
class StillMean:
    """A line through the readings of a window (SI)."""

    value: float
    """At the middle that was asked for."""
    slope: float
    """Per second."""
    u: float
    """Standard uncertainty of the value by the scatter alone (type A)."""
    u_slope: float
    spread: float
    """Standard deviation about the line."""
    rows: int
    seconds: float
    """From the first reading to the last."""


def still_mean(series: Series, middle_s: float) -> StillMean:
    """Lay the line through a series and read it at a moment.

    Parameters
    ----------
    series
        At least three readings at different moments, else value and slope are NaN.
    middle_s
        The moment [s].

    Examples
    --------
    A probe that falls by 0.06 K in a minute, read at the middle of the minute:

    >>> from analysis.units import Quantity
    >>> t = np.arange(0.0, 61.0)
    >>> probe = Series(Channel("p", Quantity.TEMPERATURE, "degC"), t, 285.06 - 0.001 * t)
    >>> found = still_mean(probe, 30.0)
    >>> round(found.value, 4), round(60.0 * found.slope, 4), round(found.u, 6)
    (285.03, -0.06, 0.0)
    """
    n = len(series.t_s)
    seconds = float(series.t_s[-1] - series.t_s[0]) if n else 0.0
    if n < 3 or seconds <= 0.0:
        return StillMean(math.nan, math.nan, math.nan, math.nan, math.nan, n, seconds)
    first, centre_s = float(series.value[0]), float(series.t_s.mean())
    t, x = series.t_s - centre_s, series.value - first
    squares = float((t * t).sum())
    mean, slope = float(x.mean()), float((t * x).sum()) / squares
    off = x - mean - slope * t
    off[np.abs(off) < 1e-9] = 0.0
    variance = float((off * off).sum()) / max(n - 2, 1)
    u_mean = math.sqrt(variance_of_mean(Mean(mean, math.nan, math.sqrt(variance), n, _rho(off))))
    u_slope = math.sqrt(variance / squares)
    away_s = middle_s - centre_s
    value = first + mean + slope * away_s
    return StillMean(
        value, slope, math.hypot(u_mean, u_slope * away_s), u_slope, math.sqrt(variance), n, seconds
    )


def _rho(off: FloatArray) -> float:
    """Give the lag-1 autocorrelation; 0 where nothing scattered, so that a quiet probe counts as known."""
    variance = float((off * off).mean())
    if variance == 0.0:
        return 0.0
    return float(np.clip((off[:-1] * off[1:]).mean() / variance, -1.0, 1.0))


def resolution_of(series: Series) -> float:
    """Give the step of a channel's indication in SI: as stated, else the least step that it took, else 0.

    Examples
    --------
    >>> from analysis.units import Quantity
    >>> t = np.arange(4.0)
    >>> probe = Series(Channel("p", Quantity.TEMPERATURE, "degC"), t, np.array([285.0, 285.1, 285.1, 285.2]))
    >>> round(resolution_of(probe), 3)
    0.1
    """
    stated = series.channel.resolution * series.channel.si_unit.factor
    if stated > 0.0 or not series.value.size:
        return stated
    steps = np.diff(np.unique(np.round(series.value, 9)))
    return float(steps.min()) if steps.size else 0.0
