"""Saturation from a pressure-temperature table, typed or got from the cylinder's maker.

The way out for every refrigerant without an equation here. The text is CSV with one header row that names
each column and its unit, in one of three layouts (columns in any order; comma, semicolon or tab between)::

    temperature [degF], dew_pressure [psig], bubble_pressure [psig]
    pressure [kPa(a)],  dew_temperature [degC], bubble_temperature [degC]
    temperature [degC], pressure [bar(g)]

The third, with one pressure for both lines, is right for a pure refrigerant only. Between rows ln p is linear
in 1/T (Clausius-Clapeyron), which follows a vapour-pressure curve to some 0.01 K at rows 5 K apart and can be
turned round exactly.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable
from typing import TYPE_CHECKING

from analysis.chebyshev import END_SLACK, FloatOrArray
from analysis.pressure_table_text import Points, PressureTableError, read_points

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["STANDARD_ATMOSPHERE", "PressureTable", "PressureTableError", "pressure_table"]

#: Printed gauge pressures stand for sea level: the standard atmosphere [Pa], ISO 2533.
STANDARD_ATMOSPHERE = 101_325.0


class _Line:
    """Saturation temperature over ln p, linear in 1/T between the rows of a table."""

    __slots__ = ("_logs", "_reciprocals", "p_max", "p_min", "t_max", "t_min")

    def __init__(self, points: Points) -> None:
        self._logs = tuple(math.log(p) for _, p, _ in points)
        self._reciprocals = tuple(1.0 / t for _, _, t in points)
        self.p_min, self.p_max = points[0][1], points[-1][1]
        self.t_min, self.t_max = points[0][2], points[-1][2]

    def temperature(self, p: FloatOrArray) -> FloatOrArray:
        return _over(p, self.p_min, self.p_max, self._temperature)

    def pressure(self, t: FloatOrArray) -> FloatOrArray:
        return _over(t, self.t_min, self.t_max, self._pressure)

    def slope(self, p: FloatOrArray) -> FloatOrArray:
        return _over(p, self.p_min, self.p_max, self._slope)

    def _segment(self, index: int) -> tuple[float, float, float]:
        """Return ln p and 1/T at a segment's start, and d(1/T)/d(ln p) in it."""
        rise = self._logs[index + 1] - self._logs[index]
        slope = (self._reciprocals[index + 1] - self._reciprocals[index]) / rise
        return self._logs[index], self._reciprocals[index], slope

    def _by_pressure(self, u: float) -> tuple[float, float, float]:
        return self._segment(min(max(bisect_right(self._logs, u) - 1, 0), len(self._logs) - 2))

    def _temperature(self, p: float) -> float:
        u0, w0, slope = self._by_pressure(u := math.log(p))
        return 1.0 / (w0 + slope * (u - u0))

    def _slope(self, p: float) -> float:
        u0, w0, slope = self._by_pressure(u := math.log(p))
        return -slope / (w0 + slope * (u - u0)) ** 2 / p

    def _pressure(self, t: float) -> float:
        falling = bisect_right(self._reciprocals, -1.0 / t, key=lambda w: -w)
        u0, w0, slope = self._segment(min(max(falling - 1, 0), len(self._logs) - 2))
        return math.exp(u0 + (1.0 / t - w0) / slope)


def _over(x: FloatOrArray, low: float, high: float, one: Callable[[float], float]) -> FloatOrArray:
    """Apply a function of one value inside its range, NaN outside."""

    def inside(value: float) -> float:
        if not low * (1.0 - END_SLACK) <= value <= high * (1.0 + END_SLACK):
            return math.nan
        return one(min(max(value, low), high))

    if isinstance(x, (float, int)):
        return inside(float(x))
    return _each(x, inside)


def _each(x: NDArray[np.float64], one: Callable[[float], float]) -> NDArray[np.float64]:
    import numpy as np

    flat = np.asarray(x, dtype=np.float64).ravel().tolist()
    return np.array([one(value) for value in flat], dtype=np.float64).reshape(np.shape(x))


def _unknown(x: FloatOrArray) -> FloatOrArray:
    return math.nan if isinstance(x, (float, int)) else _each(x, lambda _: math.nan)


