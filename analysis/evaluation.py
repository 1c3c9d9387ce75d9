"""Every derived value of a span of rows with its uncertainty, all in a few calls.

What changes only with the settings (which values can be worked out, from what, how each input moves it) is
kept in a :class:`Plan`; the rows themselves go through the table that :mod:`analysis.moves` lays out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.circumstances import Circumstances
from analysis.elementwise import FloatArray
from analysis.measured import Column, Fitting, Measured
from analysis.moves import Feasible, Layout, Places, Step
from analysis.uncertainty import half_difference, sensitivity

BLOCK_ROWS = 1024
"""So many rows of the table fit the processor's near memory."""


@dataclass(frozen=True, slots=True)
class Plan:
    """How the derived values follow from the measuring points, under one choice of settings."""

    inputs: Mapping[str, tuple[str, ...]]
    """Derived value to the measuring points that feed it."""
    missing: Mapping[str, tuple[str, ...]]
    """Derived value to what it lacks."""
    steps: tuple[Step, ...]
    rows: int
    """How many rows the table has."""
    parameters: FloatArray
    """Parameters, moved up, moved down, one after the other (3 parameters, 1)."""
    u_parameters: FloatArray
    """Their standard uncertainties (parameters, 1)."""
    symbols: tuple[str, ...]
    """Derived values in the order of the sums below: those with the most inputs first."""
    middle: Places
    """Row of the table with each value."""
    fed: Places
    """Measuring points that feed each value, filled up with the first (values, most)."""
    turns: tuple[int, ...]
    """How many values have a first input, a second, and so on; the pairs stand in that order."""
    pairs: Places
    """Of each pair of value and input: rows of the table as it is, moved up, down; the input (4, pairs)."""
    shared: tuple[tuple[int, tuple[tuple[int, int], ...]], ...]
    """Value, and its pairs with the points whose errors are common to them."""

    @classmethod
    def of(cls, fitting: Fitting, known: Circumstances) -> Plan:
        """Find what can be worked out, and how."""
        points = {name: index for index, name in enumerate(fitting.names)}
        feasible = Feasible.of(fitting.names, known)
        parameters = [one for row, held in feasible.rows for one in row.own_parameters(held)]
        layout = Layout(points, parameters)
        for row, held in feasible.rows:
            layout.add(row, held)
        value, u = np.array(parameters, np.float64).reshape(-1, 2, 1).swapaxes(0, 1)
        symbols = tuple(sorted(layout.moved, key=lambda symbol: -len(layout.moved[symbol].up)))
        moved = [layout.moved[symbol] for symbol in symbols]
        inputs = [tuple(one.up) for one in moved]
        most = max(map(len, inputs), default=0)
        pairs = [(n, some[turn]) for turn in range(most) for n, some in enumerate(inputs) if len(some) > turn]
        fed = [[points[name] for name in feasible.inputs[symbol]] for symbol in symbols]
        width = max(map(len, fed), default=1)
        return cls(
            feasible.inputs,
            feasible.missing,
            tuple(layout.steps),
            layout.rows,
            np.concatenate([value, value + u, value - u]),
            u,
            symbols,
            np.array([one.middle for one in moved], np.intp),
            np.array([some + some[:1] * (width - len(some)) for some in fed], np.intp).reshape(-1, width),
            tuple(sum(len(some) > turn for some in inputs) for turn in range(most)),
            np.array([(moved[n].middle, moved[n].up[x], moved[n].down[x], x) for n, x in pairs], np.intp)
            .reshape(-1, 4)
            .T,
            _shared(fitting, pairs, len(symbols)),
        )

    def derive(self, measured: Measured) -> dict[str, Column]:
        """Work out every derived value, its standard uncertainty and the age of its oldest reading."""
        n = measured.value.shape[1]
        value, u, age_s = (np.empty((len(self.symbols), n)) for _ in range(3))
        if not self.symbols:
            return {}
        table = np.empty((self.rows, min(n, BLOCK_ROWS)))
        with np.errstate(all="ignore"):
            for begin in range(0, n, BLOCK_ROWS):
                part = slice(begin, min(begin + BLOCK_ROWS, n))
                held = table[:, : part.stop - begin]
                self._fill(held, measured, part)
                value[:, part], u[:, part] = self._propagated(held, measured, part)
                age_s[:, part] = measured.age_s[:, part][self.fed].max(axis=1)
        age_s[~np.isfinite(value)] = np.nan
        columns = dict(zip(self.symbols, map(Column, value, u, age_s), strict=True))
        return {symbol: columns[symbol] for symbol in self.inputs}

    def _fill(self, table: FloatArray, measured: Measured, part: slice) -> None:
        """Write points, parameters and derived values with all their moves."""
        value, u = measured.value[:, part], measured.u[:, part]
        p, q = len(value), len(self.parameters)
        table[:p] = value
        np.add(value, u, out=table[p : 2 * p])
        np.subtract(value, u, out=table[2 * p : 3 * p])
        table[3 * p : 3 * p + q] = self.parameters
        for step in self.steps:
            table[step.given] = step.row.formula(step.known, *table.take(step.taken, axis=0))

    def _propagated(
        self, table: FloatArray, measured: Measured, part: slice
    ) -> tuple[FloatArray, FloatArray]:
        """Give the values and their standard uncertainties by :mod:`analysis.uncertainty`'s formula."""
        shape = (len(self.u_parameters), table.shape[1])
        exactly = np.broadcast_to(self.u_parameters, shape)
        as_it_is, up, down, inputs = self.pairs
        own = np.concatenate([measured.own[:, part], exactly])[inputs]
        total = np.concatenate([measured.u[:, part], exactly])[inputs]
        change = half_difference(table[as_it_is], table[up], table[down])
        slope, squared = sensitivity(change, total, own)
        middle = table[self.middle]
        variance = np.zeros_like(middle)
        begin = 0
        for count in self.turns:  # one after the other, since a sum depends on its order
            variance[:count] += squared[begin : begin + count]
            begin += count
        for place, pairs in self.shared:
            together = np.zeros(table.shape[1])
            for pair, point in pairs:
                together = together + slope[pair] * measured.common[point, part]
            variance[place] += together**2
        combined = np.sqrt(variance)
        combined[~(np.isfinite(middle) & np.isfinite(combined))] = np.nan
        return middle, combined


def _shared(
    fitting: Fitting, pairs: Sequence[tuple[int, int]], values: int
) -> tuple[tuple[int, tuple[tuple[int, int], ...]], ...]:
    """Group each value's inputs by calibration: those of one err together, all others by themselves."""
    found: list[tuple[int, tuple[tuple[int, int], ...]]] = []
    common = fitting.u_common[:, 0]
    calibrations = {
        point: calibration or f" {point}"
        for point, calibration in enumerate(fitting.calibrations)
        if common[point] > 0.0
    }
    for value in range(values):
        groups: dict[str, list[tuple[int, int]]] = {}
        for pair, (mine, moved) in enumerate(pairs):
            if mine == value and moved in calibrations:
                groups.setdefault(calibrations[moved], []).append((pair, moved))
        found += [(value, tuple(group)) for group in groups.values()]
    return tuple(found)
