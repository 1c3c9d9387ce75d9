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
from analysis.derived import BY_SYMBOL
from analysis.evaluation import Plan
from analysis.flow_change import FLOWS
from analysis.frame import Frame, FrameBuilder
from analysis.machine_events import running
from analysis.measure import Channel
from analysis.measured import Column, Fitting
from analysis.rows import Rows
from analysis.saturation import SaturationCurve
from analysis.settings import Settings
from analysis.signals import SIGNALS, signals_of, signals_present
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
    kept: Fitted | None = field(default=None, init=False, repr=False)

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

    def _fitted(self, held: Settings) -> Fitted:
        """Give what the settings mean; kept, since they stay the same for nearly all rows."""
        kept, curve = self.kept, self.curve_of.get(held.refrigerant)
        channels = {name: self.channels[fed] for name, fed in held.channel_of.items() if fed in self.channels}
        if kept is None or kept.held is not held or kept.curve is not curve or kept.channels != channels:
            kept = self.kept = Fitted.of(held, channels, curve)
        return kept

    def _span(self, frame: Frame, begin: int, end: int, held: Settings) -> Results:
        fitted, part = self._fitted(held), slice(begin, end)
        fitting, plan = fitted.fitting, fitted.plan
        t_us = frame.t_us[part]
        measured = fitting.measured(frame.of([channel.id for channel in fitting.channels], part), t_us)
        points = {name: measured.column(index) for index, name in enumerate(fitting.names)}
        derived = plan.derive(measured)
        # The span begins anew where its settings do; a chunk that only continues them does not.
        begins_here = frame.first_row + begin == _first_row_of(held, self.frame.step_us)
        judgement = self.judge.extend(
            frame.first_row + begin,
            {name: (derived.get(name) or points[name]).value for name in fitted.signals},
            {
                name: np.logical_or.reduce([measured.fresh[index] for index in fed])
                for name, fed in fitted.signals.items()
            },
            fitted.rests_on,
            running=running(points),
            broken=_broken_signals(held, plan.inputs) if begins_here else frozenset(),
            changed=begins_here and held.changed,
            n=t_us.size,
            flows={name: (held.channel_of[name], points[name].value) for name in FLOWS if name in points},
        )
        return Results(t_us, points, derived, judgement, plan.inputs, plan.missing, held)


@dataclass(frozen=True, slots=True)
class Fitted:
    """What settings mean for the rows under them."""

    held: Settings
    channels: Mapping[str, Channel]
    """Measuring point to the channel that feeds it, of those that were known when this was made."""
    curve: SaturationCurve | None
    fitting: Fitting
    plan: Plan
    signals: Mapping[str, tuple[int, ...]]
    """Watched signal to the measuring points (their index) whose readings feed it."""
    rests_on: Mapping[str, tuple[str, ...]]
    """Derived value to the signals that must be steady."""

    @classmethod
    def of(cls, held: Settings, channels: Mapping[str, Channel], curve: SaturationCurve | None) -> Fitted:
        """Work them out."""
        fitting = Fitting.of(held, channels)
        known = Circumstances(curve, held.source_liquid, held.load_liquid, held.source_coil, held.mode)
        plan = Plan.of(fitting, known)
        index = {name: place for place, name in enumerate(fitting.names)}
        signals = {
            name: tuple(index[point] for point in plan.inputs.get(name, (name,)))
            for name in signals_present(index, curve is not None)
            if name in plan.inputs or name in index
        }
        rests_on = {symbol: signals_of(BY_SYMBOL[symbol], fed) for symbol, fed in plan.inputs.items()}
        return cls(held, channels, curve, fitting, plan, signals, rests_on)


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
