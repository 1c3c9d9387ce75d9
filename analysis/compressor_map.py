"""The compressor maker's map: mass flow and power from evaporating and condensing dew temperature.

AHRI 540: X = c1 + c2 S + c3 D + c4 S2 + c5 S D + c6 D2 + c7 S3 + c8 D S2 + c9 S D2 + c10 D3, where S and D
are the suction and discharge dew temperatures. It holds inside the maker's envelope only; outside nothing is
given.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from analysis.elementwise import FloatArray, FloatOrArray, elementwise, only_where

_MASS_FLOWS = {"lb/h": 0.45359237 / 3600, "kg/h": 1 / 3600, "g/s": 1e-3, "kg/s": 1.0}
SUPERHEAT_FACTOR = 0.75
"""Share of the density change that reaches the mass flow (ASHRAE Transactions 87, 1981; from memory)."""


class CompressorMapError(ValueError):
    """A map that cannot be used; the text says what to correct."""


@dataclass(frozen=True, slots=True)
class CompressorMap:
    """A compressor's map with its envelope, as its data sheet gives it.

    Parameters
    ----------
    mass_flow
        The ten coefficients of the mass flow, or none.
    power
        The ten coefficients of the power in W, or none.
    envelope
        Corners (evaporating, condensing) of the permitted region, at least three, in ``temperature_unit``.
    temperature_unit
        degF or degC: the unit that the coefficients and the envelope are for.
    mass_flow_unit
        lb/h, kg/h, g/s or kg/s.
    source
        Data sheet, edition.

    Raises
    ------
    CompressorMapError
        If coefficients or envelope are not complete.

    Examples
    --------
    >>> wide = ((-10.0, 60.0), (55.0, 60.0), (55.0, 150.0), (-10.0, 120.0))
    >>> demo = CompressorMap(power=(100.0, 0.0, 20.0) + (0.0,) * 7, envelope=wide, temperature_unit="degF")
    >>> round(demo.power_at(280.372, 327.594))
    2700
    >>> demo.why_not(255.0, 338.0)
    'evaporating -0.7 and condensing 148.7 degF is outside the envelope of the map'
    """

    mass_flow: tuple[float, ...] = ()
    power: tuple[float, ...] = ()
    envelope: tuple[tuple[float, float], ...] = ()
    temperature_unit: Literal["degF", "degC"] = "degF"
    mass_flow_unit: Literal["lb/h", "kg/h", "g/s", "kg/s"] = "lb/h"
    source: str = ""

    def __post_init__(self) -> None:
        for name, row in (("mass_flow", self.mass_flow), ("power", self.power)):
            if row and (len(row) != 10 or not np.all(np.isfinite(row))):
                raise CompressorMapError(f"{name} needs 10 numbers in the order of AHRI 540, not {len(row)}.")
        if not self.mass_flow and not self.power:
            raise CompressorMapError("The map has neither mass_flow nor power: enter at least one row of 10.")
        if len(self.envelope) < 3 or not np.all(np.isfinite(self.envelope)):
            raise CompressorMapError(
                "The envelope needs 3 or more corners (evaporating, condensing), from the data sheet."
            )

    def inside(self, t_evaporating: FloatOrArray, t_condensing: FloatOrArray) -> FloatArray:
        """Say where a point lies in the envelope (its edge counts), as 1 or 0; NaN in, NaN out.

        Parameters
        ----------
        t_evaporating, t_condensing
            Dew temperatures [K].
        """
        return np.asarray(_inside(self._of(t_evaporating), self._of(t_condensing), self.envelope))

    def why_not(self, t_evaporating: float, t_condensing: float) -> str:
        """Say in words why there is no value at this point; empty when there is one."""
        if not (np.isfinite(t_evaporating) and np.isfinite(t_condensing)):
            return "evaporating or condensing temperature is not known"
        if self.inside(t_evaporating, t_condensing) == 1:
            return ""
        low, high = self._of(t_evaporating), self._of(t_condensing)
        return (
            f"evaporating {low:.1f} and condensing {high:.1f} {self.temperature_unit} "
            "is outside the envelope of the map"
        )

    def mass_flow_at(self, t_evaporating: FloatOrArray, t_condensing: FloatOrArray) -> FloatOrArray:
        """Mass flow at the superheat of the map's rating.

        Parameters
        ----------
        t_evaporating, t_condensing
            Dew temperatures [K].

        Returns
        -------
        FloatOrArray
            Mass flow [kg/s]; NaN outside the envelope or without coefficients.
        """
        value = self._value(self.mass_flow, t_evaporating, t_condensing)
        return value * _MASS_FLOWS[self.mass_flow_unit]

    def power_at(self, t_evaporating: FloatOrArray, t_condensing: FloatOrArray) -> FloatOrArray:
        """Electrical power.

        Parameters
        ----------
        t_evaporating, t_condensing
            Dew temperatures [K].

        Returns
        -------
        FloatOrArray
            Power [W]; NaN outside the envelope or without coefficients.
        """
        return self._value(self.power, t_evaporating, t_condensing)

    def _of(self, t: FloatOrArray) -> FloatOrArray:
        return t * 9 / 5 - 459.67 if self.temperature_unit == "degF" else t - 273.15

    def _value(
        self, row: tuple[float, ...], t_evaporating: FloatOrArray, t_condensing: FloatOrArray
    ) -> FloatOrArray:
        coefficients = np.array(row or (np.nan,) * 10)
        low, high = self._of(t_evaporating), self._of(t_condensing)
        return _polynomial(low, high, _inside(low, high, self.envelope), (coefficients,))


@elementwise
def superheat_corrected_flow(
    q_m_map: FloatOrArray, rho_suction: FloatOrArray, rho_map: FloatOrArray
) -> FloatOrArray:
    """Mass flow at the real suction density: q_m = q_m_map (1 + 0.75 (rho / rho_map - 1)).

    Parameters
    ----------
    q_m_map
        Mass flow of the map [kg/s].
    rho_suction
        Density of the suction gas as measured [kg/m3].
    rho_map
        Density at the same pressure and the superheat of the map's rating [kg/m3].

    Returns
    -------
    FloatOrArray
        Mass flow [kg/s].

    Examples
    --------
    >>> round(superheat_corrected_flow(459.45, 1.0380, 1.0), 2)
    472.54
    """
    q_m_map, rho_suction, rho_map = map(np.asarray, (q_m_map, rho_suction, rho_map))
    corrected = q_m_map * (1 + SUPERHEAT_FACTOR * (rho_suction / rho_map - 1))
    return only_where((q_m_map > 0) & (rho_suction > 0) & (rho_map > 0), corrected)


@elementwise
def _polynomial(
    s: FloatOrArray, d: FloatOrArray, inside: FloatOrArray, row: tuple[FloatArray]
) -> FloatOrArray:
    s, d = np.asarray(s), np.asarray(d)
    one = np.ones(np.broadcast_shapes(s.shape, d.shape))
    terms = (one, s, d, s**2, s * d, d**2, s**3, d * s**2, s * d**2, d**3)
    value = sum((c * term for c, term in zip(row[0], terms, strict=True)), np.zeros_like(one))
    return only_where((np.asarray(inside) == 1) & (value > 0), value)


@elementwise
def _inside(s: FloatOrArray, d: FloatOrArray, corners: tuple[tuple[float, float], ...]) -> FloatOrArray:
    # Ray casting along the evaporating axis, with the edges themselves counted as inside.
    x, y = np.broadcast_arrays(s, d)
    crossings = np.zeros(x.shape, dtype=bool)
    on_edge = np.zeros(x.shape, dtype=bool)
    for (x1, y1), (x2, y2) in zip(corners, (*corners[1:], corners[0]), strict=True):
        across = (x2 - x1) * (y - y1) - (y2 - y1) * (x - x1)
        along = (x - x1) * (x2 - x1) + (y - y1) * (y2 - y1)
        length2 = (x2 - x1) ** 2 + (y2 - y1) ** 2
        on_edge |= (np.abs(across) <= 1e-6 * max(1.0, length2)) & (along >= 0) & (along <= length2)
        if y1 != y2:
            crossings ^= ((y1 > y) != (y2 > y)) & (x < x1 + (y - y1) * (x2 - x1) / (y2 - y1))
    return np.where(crossings | on_edge, 1.0, 0.0)
