"""Enthalpy of superheated gas and subcooled liquid from shipped tables, without the property library.

On the side of the gas ``h(p, t) = h_dew(p) + G(ln p, t - t_dew(p))``, on that of the liquid
``h(p, t) = h_bubble(p) - L(ln p, t_bubble(p) - t)``. G and L are Chebyshev series in two variables, fitted
to the library's single-phase states (:mod:`analysis.states`) by tests/generate_phase_tables.py; each table
states its largest deviation. They serve where a program must stay quick: to draw the circuit beside the
saturation dome. What is worked out from a cycle in batch goes on asking the library itself.
"""

from __future__ import annotations

import importlib
from typing import Protocol

import numpy as np
from numpy.polynomial import chebyshev

from analysis.elementwise import FloatArray, FloatOrArray
from analysis.refrigerants import table_module

EDGE_K = 2e-3
"""A temperature may lie on the wrong side of saturation by so much, so that saturation itself counts."""
HOTTEST_K = 500.0


class Saturated(Protocol):
    """What this module needs of :class:`analysis.saturation.Refrigerant`."""

    @property
    def name(self) -> str:
        """Canonical name."""

    @property
    def p_min(self) -> float:
        """Lowest pressure of the saturation curves [Pa]."""

    def t_dew(self, p: FloatArray, /) -> FloatArray:
        """Dew temperature [Pa -> K]."""

    def t_bubble(self, p: FloatArray, /) -> FloatArray:
        """Bubble temperature [Pa -> K]."""

    def h_dew(self, p: FloatArray, /) -> FloatArray:
        """Enthalpy of saturated vapour [Pa -> J/kg]."""

    def h_bubble(self, p: FloatArray, /) -> FloatArray:
        """Enthalpy of saturated liquid [Pa -> J/kg]."""


class PhaseEnthalpy:
    """Single-phase enthalpies of one refrigerant; saturated liquid at 0 degC has 200 kJ/kg.

    Parameters
    ----------
    fluid
        Its saturation, from :func:`analysis.saturation.refrigerant`.

    Attributes
    ----------
    p_max
        Highest pressure of the tables [Pa]: 0.8 of the critical pressure.
    gas_width, liquid_width
        Largest superheat and subcooling of the tables [K].
    gas_error, liquid_error
        Largest deviation from the property library [J/kg].

    Raises
    ------
    ModuleNotFoundError
        For a refrigerant that has no such table, such as one from a maker's pressure-temperature table.

    Examples
    --------
    >>> from analysis.saturation import refrigerant
    >>> r410a = PhaseEnthalpy(refrigerant("R410A"))
    >>> abs(r410a.gas(686e3, 273.75) - 425.5e3) < r410a.gas_error + 50.0  # the library gives 425.5 kJ/kg
    True
    >>> r410a.gas(686e3, 260.0)  # colder than its dew temperature: not a gas
    nan
    """

    def __init__(self, fluid: Saturated) -> None:
        table = importlib.import_module(f"analysis.phase_tables.{table_module(fluid.name)}")
        self._fluid = fluid
        self.p_max: float = table.P_MAX
        self.gas_width: float = table.GAS_WIDTH
        self.liquid_width: float = table.LIQUID_WIDTH
        self.gas_error: float = table.GAS_ERROR
        self.liquid_error: float = table.LIQUID_ERROR
        self._coldest = float(fluid.t_bubble(np.asarray(fluid.p_min)))
        self._gas = np.asarray(table.GAS)
        self._liquid = np.asarray(table.LIQUID)

    def gas(self, p: FloatOrArray, t: FloatOrArray) -> FloatOrArray:
        """Give the enthalpy of superheated gas [Pa, K -> J/kg]; NaN where it is no gas or out of range."""
        p, t = np.broadcast_arrays(np.asarray(p, np.float64), np.asarray(t, np.float64))
        over = t - np.asarray(self._fluid.t_dew(p))
        rise = _series(self._gas, p, over, self._ends, self.gas_width)
        return _kept(np.asarray(self._fluid.h_dew(p)) + rise, t <= HOTTEST_K)

    def liquid(self, p: FloatOrArray, t: FloatOrArray) -> FloatOrArray:
        """Give the enthalpy of subcooled liquid [Pa, K -> J/kg]; NaN where it may carry gas."""
        p, t = np.broadcast_arrays(np.asarray(p, np.float64), np.asarray(t, np.float64))
        under = np.asarray(self._fluid.t_bubble(p)) - t
        fall = _series(self._liquid, p, under, self._ends, self.liquid_width)
        return _kept(np.asarray(self._fluid.h_bubble(p)) - fall, t >= self._coldest)

    @property
    def _ends(self) -> tuple[float, float]:
        return self._fluid.p_min, self.p_max


def _kept(h: FloatArray, known: np.ndarray) -> FloatOrArray:
    h = np.where(known, h, np.nan)
    return float(h) if h.ndim == 0 else h


def scaled(
    p: FloatArray, away: FloatArray, ends: tuple[float, float], width: float
) -> tuple[FloatArray, FloatArray]:
    """Map ln p and the distance from saturation on -1 to +1."""
    low, high = np.log(ends[0]), np.log(ends[1])
    return 2.0 * (np.log(p) - low) / (high - low) - 1.0, 2.0 * away / width - 1.0


def _series(
    series: FloatArray, p: FloatArray, away: FloatArray, ends: tuple[float, float], width: float
) -> FloatArray:
    with np.errstate(invalid="ignore", divide="ignore"):
        known = (p >= ends[0]) & (p <= ends[1]) & (away >= -EDGE_K) & (away <= width)
        x, y = scaled(np.where(known, p, ends[0]), np.where(known, away, 0.0), ends, width)
    return np.where(known, chebyshev.chebval2d(x, y, series), np.nan)
