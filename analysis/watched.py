"""Every watched signal by itself: whether it drifts, scatters or swings, and how far beyond its limit."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np

from analysis.elementwise import FloatArray
from analysis.signals import ENTERING, FOLLOWS, SIGNALS
from analysis.steadiness import (
    LONGEST_WINDOW_ROWS,
    WINDOW_READINGS,
    Bools,
    Limits,
    WindowStatistics,
    beyond,
    followed,
    jumped,
    ready,
    spread_limit,
)

ROW_S = 1.0
LEAST_SPREAD = 0.25
"""Below this spread [K] no swing of 1 K from peak to peak can lie in the window (a sine's is 0.35 K)."""


@dataclass(frozen=True, slots=True)
class Watched:
    """Several signals over the rows being judged, each array (s, n)."""

    statistics: WindowStatistics
    passed: Bools
    missing: Bools
    too_slow: Bools
    drifts: Bools
    hunts: Bools
    may_swing: Bools
    excess: FloatArray
    """``|slope| + 2 standard errors`` as a share of its limit."""

    def hunting(self, hunts: Bools) -> Watched:
        """Give the same with what swings; it does not pass."""
        return dataclasses.replace(self, hunts=hunts, passed=self.passed & ~hunts)

    @classmethod
    def nothing(cls) -> Watched:
        """No signals."""
        none = np.zeros((0, 0), bool)
        floats, ints = np.zeros((0, 0)), np.zeros((0, 0), np.int64)
        found = WindowStatistics(floats, floats, floats, floats, ints, ints, floats, floats, ints)
        return cls(found, none, none, none, none, none, none, floats)


def single_signals(names: tuple[str, ...], found: WindowStatistics, values: FloatArray) -> Watched:
    """Test every signal by itself, the part that follows the entering water taken off.

    Parameters
    ----------
    names
        The s signals.
    found : each (s, n)
    values : (s, n)
        The signals themselves; NaN where unknown.
    """
    whole = ready(found)
    own = own_slopes(names, found)
    limits = Limits.of([SIGNALS[name] for name in names])
    excess = beyond(found, own, limits, ROW_S)
    jumps = jumped(found, limits, ROW_S)
    with np.errstate(invalid="ignore"):
        scattered = whole & ~(found.spread < spread_limit(found.noise, limits))
        may_swing = whole & (found.spread > LEAST_SPREAD)
        drifts = ~whole | ~(excess < 1.0) | jumps
    return Watched(
        found,
        passed=~drifts & ~scattered,
        missing=~np.isfinite(values),
        too_slow=(found.rows >= LONGEST_WINDOW_ROWS) & (found.readings < WINDOW_READINGS),
        drifts=drifts,
        hunts=np.zeros_like(drifts),
        may_swing=may_swing,
        excess=np.where(np.isfinite(excess), excess, np.inf),
    )


def own_slopes(names: tuple[str, ...], found: WindowStatistics) -> FloatArray:
    """Give each signal's slope less what follows the entering water, all per row."""
    entering = {name: found.slope_per_row[names.index(name)] for name in ENTERING if name in names}
    own = found.slope_per_row.copy()
    if not entering:
        return own
    bounded = {}
    for name, slope in entering.items():
        most = SIGNALS[name].slope_per_s * ROW_S
        known = np.where(np.isfinite(slope), slope, 0.0)
        bounded[name] = np.minimum(np.maximum(known, -most), most)
    zero = np.zeros(own.shape[1])
    for index, name in enumerate(names):
        leaders = [bounded[leader] for leader in FOLLOWS.get(name, ()) if leader in bounded]
        if leaders:
            down = sum((np.minimum(slope, 0.0) for slope in leaders), zero)
            up = sum((np.maximum(slope, 0.0) for slope in leaders), zero)
            own[index] = followed(own[index], down, up)
    return own
