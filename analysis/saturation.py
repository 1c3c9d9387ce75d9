"""Saturation of refrigerants: temperature, pressure, density and enthalpy on the dew and bubble lines.

The curves are generated modules under ``analysis/tables``, fitted to published equations of state (each
module names its own, with the largest error measured). One value is worked out in plain Python without
loading numpy; an array is worked out in blocks, each element by itself: its value does not depend on its
neighbours.

Superheat = t_suction_line - t_dew(p_suction). Subcooling = t_bubble(p_liquid) - t_liquid_line. The mean of
a blend's two temperatures serves neither.
"""

from __future__ import annotations

import importlib
from typing import Protocol

from analysis.chebyshev import FloatOrArray, PiecewiseSeries
from analysis.refrigerants import (
    SAFETY_CLASSES,
    RefusedRefrigerant,
    UnknownRefrigerant,
    canonical_name,
    table_module,
)

__all__ = [
    "FloatOrArray",
    "Refrigerant",
    "RefusedRefrigerant",
    "SaturationCurve",
    "UnknownRefrigerant",
    "names",
    "refrigerant",
]


class SaturationCurve(Protocol):
    """What a refrigerant's saturation must answer, from an equation of state or a maker's table.

    SI units throughout, pressure absolute; every function takes a float or a float64 array and gives the same
    shape back, NaN where the argument is NaN or out of range.
    """

    @property
    def name(self) -> str:
        """Name shown to the person."""

    @property
    def safety_class(self) -> str | None:
        """Safety class by ISO 817, such as A2L; None when not stated."""

    @property
    def source(self) -> str:
        """Where the figures come from, in one line."""

    @property
    def p_min(self) -> float:
        """Lowest pressure covered [Pa]."""

    @property
    def p_max(self) -> float:
        """Highest pressure covered [Pa]."""

    def t_dew(self, p: FloatOrArray, /) -> FloatOrArray:
        """Give the dew temperature, at which the last drop of liquid has evaporated [Pa -> K]."""
        ...

    def t_bubble(self, p: FloatOrArray, /) -> FloatOrArray:
        """Give the bubble temperature, at which the first bubble of vapour appears [Pa -> K]."""
        ...

    def p_dew(self, t: FloatOrArray, /) -> FloatOrArray:
        """Give the pressure at which a temperature is the dew temperature [K -> Pa]."""
        ...

    def p_bubble(self, t: FloatOrArray, /) -> FloatOrArray:
        """Give the pressure at which a temperature is the bubble temperature [K -> Pa]."""
        ...

    def rho_dew(self, p: FloatOrArray, /) -> FloatOrArray:
        """Give the density of saturated vapour (on the dew line) [Pa -> kg/m3]."""
        ...

    def rho_bubble(self, p: FloatOrArray, /) -> FloatOrArray:
        """Give the density of saturated liquid (on the bubble line) [Pa -> kg/m3]."""
        ...

    def h_dew(self, p: FloatOrArray, /) -> FloatOrArray:
        """Give the specific enthalpy of saturated vapour (on the dew line) [Pa -> J/kg]."""
        ...

    def h_bubble(self, p: FloatOrArray, /) -> FloatOrArray:
        """Give the specific enthalpy of saturated liquid (on the bubble line) [Pa -> J/kg]."""
        ...

    def dtdp_dew(self, p: FloatOrArray, /) -> FloatOrArray:
        """Give the slope of the dew temperature [Pa -> K/Pa]."""
        ...

    def dtdp_bubble(self, p: FloatOrArray, /) -> FloatOrArray:
        """Give the slope of the bubble temperature [Pa -> K/Pa]."""
        ...

    def glide(self, p: FloatOrArray, /) -> FloatOrArray:
        """Give the dew less the bubble temperature at one pressure [Pa -> K]."""
        ...


