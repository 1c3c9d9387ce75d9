"""Is the machine running? Told from what is fitted, most direct first."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

import numpy as np
import numpy.typing as npt

from analysis.elementwise import FloatArray

RUNNING_POWER_W = 100.0
"""A compressor of this trade draws hundreds of watts; a crankcase heater less than 100 W.
Common practice, no source."""
RUNNING_CURRENT_A = 1.0
"""Common practice, no source."""
RUNNING_RATIO = 1.2
"""Equalised pressures mean standstill. Ratios under 1.2 in a running machine point to a wrong probe
(secondary analysis of NIST laboratory series, see the contributor's guide)."""


class HasValue(Protocol):
    """A column of values."""

    @property
    def value(self) -> FloatArray:
        """SI values at each row."""


def running(points: Mapping[str, HasValue]) -> npt.NDArray[np.bool_] | None:
    """Say at each row whether the compressor runs; None where nothing fitted can tell.

    A row at which the telling point has no value counts as running: silence is no stop.

    Examples
    --------
    >>> from types import SimpleNamespace as Column
    >>> running({"compressor_power": Column(value=np.array([0.0, 2960.0, np.nan]))})
    array([False,  True,  True])
    >>> running({}) is None
    True
    """
    for name, limit in (("compressor_power", RUNNING_POWER_W), ("compressor_current", RUNNING_CURRENT_A)):
        if name in points:
            return np.asarray(~(points[name].value < limit))
    high = points.get("discharge_pressure") or points.get("liquid_pressure")
    low = points.get("suction_pressure")
    if high is None or low is None:
        return None
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(~(high.value / low.value < RUNNING_RATIO))
