"""Liquid flow from the coil's pressure drop: the unit's own table, or one rated point.

A drop is a difference of two readings: one gauge moved between both ports beats two gauges, because its error
cancels.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from analysis.elementwise import FloatArray, FloatOrArray, elementwise, only_where
from analysis.flow_routes import FlowResult, FlowRoute
from analysis.liquids import Liquid
from analysis.pressure_drop_law import drop_correction, drop_correction_uncertainty, on_logarithmic_curve

_DOUBTFUL = 0.10  # above this relative uncertainty the reader is told to measure otherwise (our choice)
_LIKELY_EXPONENTS = (1.2, 2.3)  # makers' tables lie from 1.6 to 2.1; outside of these a figure is misread


class PressureDropError(ValueError):
    """A table or rated point that cannot be right; the text names the figure to look at."""


@dataclass(frozen=True, slots=True)
class PressureDropTable:
    """The coil pressure-drop table of a unit card.

    Parameters
    ----------
    flows
        Volume flows, rising [m3/s], at least two.
    temperatures
        Liquid temperatures of the rows, rising [K], at least one.
    drops
        One row per temperature with one drop per flow [Pa].
    liquid
        What the table is for; plain water unless the maker says otherwise.
    u_relative
        Standard uncertainty of the table's drops, relative (5 %: our assumption for rounding and spread of
        coils) [1].
    source
        Where the table is printed.

    Raises
    ------
    PressureDropError
        If a figure is missing or a row does not rise with flow or a column rises with temperature.

    Examples
    --------
    >>> psi, gpm = 6894.757, 6.30902e-5
    >>> table = PressureDropTable((4.5 * gpm, 9 * gpm), (283.15, 294.26), (
    ...     (1.4 * psi, 4.4 * psi), (1.2 * psi, 3.8 * psi)))
    >>> flow = table.flow(3.0 * psi, 283.15, u_drop=0.05 * psi)
    >>> round(flow.q_v / gpm, 2), round(flow.u / flow.q_v, 3)
    (7.14, 0.032)
    """

    flows: tuple[float, ...]
    temperatures: tuple[float, ...]
    drops: tuple[tuple[float, ...], ...]
    liquid: Liquid = field(default_factory=lambda: Liquid("water"))
    u_relative: float = 0.05
    source: str = ""

    def __post_init__(self) -> None:
        if len(self.flows) < 2 or not self.temperatures or len(self.drops) != len(self.temperatures):
            raise PressureDropError("The table needs two flows or more and one row of drops per temperature.")
        if any(len(row) != len(self.flows) for row in self.drops):
            raise PressureDropError("Each row needs one drop per flow: fill in or leave out the row.")
        figures = (*self.flows, *self.temperatures, *(drop for row in self.drops for drop in row))
        if not all(np.isfinite(figure) and figure > 0 for figure in figures):
            raise PressureDropError("Every flow, temperature and drop must be above zero: correct it.")
        for name, values in (("flows", self.flows), ("temperatures", self.temperatures)):
            if any(later <= earlier for earlier, later in pairwise(values)):
                raise PressureDropError(f"The {name} must rise: look for a misread figure.")
        for number, row in enumerate(self.drops, 1):
            for place, (earlier, later) in enumerate(pairwise(row), 2):
                if later <= earlier:
                    raise PressureDropError(
                        f"Row {number}: the drop does not rise from flow {place - 1} to flow {place} "
                        f"({earlier:.0f} to {later:.0f} Pa): look for a misread figure."
                    )
        for place in range(len(self.flows)):
            column = [row[place] for row in self.drops]
            if any(warmer > colder for colder, warmer in pairwise(column)):
                raise PressureDropError(
                    f"Flow {place + 1}: the drop rises with temperature: look for a misread one."
                )

    @property
    def exponents(self) -> FloatArray:
        """Local exponent n of drop ~ flow ** n, per row and interval [1]."""
        rises = np.diff(np.log(np.array(self.drops)), axis=1) / np.diff(np.log(np.array(self.flows)))
        return np.asarray(rises, dtype=np.float64)

    def doubts(self) -> tuple[str, ...]:
        """Say which intervals look misread though they rise; empty when none."""
        low, high = _LIKELY_EXPONENTS
        return tuple(
            f"row {row + 1}, flow {place + 1} to {place + 2}: exponent {n:.2f}, makers' lie from 1.6 to 2.1"
            for (row, place), n in np.ndenumerate(self.exponents)
            if not low <= n <= high
        )

    def flow(
        self, drop: FloatOrArray, t: FloatOrArray, *, u_drop: FloatOrArray, liquid: Liquid | None = None
    ) -> FlowResult:
        """Find the flow by interpolation, logarithmic in drop and flow, linear in temperature.

        Parameters
        ----------
        drop
            Measured pressure drop, above zero [Pa].
        t
            Mean liquid temperature [K].
        u_drop
            Standard uncertainty of the drop [Pa].
        liquid
            What flows, if it is not what the table is for.

        Returns
        -------
        FlowResult
            Flow, NaN outside the table's flows; temperature and liquid are corrected by
            :func:`drop_correction` and noted.
        """
        flowing = liquid or self.liquid
        t_row = self._row_temperature(t)
        factor = drop_correction(flowing, t, self.liquid, t_row)
        q_v, n = on_logarithmic_curve(self._curve(t_row), np.log(self.flows), _ratio(drop, factor))
        by_law = drop_correction_uncertainty(flowing, t, self.liquid, t_row)
        u = q_v * _root_sum(_ratio(u_drop, drop), self.u_relative, by_law) / n
        notes = _corrected(factor) + _doubtful(_ratio(u, q_v))
        if np.any(np.isnan(q_v)):
            notes += ("drop or temperature is missing or outside the table, which is not extrapolated",)
        return FlowResult(q_v, u, FlowRoute.PRESSURE_DROP_TABLE, notes)

    def drop(self, q_v: FloatOrArray, t: FloatOrArray, liquid: Liquid | None = None) -> FloatOrArray:
        """Give the drop that a flow should make, for comparison with the measured one.

        Parameters
        ----------
        q_v
            Volume flow [m3/s].
        t
            Mean liquid temperature [K].
        liquid
            What flows, if it is not what the table is for.

        Returns
        -------
        FloatOrArray
            Drop [Pa]; NaN outside the table.
        """
        flowing = liquid or self.liquid
        t_row = self._row_temperature(t)
        expected, _ = on_logarithmic_curve(np.log(self.flows), self._curve(t_row), q_v)
        return expected * drop_correction(flowing, t, self.liquid, t_row)

    def _row_temperature(self, t: FloatOrArray) -> FloatOrArray:
        # Outside its rows the table is used at the nearest one, and the law corrects the rest.
        return np.clip(t, self.temperatures[0], self.temperatures[-1])

    def _curve(self, t_row: FloatOrArray) -> FloatArray:
        """Logarithms of the drops at one temperature, along the last axis."""
        rows = np.log(np.array(self.drops))
        if len(self.temperatures) == 1:
            return np.broadcast_to(rows[0], (*np.shape(t_row), rows.shape[1]))
        place = np.clip(np.searchsorted(self.temperatures, t_row) - 1, 0, len(self.temperatures) - 2)
        low, high = (np.asarray(self.temperatures)[place + step] for step in (0, 1))
        share = ((np.asarray(t_row) - low) / (high - low))[..., np.newaxis]
        return np.asarray((1 - share) * rows[place] + share * rows[place + 1])


@dataclass(frozen=True, slots=True)
class RatedPoint:
    """One rated flow with its pressure drop, when there is no table.

    Parameters
    ----------
    q_v, drop
        Rated flow [m3/s] and drop [Pa].
    t
        Liquid temperature of the rating [K].
    liquid
        What the rating is for.
    exponent, u_exponent
        n of drop ~ flow ** n with its standard uncertainty [1]: 1.8 +- 0.25 (k = 2), from the tables of eight
        units (1.59 to 2.13).
    source
        Where it is printed.

    Examples
    --------
    >>> psi, gpm = 6894.757, 6.30902e-5
    >>> rated = RatedPoint(9 * gpm, 3.2 * psi, 288.71)
    >>> [round(rated.flow(p * psi, 288.71, u_drop=0.05 * psi).q_v / gpm, 1) for p in (2.0, 1.0)]
    [6.9, 4.7]
    """

    q_v: float
    drop: float
    t: float
    liquid: Liquid = field(default_factory=lambda: Liquid("water"))
    exponent: float = 1.8
    u_exponent: float = 0.125
    source: str = ""

    def __post_init__(self) -> None:
        if not all(np.isfinite(figure) and figure > 0 for figure in (self.q_v, self.drop, self.t)):
            raise PressureDropError("The rated flow, drop and temperature must be above zero: see the plate.")
        if not 0 <= 2 * self.u_exponent < self.exponent - 1:
            raise PressureDropError(
                "The exponent less twice its uncertainty must be above 1: use 1.8, 0.125."
            )

    def flow(
        self, drop: FloatOrArray, t: FloatOrArray, *, u_drop: FloatOrArray, liquid: Liquid | None = None
    ) -> FlowResult:
        """Find the flow by q_v = q_rated (drop / (drop_rated f)) ** (1 / n), f by :func:`drop_correction`.

        Parameters
        ----------
        drop
            Measured pressure drop, above zero [Pa].
        t
            Mean liquid temperature [K].
        u_drop
            Standard uncertainty of the drop [Pa].
        liquid
            What flows, if it is not what the rating is for.

        Returns
        -------
        FlowResult
            Flow; NaN when the drop is below a tenth of the rated one or above four times it.
        """
        flowing = liquid or self.liquid
        factor = drop_correction(flowing, t, self.liquid, self.t)
        ratio = _ratio(drop, factor * self.drop)
        q_v = _by_power(ratio, self.q_v, self.exponent)
        by_exponent = _log(ratio) / self.exponent * self.u_exponent
        by_law = drop_correction_uncertainty(flowing, t, self.liquid, self.t)
        u = q_v * _root_sum(_ratio(u_drop, drop), by_exponent, by_law) / self.exponent
        stated = f"one rated point, exponent {self.exponent:g} +- {2 * self.u_exponent:g} (k = 2)"
        notes = (stated, *_corrected(factor), *_doubtful(_ratio(u, q_v)))
        if np.any(np.isnan(q_v)):
            notes += ("drop or temperature is missing or too far from the rated point",)
        return FlowResult(q_v, u, FlowRoute.RATED_POINT, notes)


def _corrected(factor: FloatOrArray) -> tuple[str, ...]:
    worst = np.nanmax(np.abs(np.asarray(factor) - 1)) if np.any(np.isfinite(factor)) else 0.0
    if worst < 0.005:
        return ()
    return (f"drop corrected by up to {100 * worst:.0f} % for liquid and temperature",)


def _doubtful(relative: FloatOrArray) -> tuple[str, ...]:
    worst = np.nanmax(relative) if np.any(np.isfinite(relative)) else 0.0
    if worst <= _DOUBTFUL:
        return ()
    return (
        f"known to {100 * worst:.0f} % only (k = 1): move one gauge between both ports, or time a container",
    )


@elementwise
def _by_power(ratio: FloatOrArray, q_rated: FloatOrArray, exponent: FloatOrArray) -> FloatOrArray:
    ratio = np.asarray(ratio)
    return only_where((ratio >= 0.1) & (ratio <= 4.0), q_rated * np.power(ratio, 1 / np.asarray(exponent)))


@elementwise
def _ratio(one: FloatOrArray, other: FloatOrArray) -> FloatOrArray:
    return only_where(np.asarray(other) > 0, np.asarray(one) / other)


@elementwise
def _log(ratio: FloatOrArray) -> FloatOrArray:
    return np.log(ratio)


@elementwise
def _root_sum(one: FloatOrArray, two: FloatOrArray, three: FloatOrArray) -> FloatOrArray:
    return np.asarray(np.sqrt(np.square(one) + np.square(two) + np.square(three)), dtype=np.float64)