class Refrigerant:
    """A refrigerant with its saturation curves.

    Made by :func:`refrigerant`. Every function takes a float and returns a float (plain Python), or takes a
    float64 array and returns an array of the same shape; NaN or out of range gives NaN.

    Attributes
    ----------
    name
        Canonical name, such as R410A.
    safety_class
        ISO 817 and ASHRAE 34 safety class, such as A2L.
    source
        Equation of state and property library with its version.
    p_min, p_max
        Range of absolute pressure [Pa]: from -60 degC (or the triple point) to 0.95 of the critical pressure.
    h_offset
        What was added to the property library's own enthalpy [J/kg], so that saturated liquid at 0 degC has
        200 kJ/kg (reference state of the International Institute of Refrigeration).
    errors
        Per curve the largest deviation from the equation of state, below and above 0.8 of the critical
        pressure: K for temperature, relative for density, J/kg for enthalpy.

    Examples
    --------
    >>> r22 = refrigerant("R-22")
    >>> round(r22.t_dew(549.5e3), 2)  # 65 psig at sea level
    276.21
    """

    __slots__ = (
        "_dtdu_bubble",
        "_dtdu_dew",
        "_h_bubble",
        "_h_dew",
        "_p_bubble",
        "_p_dew",
        "_rho_bubble",
        "_rho_dew",
        "_t_bubble",
        "_t_dew",
        "errors",
        "h_offset",
        "name",
        "p_max",
        "p_min",
        "safety_class",
        "source",
    )

    def __init__(self, name: str) -> None:
        table = importlib.import_module(f"analysis.tables.{table_module(name)}")
        self.name = name
        self.safety_class = SAFETY_CLASSES[name]
        self.source = f"{table.SOURCE}; {table.LIBRARY}"
        self.p_min: float = table.P_MIN
        self.p_max: float = table.P_MAX
        self.h_offset: float = table.H_OFFSET
        self.errors: dict[str, tuple[float, float]] = dict(table.ERRORS)
        ends = self.p_min, self.p_max
        self._t_dew = PiecewiseSeries(table.T_DEW, *ends, log_argument=True)
        self._t_bubble = PiecewiseSeries(table.T_BUBBLE, *ends, log_argument=True)
        self._dtdu_dew = self._t_dew.derivative()
        self._dtdu_bubble = self._t_bubble.derivative()
        self._rho_dew = PiecewiseSeries(table.RHO_DEW, *ends, log_argument=True, log_value=True)
        self._rho_bubble = PiecewiseSeries(table.RHO_BUBBLE, *ends, log_argument=True, log_value=True)
        self._h_dew = PiecewiseSeries(table.H_DEW, *ends, log_argument=True)
        self._h_bubble = PiecewiseSeries(table.H_BUBBLE, *ends, log_argument=True)
        self._p_dew = PiecewiseSeries(table.P_DEW, *_ends(table.P_DEW), log_value=True)
        self._p_bubble = PiecewiseSeries(table.P_BUBBLE, *_ends(table.P_BUBBLE), log_value=True)

    def __repr__(self) -> str:
        return f"Refrigerant({self.name!r})"

    def t_dew(self, p: FloatOrArray) -> FloatOrArray:
        """Return the dew temperature, at which the last drop of liquid has evaporated.

        Superheat is the vapour's temperature less this.

        Parameters
        ----------
        p
            Absolute pressure, a float or an array of any shape [Pa].

        Returns
        -------
        float or array
            Temperature [K]; NaN out of range.
        """
        return self._t_dew(p)

    def t_bubble(self, p: FloatOrArray) -> FloatOrArray:
        """Return the bubble temperature, at which the first bubble of vapour appears.

        Subcooling is this less the liquid's temperature.

        Parameters
        ----------
        p
            Absolute pressure, a float or an array of any shape [Pa].

        Returns
        -------
        float or array
            Temperature [K]; NaN out of range.
        """
        return self._t_bubble(p)

    def p_dew(self, t: FloatOrArray) -> FloatOrArray:
        """Return the pressure at which a temperature is the dew temperature.

        Parameters
        ----------
        t
            Temperature, a float or an array of any shape [K].

        Returns
        -------
        float or array
            Absolute pressure [Pa]; NaN out of range.
        """
        return self._p_dew(t)

    def p_bubble(self, t: FloatOrArray) -> FloatOrArray:
        """Return the pressure at which a temperature is the bubble temperature.

        Parameters
        ----------
        t
            Temperature, a float or an array of any shape [K].

        Returns
        -------
        float or array
            Absolute pressure [Pa]; NaN out of range.
        """
        return self._p_bubble(t)

    def rho_dew(self, p: FloatOrArray) -> FloatOrArray:
        """Return the density of saturated vapour (on the dew line).

        Parameters
        ----------
        p
            Absolute pressure, a float or an array of any shape [Pa].

        Returns
        -------
        float or array
            Density [kg/m3]; NaN out of range.
        """
        return self._rho_dew(p)

    def rho_bubble(self, p: FloatOrArray) -> FloatOrArray:
        """Return the density of saturated liquid (on the bubble line).

        Parameters
        ----------
        p
            Absolute pressure, a float or an array of any shape [Pa].

        Returns
        -------
        float or array
            Density [kg/m3]; NaN out of range.
        """
        return self._rho_bubble(p)

    def h_dew(self, p: FloatOrArray) -> FloatOrArray:
        """Return the specific enthalpy of saturated vapour (on the dew line).

        Saturated liquid at 0 degC has 200 kJ/kg.

        Parameters
        ----------
        p
            Absolute pressure, a float or an array of any shape [Pa].

        Returns
        -------
        float or array
            Specific enthalpy [J/kg]; NaN out of range.
        """
        return self._h_dew(p)

    def h_bubble(self, p: FloatOrArray) -> FloatOrArray:
        """Return the specific enthalpy of saturated liquid (on the bubble line).

        Saturated liquid at 0 degC has 200 kJ/kg.

        Parameters
        ----------
        p
            Absolute pressure, a float or an array of any shape [Pa].

        Returns
        -------
        float or array
            Specific enthalpy [J/kg]; NaN out of range.
        """
        return self._h_bubble(p)

    def dtdp_dew(self, p: FloatOrArray) -> FloatOrArray:
        """Return the slope of the dew temperature against pressure.

        dT/dp = (dT/d ln p) / p

        Parameters
        ----------
        p
            Absolute pressure, a float or an array of any shape [Pa].

        Returns
        -------
        float or array
            Slope [K/Pa]; NaN out of range.
        """
        return _per_pressure(self._dtdu_dew(p), p)

    def dtdp_bubble(self, p: FloatOrArray) -> FloatOrArray:
        """Return the slope of the bubble temperature against pressure.

        dT/dp = (dT/d ln p) / p

        Parameters
        ----------
        p
            Absolute pressure, a float or an array of any shape [Pa].

        Returns
        -------
        float or array
            Slope [K/Pa]; NaN out of range.
        """
        return _per_pressure(self._dtdu_bubble(p), p)

    def glide(self, p: FloatOrArray) -> FloatOrArray:
        """Return the glide: dew less bubble temperature at one pressure.

        Parameters
        ----------
        p
            Absolute pressure, a float or an array of any shape [Pa].

        Returns
        -------
        float or array
            Difference [K]; NaN out of range.
        """
        return self._t_dew(p) - self._t_bubble(p)


