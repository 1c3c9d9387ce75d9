"""Derived values of the water sides, as the registry calls them: flow, heat, approach, COP, balance.

Heat into the refrigerant counts positive. Names say the direction in which a value is positive in normal
running: heat *from* the source and *to* the load in heating, *to* the source and *from* the load in cooling.
"""

from __future__ import annotations

import numpy as np

from analysis import refrigerant_side
from analysis.circumstances import Circumstances
from analysis.elementwise import FloatArray
from analysis.heat_balance import closure
from analysis.liquids import Liquid
from analysis.performance import cop
from analysis.water import freeze_margin, heat_from_liquid

FLOW_EXPONENT = (1.8, 0.125)
"""Exponent of pressure drop over flow and its standard uncertainty: 1.59 to 2.13 over the tables of eight
water-to-air units, median 1.8; stated as 1.8 +- 0.25 (k = 2)."""
Parameters = tuple[tuple[float, float], ...]
"""Quantities that come from no reading, each with its standard uncertainty."""
U_RATED = 0.025
"""Standard uncertainty of a rated point's flow, relative: makers' tables are taken as good to 5 % (k = 2).
Our choice, no source."""
LEAST_DROP, MOST_DROP = 0.1, 4.0
"""Beyond these fractions of the rated drop one rated point says nothing."""


def entering_less_leaving(_: Circumstances, t_entering: FloatArray, t_leaving: FloatArray) -> FloatArray:
    """Delta-T, entering less leaving [K, K -> K]: a drop is positive, a rise negative."""
    return t_entering - t_leaving


def source_flow(
    circumstances: Circumstances, reading: FloatArray, exponent: FloatArray, rated: FloatArray
) -> FloatArray:
    """Source flow from its meter, or from the coil's pressure drop and its rated point [m3/s].

    Formula: ``q = rated q_rated (dp / dp_rated)^(1/n)``, where ``rated`` is 1 and carries the uncertainty of
    the rated point.

    Examples
    --------
    The hall's coil, 28.8 kPa at 0.60 L/s, shows 9.8 kPa:

    >>> from analysis.circumstances import RatedCoil
    >>> hall = Circumstances(source_coil=RatedCoil(0.60e-3, 28.8e3), fed_by=("source_pressure_drop",))
    >>> round(float(source_flow(hall, np.array([9.8e3]), np.array([1.8]), np.array([1.0]))[0]) * 1e3, 2)
    0.33
    """
    if circumstances.fed_by[0] == "source_flow":
        return np.where(reading >= 0.0, reading, np.nan)
    coil = circumstances.source_coil
    assert coil is not None, "a pressure drop feeds a flow only where the coil is declared"
    ratio = reading / coil.dp
    known = (ratio >= LEAST_DROP) & (ratio <= MOST_DROP)
    with np.errstate(invalid="ignore"):
        return np.where(
            known, rated * coil.q_v * np.power(np.where(known, ratio, 1.0), 1.0 / exponent), np.nan
        )


def flow_parameters(circumstances: Circumstances) -> Parameters:
    """Give exponent and rated point with their uncertainties; a meter does not use them."""
    share = 0.0 if circumstances.fed_by[0] == "source_flow" else 1.0
    return ((FLOW_EXPONENT[0], share * FLOW_EXPONENT[1]), (1.0, share * U_RATED))


def _of_liquid(liquid: Liquid | None) -> tuple[float, float]:
    """Give the factor by which the liquid's heat capacity may be wrong, with its uncertainty."""
    return (1.0, liquid.u_heat_capacity if liquid is not None else np.nan)


def source_capacity(circumstances: Circumstances) -> Parameters:
    """Give the factor of the source liquid's heat capacity."""
    return (_of_liquid(circumstances.source_liquid),)


def load_capacity(circumstances: Circumstances) -> Parameters:
    """Give the factor of the load liquid's heat capacity."""
    return (_of_liquid(circumstances.load_liquid),)


def freezing_shift(circumstances: Circumstances) -> Parameters:
    """Give by how much the freezing point may lie elsewhere [K], with its uncertainty."""
    liquid = circumstances.source_liquid
    return ((0.0, liquid.u_freezing_point if liquid is not None else np.nan),)


def _heat(liquid: Liquid | None, q_v: FloatArray, t_in: FloatArray, t_out: FloatArray) -> FloatArray:
    assert liquid is not None, "a row of the registry lacks its need"
    return np.asarray(heat_from_liquid(liquid, q_v, t_in, t_out))


def heat_from_source(
    circumstances: Circumstances, q_v: FloatArray, t_in: FloatArray, t_out: FloatArray, capacity: FloatArray
) -> FloatArray:
    """Heat that the source water gives to the refrigerant, ``rho q c_p (t_in - t_out)`` [W]."""
    return capacity * _heat(circumstances.source_liquid, q_v, t_in, t_out)


def heat_to_source(
    circumstances: Circumstances, q_v: FloatArray, t_in: FloatArray, t_out: FloatArray, capacity: FloatArray
) -> FloatArray:
    """Heat that the source water takes up, ``rho q c_p (t_out - t_in)`` [W]."""
    return -heat_from_source(circumstances, q_v, t_in, t_out, capacity)


def heat_from_load(
    circumstances: Circumstances, q_v: FloatArray, t_in: FloatArray, t_out: FloatArray, capacity: FloatArray
) -> FloatArray:
    """Heat that the load water gives to the refrigerant [W]."""
    return capacity * _heat(circumstances.load_liquid, q_v, t_in, t_out)


def heat_to_load(
    circumstances: Circumstances, q_v: FloatArray, t_in: FloatArray, t_out: FloatArray, capacity: FloatArray
) -> FloatArray:
    """Heat that the load water takes up [W]."""
    return -heat_from_load(circumstances, q_v, t_in, t_out, capacity)


def evaporating_approach(_: Circumstances, t_evaporating: FloatArray, t_leaving: FloatArray) -> FloatArray:
    """Approach of the evaporating source coil, leaving water less evaporating temperature [K, K -> K]."""
    return np.asarray(refrigerant_side.evaporating_approach(t_leaving, t_evaporating))


def condensing_approach(_: Circumstances, t_condensing: FloatArray, t_leaving: FloatArray) -> FloatArray:
    """Approach of the condensing source coil, condensing temperature less leaving water [K, K -> K]."""
    return np.asarray(refrigerant_side.condensing_approach(t_condensing, t_leaving))


def evaporating_freeze_margin(
    circumstances: Circumstances, t_evaporating: FloatArray, shift: FloatArray
) -> FloatArray:
    """How far evaporation stays above the freezing point of the source liquid [K -> K]."""
    liquid = circumstances.source_liquid
    assert liquid is not None, "a row of the registry lacks its need"
    return np.asarray(freeze_margin(liquid, t_evaporating)) - shift


def cop_heating(_: Circumstances, heat_to_load: FloatArray, power: FloatArray) -> FloatArray:
    """COP of the compressor alone in heating: heat to the load over compressor power [1]."""
    return np.asarray(cop(heat_to_load, power))


def balance_heating(
    _: Circumstances, heat_from_source: FloatArray, heat_to_load: FloatArray, power: FloatArray
) -> FloatArray:
    """Heat balance in heating: ``(to load - from source - power) / to load`` [1].

    Near zero where all probes tell the truth; the compressor's shell loss makes it slightly negative.
    """
    return np.asarray(closure(heat_to_load, heat_from_source, power))
