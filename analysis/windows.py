"""The stretches in which the machine ran evenly, and what was measured and worked out over each of them."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from analysis.analyser import Results
from analysis.elementwise import FloatArray
from analysis.measured import Column
from analysis.settings import Settings
from analysis.verdict import State
from analysis.window_sums import NEWEST_ROWS

LEAST_ROWS = 30
"""A shorter stretch says too little to be averaged."""
ENDS_BEFORE_ROWS = NEWEST_ROWS
"""What ends a stretch shows within so many rows; they hold the beginning of the change and are left out."""
LAST_ROWS = 60
"""Where nothing was steady, the last minute is given, marked as not judged."""


@dataclass(frozen=True, slots=True)
class Mean:
    """One quantity over a stretch (SI)."""

    value: float
    u: float
    """Standard uncertainty (k = 1): of the instruments, which averaging does not lessen, and of the mean."""
    spread: float
    """Standard deviation of the rows."""
    rows: int
    rho: float = np.nan
    """Correlation of a row with the next one (lag-1 autocorrelation); NaN where nothing varied."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A span of rows and the means over it."""

    from_us: int
    to_us: int
    steady: bool
    settings: Settings
    points: Mapping[str, Mean]
    derived: Mapping[str, Mean]
    inputs: Mapping[str, tuple[str, ...]]
    missing: Mapping[str, tuple[str, ...]]

    @property
    def seconds(self) -> float:
        """Length [s]."""
        return (self.to_us - self.from_us) / 1e6


@dataclass(slots=True)
class _Sums:
    """Sums about the first value, so that the spread does not cancel."""

    first: float = np.nan
    n: int = 0
    s: float = 0.0
    ss: float = 0.0
    last: float = np.nan
    """The newest row, about the first value; NaN where it is not known."""
    pairs: int = 0
    """Neighbouring rows that are both known; those on either side of a gap are no neighbours."""
    ahead: float = 0.0
    behind: float = 0.0
    products: float = 0.0
    u: float = 0.0
    u_n: int = 0

    def add(self, column: Column, rows: slice) -> None:
        value, u = column.value[rows], column.u[rows]
        known = np.isfinite(value)
        value, u = value[known], u[known]
        if not value.size:
            self.last = np.nan if known.size else self.last
            return
        if not self.n:
            self.first = float(value[0])
        off = value - self.first
        self._pair(np.where(known, column.value[rows] - self.first, np.nan))
        self.n += value.size
        self.s += float(off.sum())
        self.ss += float((off * off).sum())
        promised = np.isfinite(u)
        self.u += float(u[promised].sum())
        self.u_n += int(promised.sum())

    def _pair(self, off: FloatArray) -> None:
        """Add the products of neighbouring rows, the newest row of the chunk before included."""
        line = np.concatenate([[self.last], off])
        ahead, behind = line[:-1], line[1:]
        both = np.isfinite(ahead) & np.isfinite(behind)
        ahead, behind = ahead[both], behind[both]
        self.pairs += ahead.size
        self.ahead += float(ahead.sum())
        self.behind += float(behind.sum())
        self.products += float((ahead * behind).sum())
        self.last = float(line[-1])

    def _rho(self, centre: float) -> float:
        """Lag-1 autocorrelation about the mean of all rows."""
        variance = self.ss / self.n - centre * centre
        # A spread within the rounding of the sums is none.
        if not self.pairs or variance <= 1e-12 * self.ss / self.n:
            return float(np.nan)
        together = self.products - centre * (self.ahead + self.behind) + self.pairs * centre * centre
        return float(np.clip(together / self.pairs / variance, -1.0, 1.0))

    def mean(self) -> Mean:
        if not self.n:
            return Mean(np.nan, np.nan, np.nan, 0)
        centre = self.s / self.n
        variance = max(self.ss / self.n - centre * centre, 0.0) * (self.n / max(self.n - 1, 1))
        instruments = self.u / self.u_n if self.u_n == self.n else np.nan
        u = float(np.hypot(instruments, np.sqrt(variance / self.n)))
        return Mean(self.first + centre, u, float(np.sqrt(variance)), self.n, self._rho(centre))


