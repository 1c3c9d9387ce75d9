"""The one analyser for live, replay and batch: a fold over readings.

Any way of cutting the same readings into chunks gives the same results, bit for bit: rows are closed by the
order of the readings alone, every formula works element by element, and the sums over trailing windows are
kept in whole numbers.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from analysis.circumstances import Circumstances
from analysis.derived import BY_SYMBOL, REGISTRY, Derived
from analysis.elementwise import FloatArray
from analysis.frame import Frame, FrameBuilder
from analysis.machine_events import running
from analysis.measure import Channel
from analysis.measured import AMBIENT, Column, Measured, shared_parts
from analysis.measured import measured as measured_at
from analysis.rows import Rows
from analysis.saturation import SaturationCurve
from analysis.settings import Settings
from analysis.signals import SIGNALS, signals_of, signals_present
from analysis.uncertainty import propagate
from analysis.verdict import Judge, Judgement


@dataclass(frozen=True, slots=True)
class Results:
    """What the rows of one step mean."""

    t_us: np.ndarray
    points: Mapping[str, Column]
    """Measuring points that are fitted, in SI (pressures absolute)."""
    derived: Mapping[str, Column]
    judgement: Judgement
    inputs: Mapping[str, tuple[str, ...]]
    """Derived value to the measuring points that fed it."""
    missing: Mapping[str, tuple[str, ...]]
    """Derived value to what it lacks: measuring points, or the refrigerant."""
    settings: Settings

    @property
    def rows(self) -> int:
        """How many rows there are."""
        return int(self.t_us.size)


@dataclass(slots=True)
class Analyser:
    """Readings in, results out; see :meth:`step`."""

    channels: dict[str, Channel]
    settings: list[Settings]
    """Declared settings from each moment on, the first from the start; may grow while recording."""
    curve_of: Mapping[str, SaturationCurve] = field(default_factory=dict)
    """Refrigerant name to its saturation; what is not in it counts as not declared."""
    frame: FrameBuilder = field(default_factory=FrameBuilder)
    judge: Judge = field(default_factory=Judge)

    def step(self, rows: Rows, now_us: int | None = None, *, marked: bool = False) -> list[Results]:
        """Take in readings, or only the time, and give the results of the rows that they close.

        Parameters
        ----------
        rows
            Readings in the order in which they came.
        now_us
            Time since the start [microseconds]; closes rows although nothing has come.
        marked
            Whether late readings are flagged already, as they are before they are stored.

        Returns
        -------
        list of Results
            One for each span of rows with the same settings; empty when no row was closed.
        """
        frame = self.frame.add(rows, now_us, marked=marked)
        results = [self._span(frame, begin, end, held) for begin, end, held in self._spans(frame)]
        self._forget()
        return results

    def _forget(self) -> None:
        """Let go of settings that no row to come can need, so that thousands of reconnects cost nothing."""
        next_us = self.frame.next_row * self.frame.step_us
        while len(self.settings) > 1 and self.settings[1].from_us < next_us - self.frame.step_us:
            self.settings.pop(0)

    def _spans(self, frame: Frame) -> list[tuple[int, int, Settings]]:
        """Cut the frame where the settings change."""
        if not frame.rows:
            return []
        spans: list[tuple[int, int, Settings]] = []
        for row, held in merged_by_row(self.settings, self.frame.step_us):
            begin = min(max(row - frame.first_row, 0), frame.rows)
            if spans:
                spans[-1] = (spans[-1][0], begin, spans[-1][2])
            spans.append((begin, frame.rows, held))
        return [span for span in spans if span[0] < span[1]]

    def _points(self, frame: Frame, part: slice, held: Settings, t_us: np.ndarray) -> dict[str, Measured]:
        """Bring every fitted channel to its measuring point."""
        measured: dict[str, Measured] = {}
        names = sorted(held.channel_of, key=lambda name: name != AMBIENT)  # clamps need it
        for name in names:
            channel = self.channels.get(held.channel_of[name])
            if channel is not None:
                ambient = measured[AMBIENT].column.value if AMBIENT in measured else None
                cells = frame.cells.get(channel.id)
                measured[name] = measured_at(channel, name, held, t_us, cells, part, ambient)
        return {name: measured[name] for name in held.channel_of if name in measured}

    def _span(self, frame: Frame, begin: int, end: int, held: Settings) -> Results:
        part = slice(begin, end)
        t_us = frame.t_us[part]
        measured = self._points(frame, part, held, t_us)
        points = {name: point.column for name, point in measured.items()}
        curve = self.curve_of.get(held.refrigerant)
        derived: dict[str, Column] = {}
        inputs: dict[str, tuple[str, ...]] = {}
        missing: dict[str, tuple[str, ...]] = {}
        known = Circumstances(curve, held.source_liquid, held.load_liquid, held.source_coil, held.mode)
        fitted = set(points) - (set() if held.source_coil else {"source_pressure_drop"})
        for row in REGISTRY:
            if held.mode not in row.modes:
                continue
            lacks = row.missing(fitted) + known.lacks(row.needs)
            chosen = row.choose(fitted)
            if lacks or chosen is None:
                missing[row.symbol] = lacks
                continue
            inputs[row.symbol] = chosen
            derived[row.symbol] = _derive(row, [measured[name] for name in chosen], known, chosen)
        signals = {
            name: (derived.get(name) or points[name]).value
            for name in signals_present(points, curve is not None)
            if name in derived or name in points
        }
        signal_fresh = {
            name: np.logical_or.reduce([measured[p].fresh for p in inputs.get(name, (name,))])
            for name in signals
        }
        rests_on = {symbol: signals_of(BY_SYMBOL[symbol], chosen) for symbol, chosen in inputs.items()}
        # The span begins anew where its settings do; a chunk that only continues them does not.
        begins_here = frame.first_row + begin == _first_row_of(held, self.frame.step_us)
        judgement = self.judge.extend(
            frame.first_row + begin,
            signals,
            signal_fresh,
            rests_on,
            running=running(points),
            broken=_broken_signals(held, inputs) if begins_here else frozenset(),
            changed=begins_here and held.changed,
            n=t_us.size,
        )
        return Results(t_us, points, derived, judgement, inputs, missing, held)


def _first_row_of(held: Settings, step_us: int) -> int:
    """Index of the first row at which these settings hold."""
    return -(-held.from_us // step_us)


def merged_by_row(settings: Sequence[Settings], step_us: int) -> list[tuple[int, Settings]]:
    """Give the settings that hold from each row on; what several changes before one row broke adds up."""
    merged: dict[int, Settings] = {}
    for held in settings:
        row = _first_row_of(held, step_us)
        before = merged.get(row)
        if before is not None:
            held = dataclasses.replace(
                held, broken=held.broken | before.broken, changed=held.changed or before.changed
            )
        merged[row] = held
    return list(merged.items())


def _broken_signals(held: Settings, inputs: Mapping[str, tuple[str, ...]]) -> frozenset[str]:
    """Signals that rest on a channel whose window must begin anew."""
    return frozenset(
        name
        for name in SIGNALS
        if any(held.channel_of.get(p) in held.broken for p in inputs.get(name, (name,)))
    )


def _derive(
    row: Derived, inputs: Sequence[Measured], known: Circumstances, chosen: tuple[str, ...]
) -> Column:
    circumstances = dataclasses.replace(known, fed_by=chosen)

    def function(*arguments: FloatArray) -> FloatArray:
        return np.asarray(row.function(circumstances, *arguments))

    columns = [point.column for point in inputs]
    shape = columns[0].value.shape
    parameters = [(np.full(shape, value), np.full(shape, u)) for value, u in row.parameters(circumstances)]
    value, u = propagate(
        function,
        [c.value for c in columns] + [value for value, _ in parameters],
        [point.own for point in inputs] + [u for _, u in parameters],
        shared_parts(inputs),
    )
    oldest = np.maximum.reduce([c.age_s for c in columns])
    return Column(value, u, np.where(np.isfinite(value), oldest, np.nan))


def last_row(results: Sequence[Results]) -> Results | None:
    """Give the newest row alone, for a screen that shows the present."""
    if not results:
        return None
    newest = results[-1]
    cut = slice(newest.rows - 1, newest.rows)

    def column(c: Column) -> Column:
        return Column(c.value[cut], c.u[cut], c.age_s[cut])

    return dataclasses.replace(
        newest,
        t_us=newest.t_us[cut],
        points={name: column(c) for name, c in newest.points.items()},
        derived={name: column(c) for name, c in newest.derived.items()},
        judgement=newest.judgement.row(-1),
    )
