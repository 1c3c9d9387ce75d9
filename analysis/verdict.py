"""May the readings be believed yet? One state for every signal, every result and the machine as a whole."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from analysis.elementwise import FloatArray
from analysis.hunting import Swing, find_swing
from analysis.signals import SIGNALS
from analysis.steadiness import (
    CONFIRM_S,
    LONGEST_WINDOW_ROWS,
    SETTLE_S,
    WINDOW_READINGS,
    WINDOW_ROWS,
    WindowStatistics,
    WindowSums,
    extend,
    still,
)

Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]
ROW_S = 1.0
HUNTING_EVERY_ROWS = 10
"""Swings are looked for at every tenth row; a swing lasts far longer."""


class State(IntEnum):
    """How a signal or a result stands at a row; the first that applies, in this order."""

    REST = 0
    """The machine is not running."""
    WAITING = 1
    """A reading is missing or too old."""
    CANNOT_SAY = 2
    """A probe gives too few readings to be judged."""
    HUNTING = 3
    SETTLING = 4
    DISTURBED = 5
    """No trend, but more scatter than the probe accounts for."""
    STEADY = 6
    AT_ONCE = 7
    """A result that rests on nothing that must settle, such as a flow."""


@dataclass(frozen=True, slots=True)
class Standing:
    """The state of a set of signals at each row."""

    state: npt.NDArray[np.int8]
    limiting: npt.NDArray[np.int16]
    """Index into the judgement's signals of the one that holds it back; -1 where only time does."""
    steady_s: FloatArray
    """How long it has been steady [s]; 0 where it is not."""


@dataclass(frozen=True, slots=True)
class Judgement:
    """The verdict at each row."""

    signals: tuple[str, ...]
    statistics: Mapping[str, WindowStatistics]
    overall: Standing
    results: Mapping[str, Standing]
    since_change_s: FloatArray
    swings: Mapping[str, Swing]
    """Signals that hunt at the last row."""

    def row(self, index: int) -> Judgement:
        """Give the verdict of one row."""
        n = self.since_change_s.size
        cut = slice(index % n, index % n + 1)

        def standing(s: Standing) -> Standing:
            return Standing(s.state[cut], s.limiting[cut], s.steady_s[cut])

        def window(w: WindowStatistics) -> WindowStatistics:
            return WindowStatistics(*(getattr(w, name)[cut] for name in WindowStatistics.__slots__))

        return Judgement(
            self.signals,
            {name: window(w) for name, w in self.statistics.items()},
            standing(self.overall),
            {name: standing(s) for name, s in self.results.items()},
            self.since_change_s[cut],
            self.swings,
        )


