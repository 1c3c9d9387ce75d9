"""What the machine performs: refrigerant flow, compressor efficiencies, COP, EER and heat of the load."""

from __future__ import annotations

import numpy as np

from analysis.elementwise import FloatOrArray, elementwise, only_where

_BTU_PER_H = 0.29307107017222222  # Btu(IT)/h in W


@elementwise
def refrigerant_mass_flow(heat: FloatOrArray, h_warm: FloatOrArray, h_cold: FloatOrArray) -> FloatOrArray:
    """Refrigerant mass flow from the heat of one coil: q_m = |Q| / (h_warm - h_cold).

    Parameters
    ----------
    heat
        Heat rate of the coil [W], either sign.
    h_warm, h_cold
        Enthalpies at its gas and liquid end [J/kg]: discharge and liquid line of a condensing coil, suction
        and liquid line of an evaporating one.

    Returns
    -------
    FloatOrArray
        Mass flow [kg/s]; NaN unless h_warm is above h_cold.

    Examples
    --------
    >>> round(refrigerant_mass_flow(-12100.0, 470e3, 256e3), 4)
    0.0565
    """
    difference = np.asarray(h_warm) - h_cold
    return only_where(difference > 0, np.abs(heat) / difference)


@elementwise
def isentropic_efficiency(
    h_suction: FloatOrArray, h_discharge: FloatOrArray, h_discharge_isentropic: FloatOrArray
) -> FloatOrArray:
    """Isentropic efficiency (h_discharge_isentropic - h_suction) / (h_discharge - h_suction).

    Heat that the shell gives off lets it come out too high; above 1 a reading or the refrigerant is wrong.

    Parameters
    ----------
    h_suction, h_discharge, h_discharge_isentropic
        Enthalpies [J/kg].

    Returns
    -------
    FloatOrArray
        Efficiency [1]; NaN unless both enthalpy differences are positive.

    Examples
    --------
    >>> round(isentropic_efficiency(427e3, 477e3, 461e3), 2)
    0.68
    """
    ideal = np.asarray(h_discharge_isentropic) - h_suction
    real = np.asarray(h_discharge) - h_suction
    return only_where((ideal > 0) & (real > 0), ideal / real)


@elementwise
def volumetric_efficiency(
    q_m: FloatOrArray, rho_suction: FloatOrArray, displacement: FloatOrArray
) -> FloatOrArray:
    """Volumetric efficiency q_m / (rho_suction displacement).

    Parameters
    ----------
    q_m
        Refrigerant mass flow [kg/s], not negative.
    rho_suction
        Density of the suction gas at the compressor [kg/m3].
    displacement
        Swept volume per second [m3/s], from the plate or the maker.

    Returns
    -------
    FloatOrArray
        Efficiency [1].

    Examples
    --------
    >>> round(volumetric_efficiency(0.0565, 25.6, 8.68 / 3600), 3)
    0.915
    """
    q_m, rho_suction, displacement = map(np.asarray, (q_m, rho_suction, displacement))
    possible = (q_m >= 0) & (rho_suction > 0) & (displacement > 0)
    return only_where(possible, q_m / (rho_suction * displacement))


@elementwise
def compressor_power_ratio(
    q_m: FloatOrArray, h_suction: FloatOrArray, h_discharge: FloatOrArray, power: FloatOrArray
) -> FloatOrArray:
    """Part of the electrical power found in the gas: q_m (h_discharge - h_suction) / power.

    Sixteen laboratory tests (NISTIR 7350) give 0.82 to 0.89. Above 1 or below 0.6 a probe, the flow or the
    refrigerant is wrong.

    Parameters
    ----------
    q_m
        Refrigerant mass flow [kg/s], not negative.
    h_suction, h_discharge
        Enthalpies [J/kg].
    power
        Electrical power of the compressor [W], above zero.

    Returns
    -------
    FloatOrArray
        Ratio [1].

    Examples
    --------
    >>> round(compressor_power_ratio(0.0565, 427e3, 470e3, 2960.0), 2)
    0.82
    """
    q_m, power = np.asarray(q_m), np.asarray(power)
    rise = np.asarray(h_discharge) - h_suction
    return only_where((q_m >= 0) & (power > 0) & (rise > 0), q_m * rise / power)


@elementwise
def cop(useful_heat: FloatOrArray, power: FloatOrArray) -> FloatOrArray:
    """Coefficient of performance: useful heat over electrical power; name which power is meant.

    Parameters
    ----------
    useful_heat
        Heat given to (heating) or taken from (cooling) the load, as a positive number [W].
    power
        Electrical power [W], above zero: compressor only, or with fan and pump.

    Returns
    -------
    FloatOrArray
        COP [1].

    Examples
    --------
    >>> round(cop(35300 * 0.29307107, 2740.0), 3)
    3.776
    """
    useful_heat, power = np.asarray(useful_heat), np.asarray(power)
    return only_where((useful_heat >= 0) & (power > 0), useful_heat / power)


@elementwise
def eer(cooling: FloatOrArray, power: FloatOrArray) -> FloatOrArray:
    """Energy efficiency ratio: cooling in Btu/h over electrical power in W.

    Parameters
    ----------
    cooling
        Heat taken from the load, as a positive number [W].
    power
        Electrical power [W], above zero; name which.

    Returns
    -------
    FloatOrArray
        EER [Btu/(W h)].

    Examples
    --------
    >>> round(eer(28191 * 0.29307107, 2063.0), 2)
    13.67
    """
    return np.asarray(cop(cooling, power)) / _BTU_PER_H


@elementwise
def load_heat(source_heat: FloatOrArray, power: FloatOrArray) -> FloatOrArray:
    """Heat of the load from heat of the source and the power that ends in the refrigerant.

    The refrigerant keeps nothing: heat from the source (positive when extracted) + power = heat to the load.

    Parameters
    ----------
    source_heat
        Heat into the refrigerant on the source side [W]: positive heating, negative cooling.
    power
        Electrical power that ends in refrigerant or load [W], not negative.

    Returns
    -------
    FloatOrArray
        Heat to the load [W]: positive heating, negative cooling.

    Examples
    --------
    >>> round(load_heat(9300.0, 2960.0)), round(load_heat(-10550.0, 2130.0))
    (12260, -8420)
    """
    power = np.asarray(power)
    return only_where(power >= 0, np.asarray(source_heat) + power)