class PressureTable:
    """Saturation from a table; a SaturationCurve that knows neither density nor enthalpy.

    Made by :func:`pressure_table`. Arguments and results are SI, pressures absolute; a float gives a float,
    an array an array; NaN outside the rows.

    Attributes
    ----------
    name, source
        As given by the person.
    safety_class
        As given, or None.
    p_min, p_max
        Range of absolute pressure [Pa] that both lines cover.
    single
        The table has one pressure for both lines: it shows no glide, whether there is one or not.
    """

    __slots__ = ("_bubble", "_dew", "name", "p_max", "p_min", "safety_class", "single", "source")

    def __init__(
        self, name: str, source: str, safety_class: str | None, dew: Points, bubble: Points | None
    ) -> None:
        self.name = name
        self.source = source
        self.safety_class = safety_class
        self.single = bubble is None
        self._dew = _Line(dew)
        self._bubble = self._dew if bubble is None else _Line(bubble)
        self.p_min = max(self._dew.p_min, self._bubble.p_min)
        self.p_max = min(self._dew.p_max, self._bubble.p_max)

    def __repr__(self) -> str:
        return f"PressureTable({self.name!r}, {self.source!r})"

    def t_dew(self, p: FloatOrArray) -> FloatOrArray:
        """Return the dew temperature [K] at an absolute pressure [Pa]."""
        return self._dew.temperature(p)

    def t_bubble(self, p: FloatOrArray) -> FloatOrArray:
        """Return the bubble temperature [K] at an absolute pressure [Pa]."""
        return self._bubble.temperature(p)

    def p_dew(self, t: FloatOrArray) -> FloatOrArray:
        """Return the absolute pressure [Pa] at a dew temperature [K]."""
        return self._dew.pressure(t)

    def p_bubble(self, t: FloatOrArray) -> FloatOrArray:
        """Return the absolute pressure [Pa] at a bubble temperature [K]."""
        return self._bubble.pressure(t)

    def dtdp_dew(self, p: FloatOrArray) -> FloatOrArray:
        """Return the slope of the dew temperature [K/Pa] at a pressure [Pa]; it steps at the rows."""
        return self._dew.slope(p)

    def dtdp_bubble(self, p: FloatOrArray) -> FloatOrArray:
        """Return the slope of the bubble temperature [K/Pa] at an absolute pressure [Pa]."""
        return self._bubble.slope(p)

    def rho_dew(self, p: FloatOrArray) -> FloatOrArray:
        """Return NaN: a pressure-temperature table does not give density."""
        return _unknown(p)

    def rho_bubble(self, p: FloatOrArray) -> FloatOrArray:
        """Return NaN: a pressure-temperature table does not give density."""
        return _unknown(p)

    def h_dew(self, p: FloatOrArray) -> FloatOrArray:
        """Return NaN: a pressure-temperature table does not give enthalpy."""
        return _unknown(p)

    def h_bubble(self, p: FloatOrArray) -> FloatOrArray:
        """Return NaN: a pressure-temperature table does not give enthalpy."""
        return _unknown(p)

    def glide(self, p: FloatOrArray) -> FloatOrArray:
        """Return dew less bubble temperature [K] at an absolute pressure [Pa]; NaN where one line ends."""
        return self.t_dew(p) - self.t_bubble(p)


def pressure_table(
    text: str,
    *,
    name: str,
    source: str,
    safety_class: str | None = None,
    atmosphere: float = STANDARD_ATMOSPHERE,
) -> PressureTable:
    r"""Read a pressure-temperature table.

    Parameters
    ----------
    text
        CSV as described at the head of this module; lines starting with # are remarks.
    name
        Refrigerant, as it shall be shown.
    source
        Where the table comes from, such as the maker's leaflet and its date.
    safety_class
        ISO 817 safety class, if known.
    atmosphere
        What the table's gauge pressures stand above [Pa]; printed tables mean sea level.

    Returns
    -------
    PressureTable
        The curves.

    Raises
    ------
    PressureTableError
        The table cannot be read or believed; one sentence with the line and the way out.

    Examples
    --------
    >>> rows = "0,24.0\n20,43.1\n40,68.6\n60,101.6\n80,143.6\n100,195.9\n120,260.0"
    >>> table = pressure_table("temperature [degF],pressure [psig]\n" + rows, name="R22", source="typed")
    >>> round(table.t_dew(68.6 * 6894.757 + 101325) * 1.8 - 459.67, 2)
    40.0
    """
    dew, bubble = read_points(text, atmosphere)
    return PressureTable(name, source, safety_class, dew, bubble)
