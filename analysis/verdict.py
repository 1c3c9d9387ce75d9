"""May the readings be believed yet? One state for every signal, every result and the machine as a whole."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from analysis.elementwise import FloatArray
from analysis.flow_change import FlowWatch
from analysis.hunting import Swing, Swings
from analysis.signals import SIGNALS
from analysis.standing import Standing, State, ranked
from analysis.steadiness import (
    CONFIRM_S,
    SETTLE_S,
    WindowStatistics,
    WindowSums,
    extend,
)
from analysis.time_to_steady import Course, TimeToSteady, forecast
from analysis.watched import ROW_S, Watched, single_signals

__all__ = ["Judge", "Judgement", "Standing", "State"]

Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]
FORECAST_EVERY_ROWS = 10
START_ROWS = 30
"""The first half minute after a start or change is no exponential yet."""
AT_ONCE_CELLS = 100_000
"""Sets of signals are joined together as long as their cells fit the processor's near memory."""


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
    time_to_steady: TimeToSteady | None = None
    """When the machine as a whole will probably be steady, from the last row on."""

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
            self.time_to_steady,
        )


@dataclass(slots=True)
class Judge:
    """The fold's memory: window sums, and since when every set of signals has been still."""

    names: tuple[str, ...] = ()
    sums: WindowSums | None = None
    swings: Swings = field(default_factory=Swings)
    changed_row: int = 0
    not_still_row: dict[frozenset[str], int] = field(default_factory=dict)
    """Set of signals to the last row at which it was not still."""
    was_running: bool | None = None
    told_row: int = 0
    flows: FlowWatch = field(default_factory=FlowWatch)
    told: TimeToSteady | None = None
    """The forecast of the time to steady, made at every tenth row, and the row it was made at."""

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
        flows: Mapping[str, tuple[str, FloatArray]] = MappingProxyType({}),
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
        flows
            Flow (a measuring point) to the channel that feeds it and its values.
        """
        names = tuple(signals)
        if n is None:
            n = next(iter(signals.values())).size if names else 0
        rows = first_row + np.arange(n, dtype=np.int64)
        since_row = self._since_change(rows, running, changed, self.flows.extend(flows, n))
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
            {name: swing for name, swing in zip(names, self.swings.now, strict=True) if swing is not None},
            self._time_to_steady(rows, watched, standing_of[everything], since_row),
        )

    def _since_change(self, rows: Ints, running: Bools | None, changed: bool, flow_changed: Bools) -> Ints:
        """Row of the last start or change, for each row."""
        starts = flow_changed.copy()
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
        if self.sums is not None and self.sums.next_row != first_row:  # nothing was watched meanwhile
            self.names, self.sums = (), None
        keep = [self.names.index(name) if name in self.names else -1 for name in names]
        quantum = np.array([SIGNALS[name].quantum for name in names])
        sums = WindowSums(quantum, first_row) if self.sums is None else self.sums.of(keep, quantum)
        self.names, self.sums, self.swings = names, sums, self.swings.of(keep)
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
        return tested.hunting(self.swings.extend(first_row, values, tested.may_swing))

    def _time_to_steady(
        self, rows: Ints, watched: Watched, overall: Standing, since_row: Ints
    ) -> TimeToSteady | None:
        """Say at the last row when it will be steady; fitted at every tenth row and counted down between."""
        if not rows.size:
            return None
        last = int(rows[-1])
        at = last - last % FORECAST_EVERY_ROWS
        if at >= rows[0]:
            index = at - int(rows[0])
            settling = overall.state[index] == State.SETTLING and overall.limiting[index] >= 0
            run_in = at - int(since_row[index])
            self.told_row, self.told = (
                at,
                self._forecast(index, last - at, watched, run_in) if settling else None,
            )
        if overall.state[-1] != State.SETTLING:
            return None
        if overall.limiting[-1] >= 0:
            return self.told.later((last - self.told_row) * ROW_S) if self.told is not None else None
        # Everything is still: only time is lacking, and how much is known.
        settled_in = SETTLE_S - (last - int(since_row[-1])) * ROW_S
        if settled_in > 0.0:
            return TimeToSteady.exactly(settled_in + CONFIRM_S)
        calm_s = (last - self.not_still_row[frozenset(self.names)]) * ROW_S
        return TimeToSteady.exactly(CONFIRM_S - calm_s)

    def _forecast(self, index: int, after: int, watched: Watched, run_in: int) -> TimeToSteady | None:
        """Fit the signals that hold it back at one row."""
        window, courses = watched.statistics, []
        for signal in np.flatnonzero(watched.drifts[:, index]).tolist():
            rows, noise = int(window.rows[signal, index]), float(window.noise[signal, index])
            end = self.swings.tails.shape[1] - after
            begin = max(end - max(min(rows, run_in - START_ROWS), 0), 0)
            limit = SIGNALS[self.names[signal]].slope_per_s * ROW_S
            courses.append(
                Course(self.swings.tails[signal, begin:end], noise if noise > 0.0 else 0.0, limit, rows)
            )
        return forecast(courses, max(SETTLE_S - run_in * ROW_S, 0.0), CONFIRM_S)

    def _standings(
        self,
        sets: Sequence[frozenset[str]],
        names: tuple[str, ...],
        rows: Ints,
        watched: Watched,
        since_row: Ints,
        running: Bools | None,
    ) -> dict[frozenset[str], Standing]:
        """Join the signals of every set into one state for each row, several sets in one go."""
        settled = (rows - since_row) * ROW_S >= SETTLE_S
        at_once = max(1, AT_ONCE_CELLS // max(1, len(names) * rows.size))
        found: dict[frozenset[str], Standing] = {}
        for begin in range(0, len(sets), at_once):
            some = sets[begin : begin + at_once]
            wanted = np.array([[name in one for name in names] for one in some], bool).reshape(len(some), -1)
            state, limiting, steady_s = self._joined(some, wanted, rows, watched, settled)
            if running is not None:
                state[:, ~running], limiting[:, ~running] = int(State.REST), -1
                steady_s[:, ~running] = 0.0
            for index, one in enumerate(some):
                found[one] = Standing(state[index], limiting[index], steady_s[index])
        return found

    def _joined(
        self,
        sets: Sequence[frozenset[str]],
        wanted: Bools,
        rows: Ints,
        watched: Watched,
        settled: Bools,
    ) -> tuple[npt.NDArray[np.int8], npt.NDArray[np.int16], FloatArray]:
        """Give state, limiting signal and steady time of some sets, each (sets, n)."""
        seen = np.asarray(wanted.any(axis=1)).reshape(-1, 1)
        before = int(rows[0]) - 1 if rows.size else -1
        if not wanted.any():
            calm = np.zeros((len(sets), rows.size), bool)
            state = np.full(calm.shape, int(State.AT_ONCE if wanted.size else State.WAITING), np.int8)
            limiting = np.full(calm.shape, -1, np.int16)
        else:
            member = wanted[:, :, None]
            calm = (watched.passed | ~member).all(axis=1) & settled & seen
            state, limiting = ranked(watched, member, settled)
            state = np.where(seen, state, np.int8(State.AT_ONCE))
            limiting = np.where(seen, limiting, np.int16(-1))
        since = np.array([self.not_still_row.get(one, before) for one in sets], np.int64)[:, None]
        last_failed = np.maximum(np.maximum.accumulate(np.where(calm, -1, rows), axis=1), since)
        if rows.size:
            self.not_still_row.update(zip(sets, last_failed[:, -1].tolist(), strict=True))
        calm_s = (rows - last_failed) * ROW_S
        steady = calm & (calm_s > CONFIRM_S)
        state[steady], limiting[steady] = int(State.STEADY), -1
        return state, limiting, np.where(steady, calm_s - CONFIRM_S, 0.0)
