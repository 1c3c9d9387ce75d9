"""The water side: heat, mass flow, velocity and the distance to freezing.

Heat into the refrigerant is positive here as everywhere: a liquid that cools down gives heat to the
refrigerant (heat of extraction, heating); one that warms up takes it (heat of rejection, cooling) and the
heat is negative.
"""

from __future__ import annotations

import numpy as np

from analysis.elementwise import FloatOrArray, elementwise, only_where
from analysis.liquids import Liquid

_GPM = 6.30901964e-5  # US gallon per minute in m3/s
_BTU_PER_H = 0.29307107017222222  # Btu(IT)/h in W
_DEGF = 5 / 9  # a difference of one degree Fahrenheit in K

TRADE_FACTOR_WATER = 500.0
"""The trade's round factor for plain water, Btu/h per gpm and degF (common practice, no source)."""
TRADE_FACTOR_ANTIFREEZE = 485.0
"""The trade's round factor for any antifreeze loop, Btu/h per gpm and degF (common practice, no source)."""


@elementwise
def mass_flow(liquid: Liquid, q_v: FloatOrArray, t: FloatOrArray) -> FloatOrArray:
    """Mass flow q_m = rho(t) q_v.

    Parameters
    ----------
    liquid
        What flows.
    q_v
        Volume flow [m3/s], not negative.
    t
        Temperature at which the volume flow is taken [K].

    Returns
    -------
    FloatOrArray
        Mass flow [kg/s].

    Examples
    --------
    >>> round(mass_flow(Liquid("water"), 0.53e-3, 305.7), 4)
    0.5273
    """
    q_v = np.asarray(q_v)
    return only_where(q_v >= 0, q_v * liquid.density(t))


@elementwise
def heat_from_liquid(
    liquid: Liquid, q_v: FloatOrArray, t_entering: FloatOrArray, t_leaving: FloatOrArray
) -> FloatOrArray:
    """Heat that the liquid gives to the refrigerant: Q = rho q_v c_p (t_entering - t_leaving).

    Density and specific heat are taken at the mean of both temperatures.

    Parameters
    ----------
    liquid
        What flows.
    q_v
        Volume flow [m3/s], not negative.
    t_entering, t_leaving
        Liquid temperatures at the unit [K].

    Returns
    -------
    FloatOrArray
        Heat rate [W]: positive when the liquid cools (heat of extraction), negative when it warms
        (heat of rejection).

    Examples
    --------
    25 % propylene glycol from 4.0 to 0.1 degC at 0.60 L/s gives 9.3 kW:

    >>> loop = Liquid("propylene_glycol", mass_fraction=0.25)
    >>> round(heat_from_liquid(loop, 0.60e-3, 277.15, 273.25))
    9302
    """
    q_v, t_entering, t_leaving = map(np.asarray, (q_v, t_entering, t_leaving))
    t_mean = (t_entering + t_leaving) / 2
    change = t_entering - t_leaving
    return only_where(q_v >= 0, liquid.density(t_mean) * q_v * liquid.specific_heat(t_mean) * change)


@elementwise
def leaving_temperature(
    liquid: Liquid, q_v: FloatOrArray, t_entering: FloatOrArray, heat: FloatOrArray
) -> FloatOrArray:
    """Leaving temperature when the liquid gives a known heat: the inverse of the heat formula.

    Parameters
    ----------
    liquid
        What flows.
    q_v
        Volume flow [m3/s], above zero.
    t_entering
        Entering temperature [K].
    heat
        Heat given to the refrigerant [W], negative when taken.

    Returns
    -------
    FloatOrArray
        Leaving temperature [K]; NaN if that would be below the freezing point or above the table.

    Examples
    --------
    >>> round(leaving_temperature(Liquid("water"), 0.379e-3, 283.15, 10756.0) - 273.15, 2)
    3.24
    """
    q_v, t_entering, heat = map(np.asarray, (q_v, t_entering, heat))
    t_leaving = t_entering + np.zeros(np.broadcast_shapes(q_v.shape, heat.shape))
    for _ in range(8):  # the properties move by some 0.1 % per kelvin, so each pass gains three digits
        t_mean = (t_entering + t_leaving) / 2
        capacity = liquid.density(t_mean) * q_v * liquid.specific_heat(t_mean)
        t_leaving = t_entering - heat / capacity
    liquid_still = np.isfinite(liquid.density(t_leaving))
    return only_where((q_v > 0) & liquid_still, t_leaving)