@dataclass(slots=True)
class _Open:
    """A stretch that is still going on."""

    steady: bool
    settings: Settings
    from_us: int
    to_us: int = 0
    rows: int = 0
    points: dict[str, _Sums] = field(default_factory=dict)
    derived: dict[str, _Sums] = field(default_factory=dict)
    inputs: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    missing: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    late: list[tuple[Results, slice]] = field(default_factory=list)
    """The newest rows, which do not count before it is known that the stretch goes on."""

    def add(self, result: Results, rows: slice) -> None:
        self.late.append((result, rows))
        self._count(ENDS_BEFORE_ROWS)

    def _count(self, keep: int) -> None:
        """Let the late rows count, all but the newest ones."""
        surplus = sum(rows.stop - rows.start for _, rows in self.late) - keep
        while surplus > 0:
            result, rows = self.late.pop(0)
            upto = min(rows.stop, rows.start + surplus)
            self._take(result, slice(rows.start, upto))
            surplus -= upto - rows.start
            if upto < rows.stop:
                self.late.insert(0, (result, slice(upto, rows.stop)))

    def _take(self, result: Results, rows: slice) -> None:
        self.to_us = int(result.t_us[rows][-1])
        self.rows += result.t_us[rows].size
        self.inputs, self.missing = result.inputs, result.missing
        for sums, columns in ((self.points, result.points), (self.derived, result.derived)):
            for name, column in columns.items():
                sums.setdefault(name, _Sums()).add(column, rows)

    def close(self, *, lost: bool = False) -> Stretch | None:
        """End it, without its newest rows where steadiness was lost; None where too little is left."""
        if not lost:
            self._count(0)
        if self.rows < (LEAST_ROWS if self.steady else 1):
            return None
        return Stretch(
            self.from_us,
            self.to_us,
            self.steady,
            self.settings,
            {name: sums.mean() for name, sums in self.points.items()},
            {name: sums.mean() for name, sums in self.derived.items()},
            self.inputs,
            self.missing,
        )


def mean_of(column: Column) -> Mean:
    """Average a whole column of rows."""
    sums = _Sums()
    sums.add(column, slice(None))
    return sums.mean()


def steady_stretches(results: Iterable[Results]) -> list[Stretch]:
    """Find the steady stretches of a session; where there is none, the last minute, marked so.

    Returns
    -------
    list of Stretch
        In the order of time; never empty where there were rows.
    """
    found: list[Stretch | None] = []
    now: _Open | None = None
    tail: list[Results] = []
    for result in results:
        tail = _keep_tail([*tail, result])
        steady = result.judgement.overall.state == int(State.STEADY)
        if not steady.size:  # nothing is watched, so nothing is steady
            steady = np.zeros(result.rows, bool)
        edges = np.flatnonzero(np.diff(steady.astype(np.int8))) + 1
        cuts = [0, *edges.tolist(), result.rows]
        for begin, end in itertools.pairwise(cuts):
            if begin == end:
                continue
            if now is not None and (not steady[begin] or now.settings is not result.settings):
                found.append(now.close(lost=not steady[begin]))
                now = None
            if steady[begin]:
                now = now or _Open(True, result.settings, int(result.t_us[begin]))
                now.add(result, slice(begin, end))
    if now is not None:
        found.append(now.close())
    stretches = [stretch for stretch in found if stretch is not None]
    return stretches or ([_last_minute(tail)] if tail else [])


def _keep_tail(results: list[Results]) -> list[Results]:
    """Keep what holds the last minute."""
    kept: list[Results] = []
    rows = 0
    for result in reversed(results):
        if rows >= LAST_ROWS or (kept and result.settings is not kept[0].settings):
            break
        kept.insert(0, result)
        rows += result.rows
    return kept


def _last_minute(tail: list[Results]) -> Stretch:
    newest_us = int(tail[-1].t_us[-1])
    since = newest_us - LAST_ROWS * 1_000_000
    stretch: _Open | None = None
    for result in tail:
        begin = int(np.searchsorted(result.t_us, since, side="right"))
        if begin < result.rows:
            stretch = stretch or _Open(False, result.settings, int(result.t_us[begin]))
            stretch.add(result, slice(begin, result.rows))
    assert stretch is not None, "the newest row is within the last minute"
    closed = stretch.close()
    assert closed is not None, "it holds the newest row"
    return closed
