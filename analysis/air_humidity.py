"""Humidity of air: standard atmosphere, saturation of water, and humidity ratio from what is measured.

Formulas of ASHRAE Handbook Fundamentals (2017), chapter 1 "Psychrometrics", SI edition: perfect-gas
relations, no enhancement factor. Range: -100 to 200 degC.
"""

from __future__ import annotations

import numpy as np

from analysis.elementwise import FloatArray, FloatOrArray, elementwise, only_where

_TRIPLE_POINT = 273.16  # K; below it saturation is over ice
COLDEST, HOTTEST = 173.15, 473.15  # K, range of equations 5 and 6
MASS_RATIO = 0.621945  # molar mass of water over that of dry air, equation 20


@elementwise
def standard_pressure(altitude: FloatOrArray) -> FloatOrArray:
    """Barometric pressure of the standard atmosphere (equation 3).

    p = 101325 (1 - 2.25577e-5 z)^5.2559

    Parameters
    ----------
    altitude
        Height above sea level [m], -500 to 11000.

    Returns
    -------
    FloatOrArray
        Pressure [Pa].

    Examples
    --------
    >>> round(standard_pressure(600.0))
    94322
    """
    z = np.asarray(altitude)
    return only_where((z >= -500) & (z <= 11000), 101325.0 * np.power(1 - 2.25577e-5 * z, 5.2559))


@elementwise
def saturation_pressure(t: FloatOrArray) -> FloatOrArray:
    """Saturation pressure of water vapour over ice (equation 5) or liquid water (equation 6).

    Parameters
    ----------
    t
        Temperature [K], -100 to 200 degC.

    Returns
    -------
    FloatOrArray
        Pressure [Pa].

    Examples
    --------
    >>> round(saturation_pressure(293.15), 1)
    2338.8
    """
    return saturation_of(np.asarray(t))


@elementwise
def saturation_humidity_ratio(t: FloatOrArray, p: FloatOrArray) -> FloatOrArray:
    """Humidity ratio of saturated air, 0.621945 p_ws / (p - p_ws) (equation 21).

    Parameters
    ----------
    t
        Temperature [K].
    p
        Barometric pressure [Pa].

    Returns
    -------
    FloatOrArray
        Humidity ratio [kg water / kg dry air]; NaN where water would boil.

    Examples
    --------
    >>> round(saturation_humidity_ratio(293.15, 101325.0), 5)
    0.0147
    """
    return humidity_ratio_from_relative_humidity(t, 1.0, p)


@elementwise
def humidity_ratio_from_relative_humidity(
    t: FloatOrArray, relative_humidity: FloatOrArray, p: FloatOrArray
) -> FloatOrArray:
    """Humidity ratio from relative humidity (equations 20 and 22).

    Parameters
    ----------
    t
        Dry-bulb temperature [K].
    relative_humidity
        From 0 to 1 [1].
    p
        Barometric pressure [Pa].

    Returns
    -------
    FloatOrArray
        Humidity ratio [kg water / kg dry air].

    Examples
    --------
    >>> round(humidity_ratio_from_relative_humidity(298.15, 0.5, 101325.0), 5)
    0.00988
    """
    humidity = np.asarray(relative_humidity)
    vapour = humidity * saturation_pressure(t)
    possible = (humidity >= 0) & (humidity <= 1) & (vapour < np.asarray(p))
    return only_where(possible, MASS_RATIO * vapour / (p - vapour))


@elementwise
def humidity_ratio_from_dew_point(t_dew_point: FloatOrArray, p: FloatOrArray) -> FloatOrArray:
    """Humidity ratio from the dew point: that of saturated air at the dew point.

    Parameters
    ----------
    t_dew_point
        Dew-point temperature [K].
    p
        Barometric pressure [Pa].

    Returns
    -------
    FloatOrArray
        Humidity ratio [kg water / kg dry air].

    Examples
    --------
    >>> round(humidity_ratio_from_dew_point((60.32 + 459.67) * 5 / 9, 101325.0), 5)
    0.01117
    """
    return saturation_humidity_ratio(t_dew_point, p)


@elementwise
def humidity_ratio_from_wet_bulb(t: FloatOrArray, t_wet_bulb: FloatOrArray, p: FloatOrArray) -> FloatOrArray:
    """Humidity ratio from dry and wet bulb (equations 33 and 35).

    Parameters
    ----------
    t
        Dry-bulb temperature [K].
    t_wet_bulb
        Wet-bulb temperature, not above the dry bulb [K]; below 0 degC the wick is taken as frozen.
    p
        Barometric pressure [Pa]; the same wet bulb means another humidity at altitude.

    Returns
    -------
    FloatOrArray
        Humidity ratio [kg water / kg dry air]; NaN where the wet bulb is lower than dry air allows.

    Examples
    --------
    >>> round(humidity_ratio_from_wet_bulb(313.15, 293.15, 101325.0), 4)
    0.0064
    """
    t, t_wet_bulb = np.asarray(t), np.asarray(t_wet_bulb)
    ratio = humidity_at_wet_bulb(t, t_wet_bulb, np.asarray(p))
    return only_where((t_wet_bulb <= t) & (t <= HOTTEST) & (ratio >= 0), ratio)


def saturation_of(t: FloatArray) -> FloatArray:
    """Saturation pressure by equations 5 and 6 for arrays; the bare formula for use in loops."""
    # Products rather than powers: numpy takes another road for powers of single numbers.
    over_ice = (
        -5.6745359e3 / t
        + 6.3925247
        + t * (-9.6778430e-3 + t * (6.2215701e-7 + t * (2.0747825e-9 - 9.4840240e-13 * t)))
        + 4.1635019 * np.log(t)
    )
    over_water = (
        -5.8002206e3 / t
        + 1.3914993
        + t * (-4.8640239e-2 + t * (4.1764768e-5 - 1.4452093e-8 * t))
        + 6.5459673 * np.log(t)
    )
    logarithm = np.where(t < _TRIPLE_POINT, over_ice, over_water)
    return only_where((t >= COLDEST) & (t <= HOTTEST), np.exp(logarithm))


def humidity_at_wet_bulb(t: FloatArray, t_wet_bulb: FloatArray, p: FloatArray) -> FloatArray:
    """Humidity ratio by equations 33 and 35 for arrays, without a check of what is possible."""
    dry, wet = t - 273.15, t_wet_bulb - 273.15
    vapour = saturation_of(t_wet_bulb)
    saturated = MASS_RATIO * vapour / (p - vapour)
    over_water = ((2501 - 2.326 * wet) * saturated - 1.006 * (dry - wet)) / (2501 + 1.86 * dry - 4.186 * wet)
    over_ice = ((2830 - 0.24 * wet) * saturated - 1.006 * (dry - wet)) / (2830 + 1.86 * dry - 2.1 * wet)
    return np.asarray(np.where(wet < 0, over_ice, over_water), dtype=np.float64)
