"""Static pressure of a loop at rest: the head it carries, and what it is at another height."""

from __future__ import annotations

import numpy as np

from analysis.elementwise import FloatOrArray, elementwise, only_where
from analysis.liquids import Liquid

STANDARD_GRAVITY = 9.80665  # m/s2, CGPM 1901


@elementwise
def pressure_at_height(
    liquid: Liquid, p: FloatOrArray, t: FloatOrArray, height: FloatOrArray
) -> FloatOrArray:
    """Pressure of the standing liquid above (or below) the gauge: p - rho g h.

    At the top of a loop it must stay above the air's pressure, or air is drawn in.

    Parameters
    ----------
    liquid
        What fills the loop.
    p
        Absolute pressure at the gauge, pump at rest [Pa].
    t
        Temperature of the column [K].
    height
        How far the place is above the gauge [m], negative when below.

    Returns
    -------
    FloatOrArray
        Absolute pressure there [Pa]; NaN if it would be below zero.

    Examples
    --------
    >>> round(pressure_at_height(Liquid("water"), 250e3, 283.15, 10.0))
    151963
    """
    p = np.asarray(p)
    there = p - np.asarray(liquid.density(t)) * STANDARD_GRAVITY * height
    return only_where((p > 0) & (there >= 0), there)


@elementwise
def static_head(liquid: Liquid, p: FloatOrArray, p_barometer: FloatOrArray, t: FloatOrArray) -> FloatOrArray:
    """Height of liquid that the standing pressure carries above the gauge: (p - p_barometer) / (rho g).

    Parameters
    ----------
    liquid
        What fills the loop.
    p
        Absolute pressure at the gauge, pump at rest [Pa].
    p_barometer
        Barometric pressure [Pa].
    t
        Temperature of the column [K].

    Returns
    -------
    FloatOrArray
        Head [m]; negative under vacuum.

    Examples
    --------
    >>> round(static_head(Liquid("water"), 101325 + 206843.0, 101325, 283.15), 1)
    21.1
    """
    p, p_barometer = np.asarray(p), np.asarray(p_barometer)
    head = (p - p_barometer) / (np.asarray(liquid.density(t)) * STANDARD_GRAVITY)
    return only_where((p > 0) & (p_barometer > 0), head)