@elementwise
def heat_factor(liquid: Liquid, t: FloatOrArray) -> FloatOrArray:
    """Heat per flow and temperature change, rho c_p, in the trade's unit Btu/h per gpm and degF.

    It is what the round figures 500 (water) and 485 (antifreeze) stand for.

    Parameters
    ----------
    liquid
        What flows.
    t
        Mean temperature [K].

    Returns
    -------
    FloatOrArray
        Factor [Btu/h/(gpm degF)].

    Examples
    --------
    >>> round(heat_factor(Liquid("water"), 283.15), 1)
    501.6
    >>> round(heat_factor(Liquid("propylene_glycol", mass_fraction=0.25), 283.15), 1)
    476.7
    """
    return np.asarray(liquid.density(t)) * liquid.specific_heat(t) * _GPM * _DEGF / _BTU_PER_H


@elementwise
def heat_from_trade_factor(
    factor: FloatOrArray, q_v: FloatOrArray, t_entering: FloatOrArray, t_leaving: FloatOrArray
) -> FloatOrArray:
    """Heat to the refrigerant with a round factor that the person insists on; it must be named beside it.

    Parameters
    ----------
    factor
        Btu/h per gpm and degF, such as 500 or 485.
    q_v
        Volume flow [m3/s], not negative.
    t_entering, t_leaving
        Liquid temperatures [K].

    Returns
    -------
    FloatOrArray
        Heat rate [W], positive when the liquid cools.

    Examples
    --------
    9 gpm warmed by 10.6 degF, factor 500: 47 700 Btu/h rejected.

    >>> heat = heat_from_trade_factor(500.0, 9 * 6.30901964e-5, 294.2611, 294.2611 + 10.6 * 5 / 9)
    >>> round(heat / 0.29307107, 0)
    -47700.0
    """
    factor, q_v = np.asarray(factor), np.asarray(q_v)
    per_kelvin = factor * _BTU_PER_H / (_GPM * _DEGF) * q_v
    return only_where((factor > 0) & (q_v >= 0), per_kelvin * (np.asarray(t_entering) - t_leaving))


@elementwise
def velocity(q_v: FloatOrArray, bore: FloatOrArray) -> FloatOrArray:
    """Mean velocity in a round pipe, v = 4 q_v / (pi d2).

    Parameters
    ----------
    q_v
        Volume flow [m3/s], not negative.
    bore
        Inside diameter [m], above zero.

    Returns
    -------
    FloatOrArray
        Velocity [m/s].

    Examples
    --------
    >>> round(velocity(9 * 6.30901964e-5, 1.049 * 0.0254) / 0.3048, 2)
    3.34
    """
    q_v, bore = np.asarray(q_v), np.asarray(bore)
    return only_where((q_v >= 0) & (bore > 0), 4 * q_v / (np.pi * bore**2))


@elementwise
def freeze_margin(liquid: Liquid, t: FloatOrArray) -> FloatOrArray:
    """How far a temperature stays above the liquid's freezing point.

    Parameters
    ----------
    liquid
        What flows.
    t
        Leaving liquid temperature, or the evaporating temperature for the coldest wall [K].

    Returns
    -------
    FloatOrArray
        Margin [K]; negative when ice can form.

    Examples
    --------
    >>> loop = Liquid("propylene_glycol", mass_fraction=0.25)
    >>> round(freeze_margin(loop, 273.15 - 8.2), 1)
    1.6
    """
    t = np.asarray(t)
    return only_where(t > 0, t - liquid.freezing_point)


@elementwise
def cut_out_margin(t: FloatOrArray, t_cut_out: FloatOrArray) -> FloatOrArray:
    """How far a temperature stays above the unit's low-temperature cut-out.

    The setting is the maker's and belongs to the unit card; it is never assumed.

    Parameters
    ----------
    t
        Temperature at the place where the cut-out senses [K].
    t_cut_out
        Setting [K].

    Returns
    -------
    FloatOrArray
        Margin [K]; zero or less: the unit stops.

    Examples
    --------
    >>> round(cut_out_margin(275.0, 272.0), 1)
    3.0
    """
    t, t_cut_out = np.asarray(t), np.asarray(t_cut_out)
    return only_where((t > 0) & (t_cut_out > 0), t - t_cut_out)
