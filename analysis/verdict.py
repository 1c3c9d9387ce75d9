"""May the readings be believed yet? One state for every signal, every result and the machine as a whole."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import IntEnum
from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.elementwise import FloatArray
from analysis.hunting import Swing, find_swing
from analysis.signals import SIGNALS
from analysis.steadiness import (
    CONFIRM_S,
    SETTLE_S,
    WINDOW_ROWS,
    WindowStatistics,
    WindowSums,
    extend,
)
from analysis.watched import ROW_S, Watched, single_signals

Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]
HUNTING_EVERY_ROWS = 10
"""Swings are looked for at every tenth row; a swing lasts far longer."""
TAIL_ROWS = 600
"""How much of each signal is kept for swings and for the time to steady [rows]."""


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
            return WindowStatistics(
                w.mean[cut], w.slope_per_row[cut], w.slope_error[cut], w.spread[cut], w.readings[cut],
                w.rows[cut], w.noise[cut], w.lead[cut], w.newest[cut],
            )  # fmt: skip

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

    names: tuple[str, ...] = ()
    sums: WindowSums | None = None
    tails: FloatArray = field(default_factory=lambda: np.empty((0, 0)))
    """The signals over the rows just before (s, at most a window)."""
    swing_now: dict[str, Swing | None] = field(default_factory=dict)
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
        n: int | None = None,
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
        n
            How many rows, where nothing may be assigned and there are no signals to count them by.
        """
        names = tuple(signals)
        if n is None:
            n = next(iter(signals.values())).size if names else 0
        rows = first_row + np.arange(n, dtype=np.int64)
        since_row = self._since_change(rows, running, changed)
        sets = {symbol: frozenset(wanted) for symbol, wanted in rests_on.items()}
        everything = frozenset(names)
        wanted_sets = list(dict.fromkeys([everything, *sets.values()]))
        for gone in set(self.not_still_row) - set(wanted_sets):
            del self.not_still_row[gone]
        watched = self._watch(first_row, signals, fresh, broken)
        standing_of = self._standings(wanted_sets, names, rows, watched, since_row, running)
        return Judgement(
            names,
            {name: watched.statistics.of(index) for index, name in enumerate(names)},
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

    def _take_names(self, names: tuple[str, ...], first_row: int) -> WindowSums:
        """Continue the memory of the signals that stay; a new signal begins with none."""
        if self.sums is not None and names == self.names:
            return self.sums
        keep = [self.names.index(name) if name in self.names else -1 for name in names]
        quantum = np.array([SIGNALS[name].quantum for name in names])
        sums = WindowSums(quantum, first_row) if self.sums is None else self.sums.of(keep, quantum)
        tails = np.full((len(names), self.tails.shape[1]), np.nan)
        for new, old in enumerate(keep):
            if old >= 0:
                tails[new] = self.tails[old]
        self.names, self.sums, self.tails = names, sums, tails
        self.swing_now = {name: self.swing_now.get(name) for name in names}
        return sums

    def _watch(
        self,
        first_row: int,
        signals: Mapping[str, FloatArray],
        fresh: Mapping[str, Bools],
        broken: frozenset[str],
    ) -> Watched:
        """Test every signal by itself, the part that follows the entering water taken off."""
        names = tuple(signals)
        sums = self._take_names(names, first_row)
        if not names:
            return Watched.nothing()
        values = np.stack([signals[name] for name in names])
        found = extend(
            sums,
            values,
            np.stack([fresh[name] for name in names]),
            np.array([name in broken for name in names]),
        )
        tested = single_signals(names, found, values)
        return tested.hunting(self._hunts(names, first_row, values, tested.may_swing))

    def _hunts(self, names: tuple[str, ...], first_row: int, values: FloatArray, may_swing: Bools) -> Bools:
        """Whether each signal swings regularly, looked at in every tenth row and held between."""
        held = np.concatenate([self.tails, values], axis=1)
        offset, n = self.tails.shape[1], values.shape[1]
        told = np.where(may_swing, -1, 0).astype(np.int8)  # -1: as at the row before
        looked = may_swing & ((first_row + np.arange(n)) % HUNTING_EVERY_ROWS == 0)
        before = np.array([self.swing_now[name] is not None for name in names])
        for index, name in enumerate(names):
            for row in np.flatnonzero(looked[index]).tolist():
                end = offset + row + 1
                swing = find_swing(held[index, max(end - WINDOW_ROWS, 0) : end], ROW_S)
                self.swing_now[name], told[index, row] = swing, swing is not None
        self.tails = held[:, -TAIL_ROWS:].copy()
        known = np.concatenate([before[:, None].astype(np.int8), told], axis=1)
        newest = np.maximum.accumulate(np.where(known >= 0, np.arange(n + 1), 0), axis=1)
        hunts = np.asarray(np.take_along_axis(known, newest, 1)[:, 1:] == 1)
        if n:
            for quiet in np.flatnonzero(~hunts[:, -1]).tolist():
                self.swing_now[names[quiet]] = None
        return hunts

    def _standings(
        self,
        wanted_sets: Sequence[frozenset[str]],
        names: tuple[str, ...],
        rows: Ints,
        watched: Watched,
        since_row: Ints,
        running: Bools | None,
    ) -> dict[frozenset[str], Standing]:
        """Join the signals of every set into one state for each row."""
        settled = (rows - since_row) * ROW_S >= SETTLE_S
        found: dict[frozenset[str], Standing] = {}
        for wanted in wanted_sets:
            seen = [index for index, name in enumerate(names) if name in wanted]
            found[wanted] = self._standing(
                wanted, seen, rows, watched.of(seen), settled, running, bool(names)
            )
        return found

    def _standing(
        self,
        wanted: frozenset[str],
        seen: list[int],
        rows: Ints,
        watched: Watched,
        settled: Bools,
        running: Bools | None,
        any_watched: bool,
    ) -> Standing:
        """Join the signals of a set into one state for each row."""
        n = rows.size
        calm = watched.passed.all(axis=0) & settled if seen else np.zeros(n, bool)
        last_failed = np.maximum(
            np.maximum.accumulate(np.where(calm, -1, rows)),
            self.not_still_row.get(wanted, int(rows[0]) - 1 if n else -1),
        )
        if n:
            self.not_still_row[wanted] = int(last_failed[-1])
        calm_s = (rows - last_failed) * ROW_S
        steady = calm & (calm_s > CONFIRM_S)
        if not seen:
            state = np.full(n, int(State.AT_ONCE if any_watched else State.WAITING), np.int8)
            limiting = np.full(n, -1, np.int16)
        else:
            state, limiting = _ranked(watched, np.array(seen, np.int16), settled)
            state[steady], limiting[steady] = int(State.STEADY), -1
        if running is not None:
            state[~running], limiting[~running] = int(State.REST), -1
            steady = steady & running
        return Standing(state, limiting, np.where(steady, calm_s - CONFIRM_S, 0.0))


def _ranked(watched: Watched, seen: npt.NDArray[np.int16], settled: Bools) -> tuple[Any, Any]:
    """Give the state of a set that is not steady and the signal that holds it back, for each row."""
    drifting = np.where(watched.drifts, watched.excess, 0.0)
    worst = drifting.argmax(axis=0)  # the signal furthest from its limit holds it back
    n = settled.size
    drifts = watched.drifts.any(axis=0)
    state = np.full(n, int(State.SETTLING), np.int8)
    limiting = np.where(drifts, seen[worst], -1).astype(np.int16)
    for code, tests in (
        (State.DISTURBED, ~drifts & settled & ~watched.passed),
        (State.HUNTING, watched.hunts),
        (State.CANNOT_SAY, watched.too_slow),
        (State.WAITING, watched.missing),
    ):  # the later ones come first in rank, and of several signals the first named
        hit = tests.any(axis=0)
        if hit.any():
            state[hit] = int(code)
            limiting[hit] = seen[tests.argmax(axis=0)[hit]]
    return state, limiting