@dataclass(slots=True)
class Judge:
    """The fold's memory: window sums, and since when every set of signals has been still."""

    sums: dict[str, WindowSums] = field(default_factory=dict)
    tails: dict[str, FloatArray] = field(default_factory=dict)
    swing_now: dict[str, Swing | None] = field(default_factory=dict)
    hunted: dict[str, bool] = field(default_factory=dict)
    changed_row: int = 0
    not_still_row: dict[frozenset[str], int] = field(default_factory=dict)
    """Set of signals to the last row at which it was not still."""
    was_running: bool | None = None

    def extend(
        self,
        first_row: int,
        signals: Mapping[str, FloatArray],
        fresh: Mapping[str, Bools],
        rests_on: Mapping[str, tuple[str, ...]],
        running: Bools | None,
        broken: frozenset[str],
        changed: bool,
    ) -> Judgement:
        """Judge further rows.

        Parameters
        ----------
        first_row
            Index of the first of the rows; rows count from the start of the session.
        signals : each (n,)
            Watched signals; NaN where unknown.
        fresh : each (n,)
            Whether a new reading arrived in the row.
        rests_on
            Result to the signals that must be steady before it may be believed.
        running : (n,) or None
            Whether the compressor runs, where that can be told.
        broken
            Signals whose windows begin anew at the first row.
        changed
            Whether the machine was changed at the first row.
        """
        names = tuple(signals)
        n = next(iter(signals.values())).size if names else 0
        if running is not None:
            n = running.size
        rows = first_row + np.arange(n, dtype=np.int64)
        for name in set(self.sums) - set(names):
            del self.sums[name], self.tails[name], self.swing_now[name]
            self.hunted.pop(name, None)
        since_row = self._since_change(rows, running, changed)
        watched = {
            name: self._watch(name, first_row, values, fresh[name], name in broken)
            for name, values in signals.items()
        }
        sets = {symbol: frozenset(wanted) for symbol, wanted in rests_on.items()}
        everything = frozenset(names)
        for gone in set(self.not_still_row) - {everything, *sets.values()}:
            del self.not_still_row[gone]
        standing_of = {
            wanted: self._standing(wanted, names, rows, watched, since_row, running)
            for wanted in {everything, *sets.values()}
        }
        return Judgement(
            names,
            {name: seen.statistics for name, seen in watched.items()},
            standing_of[everything],
            {symbol: standing_of[wanted] for symbol, wanted in sets.items()},
            np.asarray((rows - since_row) * ROW_S, np.float64),
            {name: swing for name, swing in self.swing_now.items() if swing is not None},
        )

    def _since_change(self, rows: Ints, running: Bools | None, changed: bool) -> Ints:
        """Row of the last start or change, for each row."""
        starts = np.zeros(rows.size, bool)
        if rows.size and changed:
            starts[0] = True
        if running is not None and running.size:
            before = running[0] if self.was_running is None else self.was_running
            starts |= running & ~np.concatenate([[before], running[:-1]])
            self.was_running = bool(running[-1])
        since = np.maximum(np.maximum.accumulate(np.where(starts, rows, 0)), self.changed_row)
        if rows.size:
            self.changed_row = int(since[-1])
        return np.asarray(since, np.int64)

    def _watch(self, name: str, first_row: int, values: FloatArray, fresh: Bools, broken: bool) -> _Watched:
        limit = SIGNALS[name]
        sums = self.sums.get(name)
        if sums is None:
            sums = WindowSums(limit.quantum, first_row, first_row, break_row=first_row)
            self.sums[name], self.tails[name], self.swing_now[name] = sums, np.empty(0), None
        breaks = np.zeros(values.size, bool)
        if broken and values.size:
            breaks[0] = True
        found = extend(sums, values, fresh, breaks)
        passed = still(found, limit, ROW_S)
        ready = (found.rows >= WINDOW_ROWS) & (found.readings >= WINDOW_READINGS)
        with np.errstate(invalid="ignore"):
            slope = (np.abs(found.slope_per_row) + 2.0 * found.slope_error) / ROW_S / limit.slope_per_s
            scattered = ready & ~(found.spread < limit.spread)
        return _Watched(
            found,
            passed,
            missing=~np.isfinite(values),
            too_slow=(found.rows >= LONGEST_WINDOW_ROWS) & (found.readings < WINDOW_READINGS),
            drifts=~ready | ~(slope < 1.0),
            hunts=self._hunts(name, first_row, values, scattered),
            excess=np.where(np.isfinite(slope), slope, np.inf),
        )

    def _hunts(self, name: str, first_row: int, values: FloatArray, scattered: Bools) -> Bools:
        """Whether the signal swings regularly, looked at in every tenth row and held between."""
        held = np.concatenate([self.tails[name], values])
        offset = self.tails[name].size
        looked = scattered & ((first_row + np.arange(values.size)) % HUNTING_EVERY_ROWS == 0)
        told = np.where(scattered, -1, 0).astype(np.int8)  # -1: as at the row before
        for index in np.flatnonzero(looked):
            end = offset + int(index) + 1
            self.swing_now[name] = find_swing(held[max(end - WINDOW_ROWS, 0) : end], ROW_S)
            told[index] = self.swing_now[name] is not None
        self.tails[name] = held[-WINDOW_ROWS:].copy()
        known = np.concatenate([[np.int8(self.hunted.get(name, False))], told])
        newest = np.maximum.accumulate(np.where(known >= 0, np.arange(known.size), 0))
        hunts = np.asarray(known[newest][1:] == 1)
        if values.size:
            self.hunted[name] = bool(hunts[-1])
            if not hunts[-1]:
                self.swing_now[name] = None
        return hunts

    def _standing(
        self,
        wanted: frozenset[str],
        names: tuple[str, ...],
        rows: Ints,
        watched: Mapping[str, _Watched],
        since_row: Ints,
        running: Bools | None,
    ) -> Standing:
        """Join the signals of a set into one state for each row."""
        n = rows.size
        seen = [(names.index(name), watched[name]) for name in names if name in wanted]
        settled = (rows - since_row) * ROW_S >= SETTLE_S
        calm = _all((w.passed for _, w in seen), n) & settled & bool(seen)
        last_failed = np.maximum(
            np.maximum.accumulate(np.where(calm, -1, rows)),
            self.not_still_row.get(wanted, int(rows[0]) - 1 if n else -1),
        )
        if n:
            self.not_still_row[wanted] = int(last_failed[-1])
        calm_s = (rows - last_failed) * ROW_S
        steady = calm & (calm_s > CONFIRM_S)

        state = np.full(n, int(State.SETTLING), np.int8)
        limiting = np.full(n, -1, np.int16)
        worst = np.zeros(n)
        for index, w in seen:  # the signal furthest from its limit holds it back
            further = w.drifts & (w.excess > worst)
            limiting[further], worst = index, np.where(further, w.excess, worst)
        calm_slopes = ~_any((w.drifts for _, w in seen), n)
        for code, tests in (
            (State.DISTURBED, [calm_slopes & settled & ~w.passed for _, w in seen]),
            (State.HUNTING, [w.hunts for _, w in seen]),
            (State.CANNOT_SAY, [w.too_slow for _, w in seen]),
            (State.WAITING, [w.missing for _, w in seen]),
        ):  # the later ones come first in rank, and of several signals the first named
            for (index, _), hit in reversed(list(zip(seen, tests, strict=True))):
                state[hit], limiting[hit] = int(code), index
        state[steady], limiting[steady] = int(State.STEADY), -1
        if not seen:
            state[:] = int(State.AT_ONCE if names else State.WAITING)
        if running is not None:
            state[~running], limiting[~running] = int(State.REST), -1
            steady = steady & running
        return Standing(state, limiting, np.where(steady, calm_s - CONFIRM_S, 0.0))


@dataclass(frozen=True, slots=True)
class _Watched:
    """One signal over the rows being judged."""

    statistics: WindowStatistics
    passed: Bools
    missing: Bools
    too_slow: Bools
    drifts: Bools
    hunts: Bools
    excess: FloatArray


def _all(tests: Iterable[Bools], n: int) -> Bools:
    result = np.ones(n, bool)
    for test in tests:
        result &= test
    return result


def _any(tests: Iterable[Bools], n: int) -> Bools:
    result = np.zeros(n, bool)
    for test in tests:
        result |= test
    return result