def refrigerant(name: str) -> Refrigerant:
    """Return a refrigerant by name; only its own table is loaded.

    Parameters
    ----------
    name
        As a person writes it: ``R410A``, ``r-410a``, ``410A``, ``propane``.

    Returns
    -------
    Refrigerant
        Its saturation curves.

    Raises
    ------
    UnknownRefrigerant
        No refrigerant has that name; the message gives near names.
    RefusedRefrigerant
        The blend cannot be worked out reliably; the message gives the way out.

    Examples
    --------
    >>> refrigerant("propane").name
    'R290'
    """
    canonical = canonical_name(name)
    if canonical not in _loaded:
        _loaded[canonical] = Refrigerant(canonical)
    return _loaded[canonical]


def names() -> tuple[str, ...]:
    """Return the canonical names of all refrigerants with curves, in order of their numbers.

    Returns
    -------
    tuple of str
        Such as ``("R12", "R22", ...)``.
    """
    return tuple(SAFETY_CLASSES)


_loaded: dict[str, Refrigerant] = {}


def _per_pressure(slope: FloatOrArray, p: FloatOrArray) -> FloatOrArray:
    if isinstance(p, (float, int)) and p == 0:
        return slope  # NaN already: zero pressure is out of range
    return slope / p


def _ends(pieces: tuple[tuple[float, float, tuple[float, ...]], ...]) -> tuple[float, float]:
    return pieces[0][0], pieces[-1][1]
