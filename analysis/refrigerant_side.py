"""Refrigerant-side quantities: compression ratio, approaches, discharge superheat and the cycle.

Temperatures of saturation are arguments, so that the caller decides and states whether dew, bubble or their
mean is meant. Enthalpies come from :mod:`analysis.states`; what follows from
them is in :mod:`analysis.performance`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from analysis.elementwise import FloatOrArray, elementwise, only_where
from analysis.states import SinglePhase


class _DewLine(Protocol):
    def t_dew(self, p: FloatOrArray, /) -> FloatOrArray: ...


@elementwise
def compression_ratio(p_suction: FloatOrArray, p_discharge: FloatOrArray) -> FloatOrArray:
    """Compression ratio p_discharge / p_suction, both absolute.

    Parameters
    ----------
    p_suction, p_discharge
        Absolute pressures [Pa].

    Returns
    -------
    FloatOrArray
        Ratio [1]; NaN when the discharge is below the suction, which no running compressor shows.

    Examples
    --------
    >>> round(compression_ratio(134.17 * 6894.757, 282.75 * 6894.757), 3)
    2.107
    """
    p_suction, p_discharge = np.asarray(p_suction), np.asarray(p_discharge)
    return only_where((p_suction > 0) & (p_discharge >= p_suction), p_discharge / p_suction)


@elementwise
def discharge_superheat(
    fluid: _DewLine, p_discharge: FloatOrArray, t_discharge: FloatOrArray
) -> FloatOrArray:
    """Discharge superheat t_discharge - t_dew(p_discharge).

    Parameters
    ----------
    fluid
        The refrigerant's saturation.
    p_discharge
        Absolute discharge pressure [Pa].
    t_discharge
        Discharge line temperature [K].

    Returns
    -------
    FloatOrArray
        Superheat [K].

    Examples
    --------
    >>> from analysis.saturation import refrigerant
    >>> sh = discharge_superheat(refrigerant("R410A"), 282.75 * 6894.757, (133.51 + 459.67) * 5 / 9)
    >>> round(sh * 9 / 5, 1)
    45.1
    """
    return np.asarray(t_discharge) - fluid.t_dew(p_discharge)


@elementwise
def suction_line_gain(t_coil_outlet: FloatOrArray, t_compressor_inlet: FloatOrArray) -> FloatOrArray:
    """Temperature that the gas gains between coil and compressor.

    Superheat at the coil and at the compressor differ by it, so the place of the probe must be known.

    Parameters
    ----------
    t_coil_outlet, t_compressor_inlet
        Gas temperatures [K].

    Returns
    -------
    FloatOrArray
        Gain [K].

    Examples
    --------
    >>> round(suction_line_gain(286.22, 288.16), 2)
    1.94
    """
    return np.asarray(t_compressor_inlet) - t_coil_outlet


@elementwise
def condensing_approach(t_condensing: FloatOrArray, t_leaving: FloatOrArray) -> FloatOrArray:
    """Condensing temperature less leaving liquid temperature.

    Parameters
    ----------
    t_condensing
        Condensing temperature; state whether bubble, dew or mean [K].
    t_leaving
        Leaving water temperature [K].

    Returns
    -------
    FloatOrArray
        Approach [K]; a negative value is left for the guards to judge.

    Examples
    --------
    >>> round(condensing_approach(311.483, 294.261) * 9 / 5, 1)
    31.0
    """
    return np.asarray(t_condensing) - t_leaving


@elementwise
def evaporating_approach(t_leaving: FloatOrArray, t_evaporating: FloatOrArray) -> FloatOrArray:
    """Leaving liquid temperature less evaporating temperature.

    Parameters
    ----------
    t_leaving
        Leaving water temperature [K].
    t_evaporating
        Evaporating temperature; state whether dew or mean [K].

    Returns
    -------
    FloatOrArray
        Approach [K]; a negative value is left for the guards to judge.

    Examples
    --------
    >>> round(evaporating_approach(270.75, 264.95), 1)
    5.8
    """
    return np.asarray(t_leaving) - t_evaporating


@dataclass(frozen=True, slots=True)
class Cycle:
    """Enthalpies of the four corners of the cycle [J/kg] and the suction gas density [kg/m3]."""

    h_suction: FloatOrArray
    h_discharge: FloatOrArray
    h_discharge_isentropic: FloatOrArray
    h_liquid: FloatOrArray
    rho_suction: FloatOrArray


def cycle(
    states: SinglePhase,
    *,
    p_suction: FloatOrArray,
    t_suction: FloatOrArray,
    p_discharge: FloatOrArray,
    t_discharge: FloatOrArray,
    p_liquid: FloatOrArray,
    t_liquid: FloatOrArray,
) -> Cycle:
    """Work out the cycle from pressures and line temperatures.

    Parameters
    ----------
    states
        Single-phase properties of the refrigerant.
    p_suction, p_discharge, p_liquid
        Absolute pressures [Pa].
    t_suction, t_discharge, t_liquid
        Line temperatures [K].

    Returns
    -------
    Cycle
        What is not known (no superheat, no subcooling, a missing reading) is NaN in its place only.

    Examples
    --------
    >>> from analysis.saturation import refrigerant
    >>> hall = cycle(
    ...     SinglePhase(refrigerant("R410A")), p_suction=683e3, t_suction=274.45, p_discharge=2379e3,
    ...     t_discharge=350.15, p_liquid=2379e3, t_liquid=307.15)
    >>> round((hall.h_discharge - hall.h_liquid) / 1e3)
    222
    """
    t_isentropic = states.isentropic_temperature(p_suction, t_suction, p_discharge)
    return Cycle(
        h_suction=states.gas("enthalpy", p_suction, t_suction),
        h_discharge=states.gas("enthalpy", p_discharge, t_discharge),
        h_discharge_isentropic=states.gas("enthalpy", p_discharge, t_isentropic),
        h_liquid=states.liquid("enthalpy", p_liquid, t_liquid),
        rho_suction=states.gas("density", p_suction, t_suction),
    )
