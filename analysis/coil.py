"""The refrigerant-to-liquid coil as a heat exchanger: LMTD, effectiveness, NTU, UA and fouling resistance.

The refrigerant side is taken at one saturation temperature (state whether dew, bubble or their mean). The
zones of superheat and subcooling are ignored, so UA is a number to follow and to compare like with like, not
a design value.
"""

from __future__ import annotations

import numpy as np

from analysis.elementwise import FloatOrArray, elementwise, only_where
from analysis.liquids import Liquid

UA_FLOW_EXPONENT = 0.6
"""How UA of a whole coil follows liquid flow, UA ~ q_v ** 0.6 (common practice, no source; 0.5 to 0.8)."""


@elementwise
def lmtd(difference_one_end: FloatOrArray, difference_other_end: FloatOrArray) -> FloatOrArray:
    """Logarithmic mean temperature difference (a - b) / ln(a / b).

    Parameters
    ----------
    difference_one_end, difference_other_end
        Temperature differences at both ends of the coil, both positive [K].

    Returns
    -------
    FloatOrArray
        LMTD [K]; NaN when the temperatures cross.

    Examples
    --------
    >>> round(lmtd(28.0, 17.4), 3)
    22.281
    >>> lmtd(5.0, 5.0)
    5.0
    """
    a, b = np.asarray(difference_one_end), np.asarray(difference_other_end)
    # With x = ln(a/b) / 2 the mean is sqrt(a b) sinh(x) / x: exact also where a and b are nearly equal.
    x = np.log(a / b) / 2
    small = np.abs(x) < 1e-4
    shape = np.where(small, 1 + x**2 / 6, np.sinh(x) / np.where(small, 1.0, x))
    return only_where((a > 0) & (b > 0), np.where(a == b, a, np.sqrt(a * b) * shape))


@elementwise
def coil_lmtd(t_entering: FloatOrArray, t_leaving: FloatOrArray, t_saturation: FloatOrArray) -> FloatOrArray:
    """LMTD of a coil whose refrigerant side has one temperature.

    Parameters
    ----------
    t_entering, t_leaving
        Liquid temperatures [K].
    t_saturation
        Condensing or evaporating temperature [K].

    Returns
    -------
    FloatOrArray
        LMTD [K]; NaN when the saturation temperature lies between or on the wrong side of the liquid's.

    Examples
    --------
    >>> t = [(f + 459.67) * 5 / 9 for f in (70.0, 80.6, 98.0)]
    >>> round(coil_lmtd(*t) * 9 / 5, 3)
    22.281
    """
    entering, leaving = np.asarray(t_entering), np.asarray(t_leaving)
    sign = np.where(np.asarray(t_saturation) > entering, 1.0, -1.0)
    right_way = sign * (leaving - entering) >= 0
    return only_where(right_way, lmtd(sign * (t_saturation - entering), sign * (t_saturation - leaving)))


@elementwise
def effectiveness(
    t_entering: FloatOrArray, t_leaving: FloatOrArray, t_saturation: FloatOrArray
) -> FloatOrArray:
    """Effectiveness (t_leaving - t_entering) / (t_saturation - t_entering).

    Parameters
    ----------
    t_entering, t_leaving
        Liquid temperatures [K].
    t_saturation
        Condensing or evaporating temperature [K].

    Returns
    -------
    FloatOrArray
        Effectiveness [1]; NaN unless from 0 up to, not including, 1.

    Examples
    --------
    >>> round(effectiveness(294.261, 300.150, 309.817), 4)
    0.3786
    """
    entering = np.asarray(t_entering)
    value = (np.asarray(t_leaving) - entering) / (np.asarray(t_saturation) - entering)
    return only_where((value >= 0) & (value < 1), value)


@elementwise
def ntu_from_effectiveness(effectiveness: FloatOrArray) -> FloatOrArray:
    """Give the number of transfer units (NTU) with one side at constant temperature, -ln(1 - effectiveness).

    Parameters
    ----------
    effectiveness
        From 0 up to, not including, 1.

    Returns
    -------
    FloatOrArray
        NTU [1].

    Examples
    --------
    >>> round(ntu_from_effectiveness(0.37857), 4)
    0.4757
    """
    value = np.asarray(effectiveness)
    return only_where((value >= 0) & (value < 1), -np.log1p(-value))


@elementwise
def effectiveness_from_ntu(ntu: FloatOrArray) -> FloatOrArray:
    """Effectiveness with one side at constant temperature, 1 - exp(-NTU).

    Parameters
    ----------
    ntu
        Not negative [1].

    Returns
    -------
    FloatOrArray
        Effectiveness [1].

    Examples
    --------
    >>> round(effectiveness_from_ntu(0.4757), 4)
    0.3786
    """
    value = np.asarray(ntu)
    return only_where(value >= 0, -np.expm1(-value))


