"""When is a signal steady? Limits of its slope and of its scatter over a trailing window.

Each limit has a source outside this project, and the scatter is held against the probe's own noise, so that
a coarse probe is not called disturbed and a fine one is not forgiven everything.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.window_sums import (
    LONGEST_WINDOW_ROWS,
    WINDOW_READINGS,
    WINDOW_ROWS,
    Bools,
    Floats,
    WindowStatistics,
    WindowSums,
    extend,
)

__all__ = [
    "CONFIRM_S", "LONGEST_WINDOW_ROWS", "SETTLE_S", "WINDOW_READINGS", "WINDOW_ROWS", "Bools", "Floats",
    "Limit", "Limits", "WindowStatistics", "WindowSums", "beyond", "extend", "followed", "jumped", "ready",
    "spread_limit", "still",
]  # fmt: skip

SETTLE_S = 600.0
"""Least time since the last start or change. Common practice, no source: ten minutes of run-in."""
CONFIRM_S = 120.0
"""Every test must have held for this long on end."""
NOISE_MULTIPLE = 3.0
"""Scatter up to three times the probe's own noise is the probe's (the usual three standard deviations)."""


@dataclass(frozen=True, slots=True)
class Limit:
    """How still a signal must be to count as steady."""

    slope_per_s: float
    """Limit of ``|slope| + 2 standard errors`` [signal unit / s]."""
    spread: float
    """Floor of the limit of the standard deviation about the fitted line [signal unit]."""
    quantum: float
    """Rounding of the exact sums [signal unit]."""
    most_scatter: float = 0.3
    """Scatter beyond the probe's noise that no probe excuses [signal unit]: a swing of 0.3 K is 0.85 K from
    peak to peak, so one of 1 K (the design's limit of hunting) never passes."""


@dataclass(frozen=True, slots=True)
class Limits:
    """The limits of several signals, each a column (s, 1)."""

    slope_per_s: Floats
    spread: Floats
    most_scatter: Floats

    @classmethod
    def of(cls, limits: Sequence[Limit]) -> Limits:
        """Stand the limits under each other."""
        columns = np.array([[x.slope_per_s, x.spread, max(x.most_scatter, x.spread)] for x in limits])
        return cls(columns[:, 0:1], columns[:, 1:2], columns[:, 2:3])


DEGF = 5.0 / 9.0
TEMPERATURE_LIMIT = Limit(0.5 / WINDOW_ROWS, 0.3 * DEGF, 1e-4)
"""0.5 K within the window: permissible variation of single readings of the entering liquid, ISO 13256-1
(from memory); the other temperatures are granted as much beyond what they follow of it. The scatter's floor
of 0.3 °F is common practice, no source."""
CONDENSING_LIMIT = Limit(0.2 * DEGF / 60.0, 0.3 * DEGF, 1e-4)
"""0.2 °F/min: the head pressure of a water-cooled machine moves most. Common practice, no source."""
DISCHARGE_LIMIT = Limit(1.0 / WINDOW_ROWS, 0.3 * DEGF, 1e-4)
"""1 K within the window: what a clamp on a hot line is good for (k = 2). Common practice, no source. The
shell of the compressor goes on warming long after superheat and pressures stand still."""
AIR_LIMIT = Limit(1.0 / WINDOW_ROWS, 0.5, 1e-4)
"""1.0 K within the window: permissible variation of single readings of the entering air's dry bulb,
ISO 13256-1 (from memory)."""


def spread_limit(noise: Floats, limit: Limit | Limits) -> Floats:
    """Give the limit of the scatter: three times the probe's noise, no less than the floor, never a swing.

    Parameters
    ----------
    noise : (n,)
        The probe's own noise (standard deviation); NaN where it is not learnt yet.

    Examples
    --------
    A fine probe gets the floor, a coarse one three times its noise, and a very coarse one no swing of 1 K:

    >>> spread_limit(np.array([0.01, 0.08, 0.5]), TEMPERATURE_LIMIT).round(3)
    array([0.167, 0.24 , 0.583])
    """
    known = np.where(np.isfinite(noise), noise, 0.0)
    by_probe = np.maximum(NOISE_MULTIPLE * known, limit.spread)
    return np.asarray(np.minimum(by_probe, np.hypot(known, np.maximum(limit.most_scatter, limit.spread))))


def followed(slope: Floats, down: Floats, up: Floats) -> Floats:
    """Take off a slope the part that may follow the entering water: what is left is the signal's own.

    A coil's temperatures follow its entering water by some share between none and all of it, so a slope
    between 0 and the water's own is no sign that the machine is still settling.

    Parameters
    ----------
    slope : (n,)
    down, up : (n,)
        What the entering waters account for, ``down <= 0 <= up``.

    Examples
    --------
    >>> followed(np.array([0.05, 0.15, -0.05]), np.zeros(3), np.full(3, 0.1)).round(2)
    array([ 0.  ,  0.05, -0.05])
    """
    return np.asarray(slope - np.minimum(np.maximum(slope, down), up))


def beyond(found: WindowStatistics, own_slope: Floats, limit: Limit | Limits, row_s: float) -> Floats:
    """Give ``|own slope| + 2 standard errors`` as a share of its limit; NaN where it cannot be said."""
    with np.errstate(invalid="ignore"):
        return np.asarray((np.abs(own_slope) + 2.0 * found.slope_error) / (row_s * limit.slope_per_s))


def jumped(found: WindowStatistics, limit: Limit | Limits, row_s: float) -> Bools:
    """Say whether the newest readings have left the line through the window.

    They may lie off it by what the limit of the slope allows over half a window, and by three standard
    deviations of their mean (the limits of a control chart, ISO 7870-2, from memory).
    """
    allowed = 0.5 * WINDOW_ROWS * row_s * limit.slope_per_s
    with np.errstate(invalid="ignore", divide="ignore"):
        by_chance = NOISE_MULTIPLE * found.noise / np.sqrt(found.newest)
        return np.asarray(np.abs(found.lead) > allowed + np.where(np.isfinite(by_chance), by_chance, 0.0))


def still(found: WindowStatistics, limit: Limit, row_s: float) -> Bools:
    """Say at each row whether the signal passes: enough readings, slope and scatter within the limit.

    Examples
    --------
    >>> sums = WindowSums(np.array([1e-4]))
    >>> flat = extend(sums, np.full((1, 400), 280.0), np.ones((1, 400), bool), np.zeros(1, bool)).of(0)
    >>> passed = still(flat, TEMPERATURE_LIMIT, 1.0)
    >>> bool(passed[298]), bool(passed[299])
    (False, True)
    """
    with np.errstate(invalid="ignore"):
        return np.asarray(
            ready(found)
            & (beyond(found, found.slope_per_row, limit, row_s) < 1.0)
            & (found.spread < spread_limit(found.noise, limit))
            & ~jumped(found, limit, row_s)
        )


def ready(found: WindowStatistics) -> Bools:
    """Say whether the window is whole and holds enough readings."""
    return np.asarray((found.rows >= WINDOW_ROWS) & (found.readings >= WINDOW_READINGS))
