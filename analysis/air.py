"""Moist air: enthalpy, volume, relative humidity, dew point and wet bulb from the humidity ratio.

Formulas of ASHRAE Handbook Fundamentals (2017), chapter 1 "Psychrometrics", SI edition. Enthalpy is zero for
dry air at 0 degC and counted per mass of dry air. The humidity ratio comes from :mod:`analysis.air_humidity`.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from analysis.air_humidity import (
    COLDEST,
    HOTTEST,
    MASS_RATIO,
    humidity_at_wet_bulb,
    humidity_ratio_from_dew_point,
    humidity_ratio_from_relative_humidity,
    humidity_ratio_from_wet_bulb,
    saturation_humidity_ratio,
    saturation_of,
    saturation_pressure,
    standard_pressure,
)
from analysis.elementwise import FloatArray, FloatOrArray, elementwise, only_where

__all__ = [
    "STANDARD_DENSITY",
    "dew_point",
    "enthalpy",
    "humidity_ratio_from_dew_point",
    "humidity_ratio_from_relative_humidity",
    "humidity_ratio_from_wet_bulb",
    "relative_humidity",
    "saturation_humidity_ratio",
    "saturation_pressure",
    "specific_heat",
    "specific_volume",
    "standard_pressure",
    "wet_bulb",
]

_R_DRY_AIR = 287.042  # J/(kg K), equation 26
_CP_DRY, _CP_VAPOUR = 1006.0, 1860.0  # J/(kg K), equation 30
_EVAPORATION_0C = 2501e3  # J/kg, equation 30
STANDARD_DENSITY = 1.2014
"""Density of standard air, 0.075 lb/ft3 [kg/m3]: what "standard" volume flow means in the United States."""


@elementwise
def enthalpy(t: FloatOrArray, humidity_ratio: FloatOrArray) -> FloatOrArray:
    """Specific enthalpy per mass of dry air, h = 1.006 t + W (2501 + 1.86 t) with t in degC (equation 30).

    Parameters
    ----------
    t
        Dry-bulb temperature [K].
    humidity_ratio
        [kg water / kg dry air].

    Returns
    -------
    FloatOrArray
        Enthalpy [J/kg dry air]. Differences agree with the inch-pound form, whose zero is at 0 degF.

    Examples
    --------
    >>> round(enthalpy(313.15, 0.0065))
    56980
    """
    t, w = np.asarray(t), np.asarray(humidity_ratio)
    celsius = t - 273.15
    possible = (w >= 0) & (t >= COLDEST) & (t <= HOTTEST)
    return only_where(possible, _CP_DRY * celsius + w * (_EVAPORATION_0C + _CP_VAPOUR * celsius))


@elementwise
def specific_heat(humidity_ratio: FloatOrArray) -> FloatOrArray:
    """Specific heat of moist air per mass of dry air, 1006 + 1860 W (from equation 30).

    Parameters
    ----------
    humidity_ratio
        [kg water / kg dry air].

    Returns
    -------
    FloatOrArray
        Specific heat [J/(kg dry air K)].

    Examples
    --------
    >>> round(specific_heat(0.010), 1)
    1024.6
    """
    w = np.asarray(humidity_ratio)
    return only_where(w >= 0, _CP_DRY + _CP_VAPOUR * w)


@elementwise
def specific_volume(t: FloatOrArray, humidity_ratio: FloatOrArray, p: FloatOrArray) -> FloatOrArray:
    """Volume per mass of dry air, v = 287.042 T (1 + 1.607858 W) / p (equation 26).

    Parameters
    ----------
    t
        Dry-bulb temperature [K].
    humidity_ratio
        [kg water / kg dry air].
    p
        Barometric pressure [Pa].

    Returns
    -------
    FloatOrArray
        Specific volume [m3/kg dry air].

    Examples
    --------
    >>> round(specific_volume(313.15, 0.0065, 101325.0), 3)
    0.896
    """
    t, w, p = np.asarray(t), np.asarray(humidity_ratio), np.asarray(p)
    possible = (w >= 0) & (p > 0) & (t >= COLDEST) & (t <= HOTTEST)
    return only_where(possible, _R_DRY_AIR * t * (1 + 1.607858 * w) / p)


@elementwise
def relative_humidity(t: FloatOrArray, humidity_ratio: FloatOrArray, p: FloatOrArray) -> FloatOrArray:
    """Relative humidity from humidity ratio (equations 20 and 22).

    Parameters
    ----------
    t
        Dry-bulb temperature [K].
    humidity_ratio
        [kg water / kg dry air].
    p
        Barometric pressure [Pa].

    Returns
    -------
    FloatOrArray
        Relative humidity [1]; NaN above saturation.

    Examples
    --------
    >>> round(relative_humidity(313.15, 0.0065, 101325.0), 2)
    0.14
    """
    w, p = np.asarray(humidity_ratio), np.asarray(p)
    humidity = p * w / (MASS_RATIO + w) / saturation_pressure(t)
    return only_where((w >= 0) & (p > 0) & (humidity <= 1 + 1e-9), np.minimum(humidity, 1.0))


@elementwise
def dew_point(humidity_ratio: FloatOrArray, p: FloatOrArray) -> FloatOrArray:
    """Dew point: the temperature at which air of this humidity ratio is saturated.

    Parameters
    ----------
    humidity_ratio
        Above zero [kg water / kg dry air].
    p
        Barometric pressure [Pa].

    Returns
    -------
    FloatOrArray
        Dew point [K].

    Examples
    --------
    >>> round(dew_point(0.011169, 101325.0) * 9 / 5 - 459.67, 1)
    60.3
    """
    w, p = np.asarray(humidity_ratio), np.asarray(p)
    vapour = p * w / (MASS_RATIO + w)
    lowest = np.full_like(vapour, COLDEST)
    found = _solved(lambda t: saturation_of(t) - vapour, lowest, HOTTEST)
    inside = (vapour > saturation_pressure(COLDEST)) & (vapour < saturation_pressure(HOTTEST))
    return only_where((w > 0) & (p > 0) & inside, found)


@elementwise
def wet_bulb(t: FloatOrArray, humidity_ratio: FloatOrArray, p: FloatOrArray) -> FloatOrArray:
    """Thermodynamic wet-bulb temperature: the inverse of equations 33 and 35.

    Parameters
    ----------
    t
        Dry-bulb temperature [K].
    humidity_ratio
        [kg water / kg dry air].
    p
        Barometric pressure [Pa].

    Returns
    -------
    FloatOrArray
        Wet-bulb temperature [K]; NaN above saturation.

    Examples
    --------
    >>> round(wet_bulb(313.15, 0.0065, 101325.0) - 273.15, 1)
    20.1
    """
    t, w, p = np.broadcast_arrays(t, humidity_ratio, p)
    lowest = np.maximum(t - 120.0, COLDEST)
    found = _solved(lambda at: humidity_at_wet_bulb(t, at, p) - w, lowest, t)
    saturated = np.asarray(saturation_humidity_ratio(t, p))
    return only_where((w >= 0) & (w <= saturated * (1 + 1e-9)), found)


def _solved(rising: Callable[[FloatArray], FloatArray], low: FloatArray, high: FloatOrArray) -> FloatArray:
    # Bisection: some 300 K halved to below 1e-9 K; each element by itself.
    low, high = np.array(low), np.broadcast_to(high, np.shape(low)).copy()
    for _ in range(50):
        middle = (low + high) / 2
        above = rising(middle) > 0
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    return np.asarray((low + high) / 2, dtype=np.float64)