@elementwise
def ua_from_lmtd(heat: FloatOrArray, mean_difference: FloatOrArray) -> FloatOrArray:
    """Conductance UA = |Q| / LMTD.

    Parameters
    ----------
    heat
        Heat rate of the coil, either sign [W].
    mean_difference
        LMTD, above zero [K].

    Returns
    -------
    FloatOrArray
        UA [W/K].

    Examples
    --------
    47 700 Btu/h over 22.281 degF are 2140.8 Btu/(h degF):

    >>> round(ua_from_lmtd(47700.0, 22.281), 1)
    2140.8
    """
    mean_difference = np.asarray(mean_difference)
    return only_where(mean_difference > 0, np.abs(heat) / mean_difference)


@elementwise
def ua_from_ntu(
    liquid: Liquid,
    q_v: FloatOrArray,
    t_entering: FloatOrArray,
    t_leaving: FloatOrArray,
    t_saturation: FloatOrArray,
) -> FloatOrArray:
    """Conductance UA = NTU rho q_v c_p, without the heat having been worked out.

    Parameters
    ----------
    liquid
        What flows.
    q_v
        Volume flow, above zero [m3/s].
    t_entering, t_leaving
        Liquid temperatures [K].
    t_saturation
        Condensing or evaporating temperature [K].

    Returns
    -------
    FloatOrArray
        UA [W/K].

    Examples
    --------
    The hall's evaporator, as left: 1.4 kW/K.

    >>> loop = Liquid("propylene_glycol", mass_fraction=0.25)
    >>> round(ua_from_ntu(loop, 0.60e-3, 277.15, 273.25, 268.35), -1)
    1400.0
    """
    q_v = np.asarray(q_v)
    t_mean = (np.asarray(t_entering) + t_leaving) / 2
    capacity = np.asarray(liquid.density(t_mean)) * q_v * liquid.specific_heat(t_mean)
    ntu = np.asarray(ntu_from_effectiveness(effectiveness(t_entering, t_leaving, t_saturation)))
    return only_where(q_v > 0, ntu * capacity)


@elementwise
def ua_at_flow(
    ua_reference: FloatOrArray,
    q_v_reference: FloatOrArray,
    q_v: FloatOrArray,
    exponent: FloatOrArray = UA_FLOW_EXPONENT,
) -> FloatOrArray:
    """UA that a reference measured at another flow leads to expect: UA (q_v / q_v_reference) ** exponent.

    Parameters
    ----------
    ua_reference
        UA at the reference flow [W/K].
    q_v_reference, q_v
        Flows, above zero [m3/s].
    exponent
        See :data:`UA_FLOW_EXPONENT` [1].

    Returns
    -------
    FloatOrArray
        UA [W/K].

    Examples
    --------
    >>> round(ua_at_flow(1396.0, 0.60, 0.33))
    975
    """
    ua, reference, q_v = map(np.asarray, (ua_reference, q_v_reference, q_v))
    return only_where((ua > 0) & (reference > 0) & (q_v > 0), ua * np.power(q_v / reference, exponent))


@elementwise
def fouling_resistance(ua: FloatOrArray, ua_clean: FloatOrArray, area: FloatOrArray = 1.0) -> FloatOrArray:
    """Fouling resistance against a clean reference: R_f = A (1 / UA - 1 / UA_clean).

    Both must be at the same liquid flow (:func:`ua_at_flow`).

    Parameters
    ----------
    ua, ua_clean
        Conductances, above zero [W/K].
    area
        Surface of the coil [m2]; 1 gives the resistance of the whole coil [K/W].

    Returns
    -------
    FloatOrArray
        Resistance [m2 K/W]; slightly negative for a coil as clean as its reference.

    Examples
    --------
    The bakery's coil, UA in Btu/(h degF): scaled 981, flushed 1609.

    >>> round(fouling_resistance(981.0, 1609.0) * 1e4, 2)
    3.98
    """
    ua, ua_clean, area = np.asarray(ua), np.asarray(ua_clean), np.asarray(area)
    return only_where((ua > 0) & (ua_clean > 0) & (area > 0), area * (1 / ua - 1 / ua_clean))


@elementwise
def saturation_temperature(
    ua: FloatOrArray, capacity_rate: FloatOrArray, t_entering: FloatOrArray, heat_to_liquid: FloatOrArray
) -> FloatOrArray:
    """Condensing or evaporating temperature that a coil needs to move a heat: what scale costs.

    t_saturation = t_entering + Q / (C (1 - exp(-UA / C)))

    Parameters
    ----------
    ua
        Conductance, above zero [W/K].
    capacity_rate
        q_m c_p of the liquid, above zero [W/K].
    t_entering
        Entering liquid temperature [K].
    heat_to_liquid
        Heat that the liquid takes [W]; negative for an evaporating coil.

    Returns
    -------
    FloatOrArray
        Saturation temperature [K].

    Examples
    --------
    >>> round(saturation_temperature(2140.8, 4500.0, 70.0 + 459.67, 47700.0) - 459.67, 1)
    98.0
    """
    ua, capacity_rate = np.asarray(ua), np.asarray(capacity_rate)
    moved = np.asarray(heat_to_liquid) / (capacity_rate * effectiveness_from_ntu(ua / capacity_rate))
    return only_where((ua > 0) & (capacity_rate > 0), np.asarray(t_entering) + moved)
