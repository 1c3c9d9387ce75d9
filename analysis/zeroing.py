"""Gauge zeroing: what pressure channels indicate while they are open to the air, and what follows of it.

A gauge open to the air should indicate zero, a sensor of absolute pressure the barometer, one of pressure
difference zero with both ports open or joined. The offset is what brings it there. It takes out the error
of the zero; what the maker states for the span stays as it is, so a zeroing lowers no stated uncertainty.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from analysis.correction import Correction, GaugeZero
from analysis.finding_acts import Act, relieved
from analysis.measure import Channel
from analysis.still_mean import Series, StillMean, resolution_of, still_mean
from analysis.units import Quantity
from analysis.usual_uncertainty import ASSUMED_U

PRESSURES = (Quantity.GAUGE_PRESSURE, Quantity.ABSOLUTE_PRESSURE, Quantity.PRESSURE_DIFFERENCE)
WINDOW_S = 20.0
"""Length of the window, where the gauges read often enough: a pressure follows at once."""
LONGEST_S = 120.0
LEAST_READINGS = 8
LEAST_SHARE = 0.8
"""Of the window that a gauge's readings must cover."""
NEAR = 3.0
"""A zero further off than so many of its stated standard uncertainties is not believed: something is left in
the hose, or the gauge is damaged. 0.3 % of good ones lie outside (GUM table G.1)."""
CREEPS = 1.0
"""How much a zero may move in the window, two standard uncertainties of the drift included, in its stated
standard uncertainties: a hose that still empties moves more (common practice, no source)."""
BAROMETER_U_PA = 1000.0
"""Standard uncertainty of the declared barometer: the weather moves the air pressure about that of an
altitude by some 20 hPa (common practice, no source)."""
ACTS: tuple[Act, ...] = (
    relieved(
        "Take the gauge off the machine, its hose emptied as the rules for refrigerant demand, and leave its "
        "port open to the air. Never open a circuit for it, never zero on a running one."
    ),
)
"""The one condition in which a gauge may be zeroed."""


class ZeroLack(StrEnum):
    """Why a gauge cannot be zeroed yet."""

    FEW_READINGS = "few readings"
    MOVES = "moves"
    PRESSURE = "pressure"
    NO_BAROMETER = "no barometer"
    NO_GAIN = "no gain"
    """The zero would be known less well than the instrument is stated."""


@dataclass(frozen=True, slots=True)
class Zero:
    """One pressure channel, open to the air (SI)."""

    channel: Channel
    mean: StillMean
    target: float
    """What it should indicate: zero, or the barometer [Pa]."""
    limit: float
    """How far off a believable zero may lie [Pa]."""
    creeps: float
    """How much it may move in the window [Pa]."""
    u: float
    """Standard uncertainty of the offset [Pa]."""
    lack: ZeroLack | None

    @property
    def offset(self) -> float:
        """What brings its indication to the target [Pa]."""
        return self.target - self.mean.value

    def correction(self, when: str) -> Correction:
        """Give the offset with its evidence; ``when`` is the moment in UTC."""
        return Correction(self.offset, GaugeZero(self.u, when))


def window_of(channels: Sequence[Channel]) -> float:
    """Give the length of the window that the slowest of these channels needs [s]."""
    slowest = max((channel.expected_interval_s for channel in channels), default=1.0)
    return min(max(WINDOW_S, slowest * LEAST_READINGS / LEAST_SHARE), LONGEST_S)


def zero_gauges(
    series: Sequence[Series], end_s: float, barometer_pa: float = math.nan, window_s: float | None = None
) -> tuple[Zero, ...]:
    """Work out the zero of each pressure channel; each is judged by itself.

    Parameters
    ----------
    series
        Indications of pressure channels, scaled, without offset.
    end_s
        End of the window, on the same time base [s].
    barometer_pa
        As declared; NaN where it is not [Pa].
    window_s
        Length of the window [s]; what the slowest gauge needs by default.

    Examples
    --------
    A gauge of ± 0.03 bar (k = 2) that shows 0.02 bar with nothing on it:

    >>> import numpy as np
    >>> from analysis.measure import Specification
    >>> t = np.arange(0.0, 21.0)
    >>> gauge = Channel(
    ...     "g/ps", Quantity.GAUGE_PRESSURE, "bar(g)", resolution=0.001, uncertainty=Specification(fixed=0.03)
    ... )
    >>> (zero,) = zero_gauges([Series(gauge, t, np.full(21, 2000.0))], 20.0)
    >>> zero.lack is None, zero.offset, round(zero.u, 1), round(zero.limit)
    (True, -2000.0, 28.9, 4500)
    """
    window_s = window_s or window_of([one.channel for one in series])
    return tuple(_zero(one.within(end_s - window_s, end_s), end_s, window_s, barometer_pa) for one in series)


def _zero(one: Series, end_s: float, window_s: float, barometer_pa: float) -> Zero:
    channel = one.channel
    mean = still_mean(one, end_s - window_s / 2.0)
    absolute = channel.quantity is Quantity.ABSOLUTE_PRESSURE
    target = barometer_pa if absolute else 0.0
    u_target = BAROMETER_U_PA if absolute else 0.0
    stated = _stated(channel, target)
    step = resolution_of(one)
    limit = NEAR * math.hypot(stated, u_target)
    creeps = max(CREEPS * stated, step)
    lack = None
    if absolute and not math.isfinite(barometer_pa):
        lack = ZeroLack.NO_BAROMETER
    elif mean.rows < LEAST_READINGS or mean.seconds < LEAST_SHARE * window_s:
        lack = ZeroLack.FEW_READINGS
    elif abs(mean.value - target) > limit:
        lack = ZeroLack.PRESSURE
    elif abs(mean.slope) * window_s + 2.0 * mean.u_slope * window_s > creeps:
        lack = ZeroLack.MOVES
    moved = abs(mean.slope) * window_s
    u = math.hypot(mean.u, step / math.sqrt(12.0), moved / math.sqrt(12.0), u_target)
    if lack is None and not u < stated:
        lack = ZeroLack.NO_GAIN
    return Zero(channel, mean, target, limit, creeps, u, lack)


def _stated(channel: Channel, at_pa: float) -> float:
    """Give what is stated for a channel at its target, or what an ordinary one is good for [Pa]."""
    spec, factor = channel.uncertainty, channel.si_unit.factor
    promised = math.nan if spec is None else spec.standard(at_pa / factor) * factor
    usual, share = ASSUMED_U[channel.quantity]
    return promised if promised > 0.0 else math.hypot(usual, share * (at_pa if math.isfinite(at_pa) else 0.0))
