"""Is the machine running, and what can happen to it; told from what is fitted, most direct first."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

import numpy as np
import numpy.typing as npt

from analysis.elementwise import FloatArray
from analysis.first_movers import Mover

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
    told = running_if_known(points)
    return None if told is None else np.asarray(told != 0)


def running_if_known(points: Mapping[str, HasValue]) -> npt.NDArray[np.int8] | None:
    """Say at each row whether the compressor runs (1), stands (0), or gives no value (-1).

    Examples
    --------
    >>> from types import SimpleNamespace as Column
    >>> running_if_known({"compressor_power": Column(value=np.array([0.0, 2960.0, np.nan]))}).tolist()
    [0, 1, -1]
    """
    high = points.get("discharge_pressure") or points.get("liquid_pressure")
    low = points.get("suction_pressure")
    if "compressor_power" in points:
        value, limit = points["compressor_power"].value, RUNNING_POWER_W
    elif "compressor_current" in points:
        value, limit = points["compressor_current"].value, RUNNING_CURRENT_A
    elif high is not None and low is not None:
        with np.errstate(divide="ignore", invalid="ignore"):
            value, limit = np.asarray(high.value / low.value), RUNNING_RATIO
    else:
        return None
    return np.where(np.isnan(value), -1, value >= limit).astype(np.int8)


class EventKind(StrEnum):
    """What happened to the machine."""

    COMPRESSOR_START = "compressor start"
    COMPRESSOR_STOP = "compressor stop"
    PUMP_START = "pump start"
    PUMP_STOP = "pump stop"
    PUMP_TRIP = "pump trip"
    FAN_START = "fan start"
    FAN_STOP = "fan stop"
    STAGE = "stage change"
    MODE = "mode change"
    SHORT_CYCLING = "short cycling"
    LOW_TEMPERATURE = "low-temperature cut-out"
    HIGH_PRESSURE = "high-pressure switch"
    LOCKED_OUT = "locked out"
    VOLTAGE_DIP = "voltage dip"
    START_DIP = "start, not judged"


@dataclass(frozen=True, slots=True)
class Evidence:
    """One number that an event rests on."""

    name: str
    """Measuring point or derived value, or ``time``."""
    value: float
    """SI; seconds for ``time``."""
    limit: float = math.nan
    """What it was held against (SI); NaN where nothing was."""
    source: str = ""
    """Where the limit comes from."""


@dataclass(frozen=True, slots=True)
class MachineEvent:
    """One thing that happened to the machine."""

    t_us: int
    kind: EventKind
    evidence: tuple[Evidence, ...] = ()
    movers: tuple[Mover, ...] = ()
    """For a stop of the compressor: which points left their bands before it, in order."""
