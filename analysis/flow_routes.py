"""Liquid flow and the route by which it was found: meter, timed container, energy balance, compressor input.

The routes by coil pressure drop are in :mod:`analysis.pressure_drop`. A flow without its route is worth
little: a flow found from the coil's pressure drop cannot also judge that coil.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from analysis.elementwise import FloatOrArray, elementwise, only_where
from analysis.liquids import Liquid


class FlowRoute(StrEnum):
    """How a flow was found."""

    METER = "meter"
    PRESSURE_DROP_TABLE = "pressure_drop_table"
    RATED_POINT = "rated_point"
    TIMED_CONTAINER = "timed_container"
    ENERGY_BALANCE = "energy_balance"
    COMPRESSOR_INPUT = "compressor_input"

    @property
    def independent_of_coil(self) -> bool:
        """Whether this route may be used to judge the coil itself."""
        return self in (FlowRoute.METER, FlowRoute.TIMED_CONTAINER, FlowRoute.ENERGY_BALANCE)

    @property
    def is_bound(self) -> bool:
        """Whether the flow is only known to lie between two bounds."""
        return self is FlowRoute.COMPRESSOR_INPUT


@dataclass(frozen=True, slots=True)
class FlowResult:
    """A flow with its route and uncertainty.

    Attributes
    ----------
    q_v
        Volume flow [m3/s]; NaN when it cannot be found.
    u
        Standard uncertainty, k = 1 [m3/s].
    route
        How it was found.
    notes
        What the reader must know: why there is no value, what was assumed, what would be better.
    low, high
        Bounds [m3/s], where the route gives bounds rather than a value.
    """

    q_v: FloatOrArray
    u: FloatOrArray
    route: FlowRoute
    notes: tuple[str, ...] = ()
    low: FloatOrArray = float("nan")
    high: FloatOrArray = float("nan")


def flow_from_meter(q_v: FloatOrArray, *, u_fixed: float = 0.0, u_relative: float = 0.0) -> FlowResult:
    """Take a flow from a meter with the uncertainty that its maker or certificate states.

    Parameters
    ----------
    q_v
        Indicated volume flow [m3/s], not negative.
    u_fixed
        Standard uncertainty independent of the reading [m3/s].
    u_relative
        Standard uncertainty relative to the reading [1].

    Examples
    --------
    >>> flow = flow_from_meter(0.53e-3, u_relative=0.015)
    >>> round(1e3 * flow.q_v, 2), round(1e6 * flow.u, 1)
    (0.53, 8.0)
    """
    value = _not_negative(q_v)
    notes = () if u_fixed > 0 or u_relative > 0 else ("the meter's uncertainty is not stated",)
    stated = u_fixed > 0 or u_relative > 0
    u = _root_sum(u_fixed, u_relative * value) if stated else value * np.nan
    return FlowResult(value, u, FlowRoute.METER, notes)


def flow_from_timed_container(
    volumes: Sequence[float], times: Sequence[float], *, u_volume: float, u_time: float
) -> FlowResult:
    """Find the flow by filling a container against the clock, best three times.

    q_v = mean(V / t). The container's and the watch's uncertainty are common to all runs and are not reduced
    by repeating; the scatter of the runs is (standard deviation over the root of their number).

    Parameters
    ----------
    volumes
        Volume of each run [m3].
    times
        Time of each run [s].
    u_volume, u_time
        Standard uncertainty of one volume [m3] and one time [s].

    Examples
    --------
    >>> gallon = 3.785411784e-3
    >>> flow = flow_from_timed_container([5 * gallon], [38.0], u_volume=0.1 * gallon, u_time=1.0)
    >>> round(flow.q_v / gallon * 60, 2), round(flow.u / flow.q_v, 3)
    (7.89, 0.033)
    """
    route = FlowRoute.TIMED_CONTAINER
    volume, time = np.asarray(volumes, np.float64), np.asarray(times, np.float64)
    if volume.shape != time.shape or volume.ndim != 1 or volume.size == 0:
        return FlowResult(np.nan, np.nan, route, ("each run needs one volume and one time",))
    if not (
        np.all(np.isfinite(volume)) and np.all(np.isfinite(time)) and np.all(volume > 0) and np.all(time > 0)
    ):
        return FlowResult(np.nan, np.nan, route, ("a volume or time is missing or not above zero",))
    runs = volume / time
    q_v = float(np.mean(runs))
    instrument = q_v * float(np.hypot(u_volume / np.mean(volume), u_time / np.mean(time)))
    if runs.size == 1:
        return FlowResult(q_v, instrument, route, ("one run only: repeat it twice to see the scatter",))
    spread = float(np.std(runs, ddof=1))
    notes: tuple[str, ...] = ()
    if spread > 3 * max(instrument, 1e-3 * q_v):
        notes = (
            f"the runs scatter by {100 * spread / q_v:.0f} %: the flow is not steady or a run went wrong",
        )
    return FlowResult(q_v, float(np.hypot(instrument, spread / np.sqrt(runs.size))), route, notes)


def flow_from_energy_balance(
    liquid: Liquid,
    heat: FloatOrArray,
    t_entering: FloatOrArray,
    t_leaving: FloatOrArray,
    *,
    u_heat: FloatOrArray,
    u_change: FloatOrArray,
) -> FlowResult:
    """Find the flow from a heat known otherwise: q_v = Q / (rho c_p (t_entering - t_leaving)).

    Parameters
    ----------
    liquid
        What flows.
    heat
        Heat that the liquid gives to the refrigerant [W]: load heat less power in heating; minus the sum of
        load heat and power in cooling.
    t_entering, t_leaving
        Liquid temperatures [K].
    u_heat
        Standard uncertainty of the heat [W].
    u_change
        Standard uncertainty of the temperature change [K].

    Examples
    --------
    >>> loop = Liquid("propylene_glycol", mass_fraction=0.25)
    >>> flow = flow_from_energy_balance(loop, 9300.0, 277.15, 273.25, u_heat=600.0, u_change=0.15)
    >>> round(1e3 * flow.q_v, 2), round(1e3 * flow.u, 2)
    (0.6, 0.05)
    """
    q_v = flow_for_heat(liquid, heat, t_entering, t_leaving)
    relative = _root_sum(_quotient(u_heat, heat), _quotient(u_change, np.subtract(t_entering, t_leaving)))
    notes = ("heat and temperature change do not fit together",) if np.any(np.isnan(q_v)) else ()
    return FlowResult(q_v, q_v * relative, FlowRoute.ENERGY_BALANCE, notes)


@elementwise
def flow_for_heat(
    liquid: Liquid, heat: FloatOrArray, t_entering: FloatOrArray, t_leaving: FloatOrArray
) -> FloatOrArray:
    """Volume flow that carries a heat, Q / (rho c_p (t_entering - t_leaving)).

    Parameters
    ----------
    liquid
        What flows.
    heat
        Heat that the liquid gives [W], of the sign of the temperature change.
    t_entering, t_leaving
        Liquid temperatures [K].

    Returns
    -------
    FloatOrArray
        Volume flow [m3/s]; NaN without a temperature change or when the signs contradict each other.

    Examples
    --------
    >>> round(1e3 * flow_for_heat(Liquid("water"), -12100.0, 303.15, 308.65), 2)
    0.53
    """
    t_entering, t_leaving = np.asarray(t_entering), np.asarray(t_leaving)
    change, t_mean = t_entering - t_leaving, (t_entering + t_leaving) / 2
    q_v = np.asarray(heat) / (np.asarray(liquid.density(t_mean)) * liquid.specific_heat(t_mean) * change)
    return only_where((change != 0) & (q_v >= 0), q_v)


@elementwise
def compressor_input(
    voltage: FloatOrArray, current: FloatOrArray, power_factor: FloatOrArray, phases: int = 1
) -> FloatOrArray:
    """Electrical input from voltage, current and power factor: W = V I PF; three phases root 3 V I PF.

    With a power factor of 1 it is the upper bound.

    Parameters
    ----------
    voltage
        Line voltage (between lines for three phases) [V], not negative.
    current
        Line current [A], not negative.
    power_factor
        From 0 to 1 [1].
    phases
        1 or 3.

    Returns
    -------
    FloatOrArray
        Power [W].

    Examples
    --------
    >>> round(compressor_input(229.0, 14.4, 0.95))
    3133
    """
    voltage, current, power_factor = map(np.asarray, (voltage, current, power_factor))
    lines = {1: 1.0, 3: np.sqrt(3.0)}.get(int(phases), np.nan)
    possible = (voltage >= 0) & (current >= 0) & (power_factor > 0) & (power_factor <= 1)
    return only_where(possible, voltage * current * power_factor * lines)


def flow_bounds_from_compressor_input(
    liquid: Liquid,
    load_heat: FloatOrArray,
    t_entering: FloatOrArray,
    t_leaving: FloatOrArray,
    *,
    voltage: FloatOrArray,
    current: FloatOrArray,
    power_factors: tuple[float, float],
    phases: int = 1,
) -> FlowResult:
    """Bound the source flow by an energy balance whose power is only voltage times current.

    Parameters
    ----------
    liquid
        What flows on the source side.
    load_heat
        Heat to the load [W]: positive heating, negative cooling.
    t_entering, t_leaving
        Source liquid temperatures [K].
    voltage, current, phases
        As in :func:`compressor_input`.
    power_factors
        Lowest and highest power factor that are possible [1]; the value uses their mean.

    Examples
    --------
    >>> loop = Liquid("propylene_glycol", mass_fraction=0.25)
    >>> flow = flow_bounds_from_compressor_input(
    ...     loop, 12100.0, 277.15, 273.25, voltage=229.0, current=13.6, power_factors=(0.85, 1.0))
    >>> [round(1e3 * q, 2) for q in (flow.low, flow.q_v, flow.high)]
    [0.58, 0.59, 0.61]
    """
    lowest, highest = power_factors

    def flow_at(power_factor: float) -> FloatOrArray:
        power = compressor_input(voltage, current, power_factor, phases)
        return flow_for_heat(liquid, load_heat - power, t_entering, t_leaving)

    one, middle, other = flow_at(lowest), flow_at((lowest + highest) / 2), flow_at(highest)
    low, high = _lower(one, other), _higher(one, other)
    # All that is known is the interval: a rectangular distribution (GUM 4.3.7).
    u = (high - low) / 12**0.5
    note = f"bounds only: power is voltage times current with a power factor of {lowest:g} to {highest:g}"
    return FlowResult(middle, u, FlowRoute.COMPRESSOR_INPUT, (note,), low, high)


@elementwise
def _not_negative(value: FloatOrArray) -> FloatOrArray:
    value = np.asarray(value)
    return only_where(value >= 0, value)


@elementwise
def _root_sum(one: FloatOrArray, other: FloatOrArray) -> FloatOrArray:
    return np.hypot(one, other)


@elementwise
def _quotient(one: FloatOrArray, other: FloatOrArray) -> FloatOrArray:
    return np.asarray(one) / other


@elementwise
def _lower(one: FloatOrArray, other: FloatOrArray) -> FloatOrArray:
    return np.minimum(one, other)


@elementwise
def _higher(one: FloatOrArray, other: FloatOrArray) -> FloatOrArray:
    return np.maximum(one, other)
