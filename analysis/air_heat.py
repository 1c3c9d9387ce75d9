"""The air side: heat of an air stream, its sensible and latent parts, and air flow found from heat.

Heat is what the air gives to the coil: positive when the air is cooled. The heat of the condensate that runs
off (about 1 % of the latent part) is neglected, as in the usual method.
"""

from __future__ import annotations

import numpy as np

from analysis import air
from analysis.elementwise import FloatOrArray, elementwise, only_where

_BTU_PER_H = 0.29307107017222222  # Btu(IT)/h in W
_CFM = 0.028316846592 / 60  # cubic foot per minute in m3/s
_DEGF = 5 / 9  # a difference of one degree Fahrenheit in K
_LB_PER_H = 0.45359237 / 3600  # kg/s


@elementwise
def dry_air_mass_flow(
    q_v: FloatOrArray, t: FloatOrArray, humidity_ratio: FloatOrArray, p: FloatOrArray
) -> FloatOrArray:
    """Mass flow of dry air from the volume flow at the place of measurement, q_v / v.

    Parameters
    ----------
    q_v
        Volume flow [m3/s], not negative.
    t, humidity_ratio, p
        State of the air where the volume flow was measured [K], [kg/kg], [Pa].

    Returns
    -------
    FloatOrArray
        Mass flow of dry air [kg/s].

    Examples
    --------
    >>> round(dry_air_mass_flow(0.5, 294.26, 0.0, 101325.0), 3)
    0.6
    """
    q_v = np.asarray(q_v)
    return only_where(q_v >= 0, q_v / air.specific_volume(t, humidity_ratio, p))


@elementwise
def dry_air_mass_flow_from_standard(q_v_standard: FloatOrArray) -> FloatOrArray:
    """Mass flow of dry air from a flow stated as standard air (0.075 lb/ft3).

    Parameters
    ----------
    q_v_standard
        Standard volume flow [m3/s], not negative.

    Returns
    -------
    FloatOrArray
        Mass flow of dry air [kg/s].

    Examples
    --------
    1200 cfm of standard air are 5400 lb/h.

    >>> round(dry_air_mass_flow_from_standard(1200 * 0.028316846592 / 60) * 3600 / 0.45359237)
    5400
    """
    q_v_standard = np.asarray(q_v_standard)
    return only_where(q_v_standard >= 0, q_v_standard * air.STANDARD_DENSITY)


@elementwise
def total_heat(
    q_m: FloatOrArray,
    t_entering: FloatOrArray,
    w_entering: FloatOrArray,
    t_leaving: FloatOrArray,
    w_leaving: FloatOrArray,
) -> FloatOrArray:
    """Total heat that the air gives, q_m (h_entering - h_leaving).

    Parameters
    ----------
    q_m
        Mass flow of dry air [kg/s], not negative.
    t_entering, t_leaving
        Dry-bulb temperatures [K].
    w_entering, w_leaving
        Humidity ratios [kg/kg].

    Returns
    -------
    FloatOrArray
        Heat rate [W], positive when the air is cooled.

    Examples
    --------
    >>> round(total_heat(0.6804, 299.82, 0.011169, 287.59, 0.009090))
    12120
    """
    q_m = np.asarray(q_m)
    change = np.asarray(air.enthalpy(t_entering, w_entering)) - air.enthalpy(t_leaving, w_leaving)
    return only_where(q_m >= 0, q_m * change)


@elementwise
def sensible_heat(
    q_m: FloatOrArray, t_entering: FloatOrArray, t_leaving: FloatOrArray, w_leaving: FloatOrArray
) -> FloatOrArray:
    """Sensible part, q_m (1006 + 1860 W_leaving) (t_entering - t_leaving).

    Parameters
    ----------
    q_m
        Mass flow of dry air [kg/s], not negative.
    t_entering, t_leaving
        Dry-bulb temperatures [K].
    w_leaving
        Humidity ratio leaving [kg/kg].

    Returns
    -------
    FloatOrArray
        Heat rate [W], positive when the air is cooled.

    Examples
    --------
    >>> round(sensible_heat(0.6804, 299.82, 287.59, 0.009090))
    8512
    """
    q_m = np.asarray(q_m)
    change = np.asarray(t_entering) - t_leaving
    return only_where(q_m >= 0, q_m * np.asarray(air.specific_heat(w_leaving)) * change)


@elementwise
def latent_heat(
    q_m: FloatOrArray,
    t_entering: FloatOrArray,
    w_entering: FloatOrArray,
    t_leaving: FloatOrArray,
    w_leaving: FloatOrArray,
) -> FloatOrArray:
    """Latent part: total less sensible heat, so that both parts add up.

    Parameters
    ----------
    q_m, t_entering, w_entering, t_leaving, w_leaving
        As in :func:`total_heat`.

    Returns
    -------
    FloatOrArray
        Heat rate [W], positive when water is taken out of the air.

    Examples
    --------
    >>> round(latent_heat(0.6804, 299.82, 0.011169, 287.59, 0.009090))
    3608
    """
    total = np.asarray(total_heat(q_m, t_entering, w_entering, t_leaving, w_leaving))
    return total - sensible_heat(q_m, t_entering, t_leaving, w_leaving)


