"""Which measuring point moved first: the order in which points left their bands before a stop."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.elementwise import FloatArray
from analysis.points import POINTS
from analysis.units import Quantity

BAND_FROM_ROWS, BAND_TO_ROWS = 600, 120
"""The band is learnt from ten to two minutes before the stop."""
LEAST_BAND_ROWS = 60
WIDTHS = 5.0
"""Half the band in robust standard deviations: noise alone leaves it once in millions of rows."""
TO_SIGMA = 1.4826
"""Median absolute deviation to standard deviation, for normal noise."""
FLOOR_K, FLOOR_SHARE = 0.3, 0.02
"""Half the band at least: of temperatures [K], and of everything else as a share of its level."""


@dataclass(frozen=True, slots=True)
class Mover:
    """One point that left its band before the stop and did not come back."""

    point: str
    t_us: int
    """First row outside the band [us]."""
    lag_s: float
    """Behind the first of all movers [s]."""
    level: float
    """Middle of the band (SI)."""
    half_band: float
    value: float
    """What it was at the stop (SI)."""


def first_movers(t_us: np.ndarray, columns: Mapping[str, FloatArray], stop: int) -> list[Mover]:
    """Give the points that left their bands before a stop, in the order in which they did.

    Parameters
    ----------
    t_us : (n,)
        Moments of the rows up to the stop or beyond [us].
    columns : each (n,)
        Measuring point to its values (SI); NaN where not known.
    stop
        Index of the first row at which the machine stood.

    Examples
    --------
    >>> t = np.arange(700)
    >>> current = np.where(t < 660, 1.16, 0.0)
    >>> pressure = 5.0e5 - np.maximum(t - 664.0, 0.0) * 4e3
    >>> movers = first_movers(t * 1_000_000, {"suction_pressure": pressure, "pump_current": current}, 690)
    >>> [(m.point, m.lag_s) for m in movers]
    [('pump_current', 0.0), ('suction_pressure', 7.0)]
    """
    found: list[tuple[int, float, str, float, float]] = []
    for name, values in columns.items():
        before = values[max(stop - BAND_FROM_ROWS, 0) : max(stop - BAND_TO_ROWS, 0)]
        before = before[np.isfinite(before)]
        if before.size < LEAST_BAND_ROWS:
            continue
        level = float(np.median(before))
        spread = WIDTHS * TO_SIGMA * float(np.median(np.abs(before - level)))
        floor = FLOOR_K if POINTS[name].quantity is Quantity.TEMPERATURE else FLOOR_SHARE * abs(level)
        half = max(spread, floor)
        late = values[max(stop - BAND_TO_ROWS, 0) : stop]
        inside = np.flatnonzero(~(np.abs(late - level) > half))  # a row without a value says nothing
        left = int(inside[-1]) + 1 if inside.size else 0
        if left < late.size:
            share = abs(float(late[left]) - level) / half if half > 0.0 else np.inf
            found.append((stop - late.size + left, -share, name, level, half))
    found.sort()  # of one row, what is further outside its band comes first
    first = found[0][0] if found else 0
    return [
        Mover(
            name, int(t_us[row]), float(t_us[row] - t_us[first]) / 1e6, level, half,
            float(columns[name][stop - 1]),
        )
        for row, _, name, level, half in found
    ]  # fmt: skip
