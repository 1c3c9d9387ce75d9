"""What has been worked out so far, one row a second: for trends, and for any past moment of a session."""

from __future__ import annotations

import dataclasses
import math
from bisect import bisect_right
from typing import TYPE_CHECKING

import numpy as np

from analysis.measured import Column
from analysis.verdict import Standing
from logger.desktop.pyramid import Pyramid

if TYPE_CHECKING:
    from analysis.analyser import Results

ROW_US = 1_000_000


def row_of(results: Results, index: int) -> Results:
    """Cut one row out of results."""
    return dataclasses.replace(_cut(results, slice(index, index + 1)), judgement=results.judgement.row(index))


def _cut(results: Results, cut: slice) -> Results:
    """Cut rows out; of the judgement only the overall standing follows."""
    overall = results.judgement.overall
    overall = Standing(overall.state[cut], overall.limiting[cut], overall.steady_s[cut])

    def column(c: Column) -> Column:
        return Column(c.value[cut], c.u[cut], c.age_s[cut])

    return dataclasses.replace(
        results,
        t_us=results.t_us[cut],
        points={name: column(c) for name, c in results.points.items()},
        derived={name: column(c) for name, c in results.derived.items()},
        judgement=dataclasses.replace(results.judgement, overall=overall),
    )


class History:
    """Series of all points and derived values on a grid of one second.

    Parameters
    ----------
    keep_rows
        Whether whole results are kept, so that any moment can be shown again; a live recording keeps only
        the series, which stay small for days.
    """

    def __init__(self, *, keep_rows: bool) -> None:
        self._keep = keep_rows
        self._spans: list[Results] = []
        self._begins: list[int] = []
        self.series: dict[str, Pyramid] = {}
        self.rows = 0
        """Seconds of session time covered."""
        self.phases: list[tuple[int, str]] = []
        """Row from which a phase holds, and its name."""

    def append(self, results: Results) -> None:
        """Take in further rows; rows that were passed over stay empty."""
        first = int(results.t_us[0]) // ROW_US
        if first < self.rows:
            return
        for name, column in (*results.points.items(), *results.derived.items()):
            series = self.series.setdefault(name, Pyramid())
            if len(series) < first:
                series.append(np.full(first - len(series), math.nan))
            series.append(np.asarray(column.value, np.float64))
        self.rows = first + results.rows
        phase = results.settings.phase
        if not self.phases or self.phases[-1][1] != phase:
            self.phases.append((first, phase))
        if self._keep:
            self._spans.append(results)
            self._begins.append(first)

    def at(self, t_us: int) -> Results | None:
        """Give the row that was newest at a moment; None where none is kept."""
        place = bisect_right(self._begins, t_us // ROW_US) - 1
        if place < 0:
            return None
        span = self._spans[place]
        index = int(np.searchsorted(span.t_us, t_us, side="right")) - 1
        return row_of(span, min(max(index, 0), span.rows - 1))

    def tail(self, t_us: int, rows: int) -> list[Results]:
        """Give the rows up to a moment, at most so many, in as few pieces as their settings allow."""
        upto, found = t_us // ROW_US + 1, []
        for begin, span in zip(reversed(self._begins), reversed(self._spans), strict=True):
            first, last = max(upto - rows - begin, 0), min(upto - begin, span.rows)
            if first < last:
                found.append(_cut(span, slice(first, last)))
            if begin <= upto - rows:
                break
        return found[::-1]

    def before(self, t_us: int, rows: int) -> list[Results]:
        """Give the rows that end at a moment, oldest first."""
        found = (self.at(t_us - back * ROW_US) for back in range(rows - 1, -1, -1))
        return [row for row in found if row is not None]

    def silence_s(self, name: str, t_us: int) -> float:
        """Say for how long a point has had no value at a moment [s]; NaN where it has one or never had."""
        series = self.series.get(name)
        if series is None:
            return math.nan
        samples = series.samples[: t_us // ROW_US + 1]
        known = np.flatnonzero(np.isfinite(samples))
        if not known.size or known[-1] == samples.size - 1:
            return math.nan
        return float(samples.size - 1 - known[-1])