@elementwise
def sensible_heat_ratio(sensible: FloatOrArray, total: FloatOrArray) -> FloatOrArray:
    """Sensible over total heat.

    Parameters
    ----------
    sensible, total
        Heat rates of one sign [W].

    Returns
    -------
    FloatOrArray
        Ratio [1].

    Examples
    --------
    >>> round(sensible_heat_ratio(28991.0, 41358.0), 3)
    0.701
    """
    sensible, total = np.asarray(sensible), np.asarray(total)
    return only_where(sensible * total > 0, sensible / total)


@elementwise
def air_flow_from_sensible_heat(
    heat: FloatOrArray,
    t_entering: FloatOrArray,
    t_leaving: FloatOrArray,
    humidity_ratio: FloatOrArray,
    p: FloatOrArray,
) -> FloatOrArray:
    """Air flow by temperature change: q_v = Q v_entering / (c_p (t_entering - t_leaving)).

    Only where no water condenses: heating, or a dry coil.

    Parameters
    ----------
    heat
        Heat that the air gives, known from elsewhere [W]; negative when the air is heated.
    t_entering, t_leaving
        Dry-bulb temperatures [K].
    humidity_ratio
        [kg/kg], the same in and out.
    p
        Barometric pressure [Pa].

    Returns
    -------
    FloatOrArray
        Volume flow [m3/s]; NaN when heat and temperature change contradict each other.

    Examples
    --------
    10 kW of heat warm the air from 20 to 35 degC:

    >>> round(air_flow_from_sensible_heat(-10e3, 293.15, 308.15, 0.006, 101325.0), 3)
    0.55
    """
    change = np.asarray(t_entering) - t_leaving
    q_m = np.asarray(heat) / (np.asarray(air.specific_heat(humidity_ratio)) * change)
    return only_where((change != 0) & (q_m > 0), q_m * air.specific_volume(t_entering, humidity_ratio, p))


@elementwise
def air_flow_from_total_heat(
    heat: FloatOrArray,
    t_entering: FloatOrArray,
    w_entering: FloatOrArray,
    t_leaving: FloatOrArray,
    w_leaving: FloatOrArray,
    p: FloatOrArray,
) -> FloatOrArray:
    """Air flow by total heat: q_v = Q v_entering / (h_entering - h_leaving).

    Parameters
    ----------
    heat
        Heat that the air gives, known from elsewhere [W]; negative when the air is heated.
    t_entering, w_entering, t_leaving, w_leaving
        Both states of the air [K], [kg/kg].
    p
        Barometric pressure [Pa].

    Returns
    -------
    FloatOrArray
        Volume flow at the entering state [m3/s]; NaN when heat and enthalpy change contradict each other.

    Examples
    --------
    >>> round(air_flow_from_total_heat(12121.0, 299.82, 0.011169, 287.59, 0.009090, 101325.0), 3)
    0.588
    """
    change = np.asarray(air.enthalpy(t_entering, w_entering)) - air.enthalpy(t_leaving, w_leaving)
    q_m = np.asarray(heat) / change
    return only_where((change != 0) & (q_m > 0), q_m * air.specific_volume(t_entering, w_entering, p))


@elementwise
def sensible_factor(t: FloatOrArray, humidity_ratio: FloatOrArray, p: FloatOrArray) -> FloatOrArray:
    """Give what the trade's 1.08 stands for: c_p / v in Btu/h per cfm and degF.

    Parameters
    ----------
    t, humidity_ratio, p
        State of the air where the volume flow is taken [K], [kg/kg], [Pa].

    Returns
    -------
    FloatOrArray
        Factor [Btu/h/(cfm degF)].

    Examples
    --------
    >>> round(sensible_factor(294.26, 0.0, 84306.0), 2)
    0.9
    """
    per_volume = np.asarray(air.specific_heat(humidity_ratio)) / air.specific_volume(t, humidity_ratio, p)
    return per_volume * _CFM * _DEGF / _BTU_PER_H


@elementwise
def total_factor(t: FloatOrArray, humidity_ratio: FloatOrArray, p: FloatOrArray) -> FloatOrArray:
    """Give what the trade's 4.5 stands for: 1 / v in lb/h of dry air per cfm.

    Parameters
    ----------
    t, humidity_ratio, p
        State of the air where the volume flow is taken [K], [kg/kg], [Pa].

    Returns
    -------
    FloatOrArray
        Factor [lb/h/cfm].

    Examples
    --------
    >>> round(total_factor(294.26, 0.0, 101325.0), 2)
    4.49
    """
    return _CFM / _LB_PER_H / np.asarray(air.specific_volume(t, humidity_ratio, p))
