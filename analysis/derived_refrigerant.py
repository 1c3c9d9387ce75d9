"""Derived values of the refrigerant side, as the registry calls them: superheat, subcooling, temperatures."""

from __future__ import annotations

import numpy as np

from analysis import refrigerant_side
from analysis.circumstances import Circumstances
from analysis.elementwise import FloatArray
from analysis.saturation import SaturationCurve


def curve_of(circumstances: Circumstances) -> SaturationCurve:
    """Give the declared refrigerant; the analyser asks only where there is one."""
    curve = circumstances.refrigerant
    assert curve is not None, "a row of the registry lacks its need"
    return curve


def evaporating_temperature(circumstances: Circumstances, p_suction: FloatArray) -> FloatArray:
    """Evaporating temperature: the dew temperature at the suction pressure [Pa -> K]."""
    return np.asarray(curve_of(circumstances).t_dew(p_suction))


def condensing_temperature(circumstances: Circumstances, p_high: FloatArray) -> FloatArray:
    """Condensing temperature: the bubble temperature at the high-side pressure [Pa -> K]."""
    return np.asarray(curve_of(circumstances).t_bubble(p_high))


def superheat(_: Circumstances, t_evaporating: FloatArray, t_suction: FloatArray) -> FloatArray:
    """Superheat of the suction gas: ``t_suction - t_dew(p_suction)`` [K, K -> K].

    Examples
    --------
    R22 at 65 psig saturates near 38 °F, so a suction line at 50 °F carries about 12 °F of superheat
    (common practice, no source):

    >>> from analysis.saturation import refrigerant
    >>> r22 = Circumstances(refrigerant("R22"))
    >>> p, t = np.array([65.0 * 6894.757 + 101325.0]), np.array([(50.0 - 32.0) / 1.8 + 273.15])
    >>> round(float(superheat(r22, evaporating_temperature(r22, p), t)[0]) * 1.8, 1)
    12.5
    """
    return t_suction - t_evaporating


def subcooling(_: Circumstances, t_condensing: FloatArray, t_liquid: FloatArray) -> FloatArray:
    """Subcooling of the liquid: ``t_bubble(p_high) - t_liquid`` [K, K -> K].

    Examples
    --------
    >>> from analysis.saturation import refrigerant
    >>> hall = Circumstances(refrigerant("R410A"))
    >>> bubble = condensing_temperature(hall, np.array([2553320.0]))
    >>> round(float(subcooling(hall, bubble, np.array([303.75]))[0]), 1)
    11.5
    """
    return t_condensing - t_liquid


def discharge_superheat(
    circumstances: Circumstances, p_discharge: FloatArray, t_discharge: FloatArray
) -> FloatArray:
    """Superheat of the discharge gas: ``t_discharge - t_dew(p_discharge)`` [Pa, K -> K]."""
    curve = curve_of(circumstances)
    return np.asarray(refrigerant_side.discharge_superheat(curve, p_discharge, t_discharge))


def compression_ratio(_: Circumstances, p_discharge: FloatArray, p_suction: FloatArray) -> FloatArray:
    """Compression ratio of absolute pressures, ``p_discharge / p_suction`` [Pa, Pa -> 1]."""
    return np.asarray(refrigerant_side.compression_ratio(p_suction, p_discharge))
