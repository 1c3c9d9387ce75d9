"""Where every quantity stands in the table of a span of rows, and where with each of its inputs moved.

The table's rows: measuring points as they are, with their standard uncertainty added, and taken off; the same
for parameters; then each derived value as it is and with each input moved up and down. A derived value that
rests on another takes that one's moves, so nothing is worked out twice.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from analysis.circumstances import Circumstances
from analysis.derived import REGISTRY, Derived

Places = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Moved:
    """Where a quantity stands in the table."""

    middle: int
    up: Mapping[int, int]
    """Input (first the measuring points, then the parameters) to the row with that input moved up."""
    down: Mapping[int, int]


@dataclass(frozen=True, slots=True)
class Step:
    """How one derived value is worked out."""

    row: Derived
    known: Circumstances
    taken: Places
    """Rows of the table that the formula takes (arguments, moves)."""
    given: slice
    """Rows of the table that it gives: the value, then with each input moved up, then down."""


@dataclass(frozen=True, slots=True)
class Feasible:
    """Which derived values can be worked out from what is fitted and declared."""

    rows: tuple[tuple[Derived, Circumstances], ...]
    inputs: Mapping[str, tuple[str, ...]]
    """Derived value to the measuring points that feed it."""
    missing: Mapping[str, tuple[str, ...]]
    """Derived value to what it lacks."""

    @classmethod
    def of(cls, points: Sequence[str], known: Circumstances) -> Feasible:
        """Go through the registry."""
        fitted = set(points) - (set() if known.source_coil else {"source_pressure_drop"})
        rows: list[tuple[Derived, Circumstances]] = []
        inputs: dict[str, tuple[str, ...]] = {}
        missing: dict[str, tuple[str, ...]] = {}
        for row in REGISTRY:
            if known.mode not in row.modes:
                continue
            lacks, chosen = row.missing(fitted) + known.lacks(row.needs), row.choose(fitted)
            if lacks or chosen is None:
                missing[row.symbol] = lacks
            else:
                inputs[row.symbol] = chosen
                rows.append((row, dataclasses.replace(known, fed_by=chosen)))
        return cls(tuple(rows), inputs, missing)


@dataclass(slots=True)
class Layout:
    """The table's rows, laid out one derived value after the other."""

    points: Mapping[str, int]
    """Measuring point to its number."""
    parameters: Sequence[tuple[float, float]]
    """Value and standard uncertainty of each parameter, in the order in which the values ask for them."""
    rows: int = field(init=False)
    """How many rows there are by now."""
    moved: dict[str, Moved] = field(default_factory=dict, init=False)
    steps: list[Step] = field(default_factory=list, init=False)
    _asked: int = field(default=0, init=False)
    """How many parameters have been asked for."""

    def __post_init__(self) -> None:
        self.rows = 3 * (len(self.points) + len(self.parameters))

    def add(self, row: Derived, known: Circumstances) -> None:
        """Lay out the rows of a derived value."""
        arguments: list[Moved] = []
        begin = 0
        for argument in row.arguments:
            if isinstance(argument, Derived):
                arguments.append(self.moved[argument.symbol])
                begin += len(argument.inputs)
            else:
                arguments.append(self._point(known.fed_by[begin]))
                begin += 1
        arguments += [self._parameter() for _ in row.own_parameters(known)]
        inputs = tuple(dict.fromkeys(x for argument in arguments for x in argument.up))
        taken = [
            (a.middle, *(a.up.get(x, a.middle) for x in inputs), *(a.down.get(x, a.middle) for x in inputs))
            for a in arguments
        ]
        up = range(self.rows + 1, self.rows + 1 + len(inputs))
        down = range(up.stop, up.stop + len(inputs))
        self.moved[row.symbol] = Moved(
            self.rows, dict(zip(inputs, up, strict=True)), dict(zip(inputs, down, strict=True))
        )
        self.steps.append(Step(row, known, np.array(taken, np.intp), slice(self.rows, down.stop)))
        self.rows = down.stop

    def _point(self, name: str) -> Moved:
        number, p = self.points[name], len(self.points)
        return Moved(number, {number: p + number}, {number: 2 * p + number})

    def _parameter(self) -> Moved:
        """Give the next parameter; one that is exactly known is not moved."""
        p, q, number = len(self.points), len(self.parameters), self._asked
        self._asked += 1
        at = 3 * p + number
        if self.parameters[number][1] == 0.0:
            return Moved(at, {}, {})
        return Moved(at, {p + number: at + q}, {p + number: at + 2 * q})
