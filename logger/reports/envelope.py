"""A whole session in a few hundred columns: lowest, highest and mean value in each: no peak is lost."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from analysis.analyser import Results
from analysis.elementwise import FloatArray

MOST_BINS = 400
LEAST_BIN_US = 2_000_000
"""At least two rows a column, so that a column without a row is a gap and not bad luck."""


@dataclass(slots=True)
class Trace:
    """One quantity over the columns (SI); NaN where there was no value."""

    low: FloatArray
    high: FloatArray
    total: FloatArray
    rows: FloatArray

    @classmethod
    def empty(cls, bins: int) -> Trace:
        """Make one without any value."""
        return cls(np.full(bins, np.inf), np.full(bins, -np.inf), np.zeros(bins), np.zeros(bins))

    def mean(self) -> FloatArray:
        """Give the mean of each column."""
        with np.errstate(invalid="ignore"):
            return np.where(self.rows > 0, self.total / np.maximum(self.rows, 1), np.nan)


@dataclass(slots=True)
class Envelope:
    """Takes in results as they come, in bounded memory."""

    end_us: int
    traces: dict[str, Trace] = field(default_factory=dict)
    inputs: dict[str, tuple[str, ...]] = field(default_factory=dict)
    """Trace to the measuring points that it rests on."""

    @property
    def bins(self) -> int:
        """How many columns there are."""
        return int(min(MOST_BINS, max(self.end_us // LEAST_BIN_US, 1)))

    def edges_us(self) -> FloatArray:
        """Give the moments between the columns [us]."""
        return np.linspace(0.0, max(self.end_us, 1), self.bins + 1)

    def add(self, result: Results) -> None:
        """Take in further rows."""
        place = np.minimum(result.t_us * self.bins // max(self.end_us, 1), self.bins - 1)
        place = np.maximum(place, 0)
        for columns in (result.points, result.derived):
            for name, column in columns.items():
                known = np.isfinite(column.value)
                trace = self.traces.setdefault(name, Trace.empty(self.bins))
                self.inputs[name] = result.inputs.get(name, (name,))
                at, value = place[known], column.value[known]
                np.minimum.at(trace.low, at, value)
                np.maximum.at(trace.high, at, value)
                np.add.at(trace.total, at, value)
                np.add.at(trace.rows, at, 1.0)

    def blank(self, name: str, spans_us: Iterable[tuple[int, int]]) -> None:
        """Take out the columns that a dropout touches, so that no line crosses it."""
        trace = self.traces[name]
        for begin, end in spans_us:
            first = max(begin * self.bins // max(self.end_us, 1), 0)
            last = min(-(-end * self.bins // max(self.end_us, 1)), self.bins)
            trace.rows[first : max(last, first + 1)] = 0.0
