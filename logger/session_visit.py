"""A session read as one visit of the verdict: its best stretch, and what only the whole of it can tell."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from analysis.analyser import Results
from analysis.evidence import START_S, Seen, Visit, seen_value, visit_of_stretch
from analysis.machine_events import running
from analysis.unit_card import UnitCard
from analysis.verdict import State
from analysis.windows import steady_stretches
from logger.errors import DamagedInputError
from logger.replay import analyse_session, curves_for
from logger.session import Session

LEAST_S = 1200.0
"""A shorter session tells no starts per hour [s]."""
_SUPERHEAT_SIGNALS = ("suction_temperature", "evaporating_temperature")


def visit_of_session(session: Session, card: UnitCard | None) -> Visit:
    """Judge the longest steady stretch of a session; where none is steady, its last minute, marked so.

    Raises
    ------
    CommandError
        If it holds no readings, or cannot be read.
    """
    whole = _Whole()
    stretches = steady_stretches(whole.watch(analyse_session(session)))
    if not stretches:
        raise DamagedInputError(f"{session.folder} holds no readings to judge; 'evenrun verify' says why.")
    best = max(stretches, key=lambda stretch: (stretch.steady, stretch.seconds))
    curve = curves_for(session).get(best.settings.refrigerant)
    visit = visit_of_stretch(
        best,
        curve,
        card,
        running=whole.runs_at_end or best.steady,
        just_started=not best.steady and whole.since_change_s - best.seconds < START_S,
        extra=whole.extra(),
    )
    # Where nothing tells whether the machine runs, its readings are taken as those of a running one.
    return replace(visit, running=True) if whole.rows_told == 0 else visit


@dataclass(slots=True)
class _Whole:
    """What is gathered while a session is worked out."""

    seconds: float = 0.0
    starts: int = 0
    rows_told: int = 0
    runs_at_end: bool = False
    was_running: bool | None = None
    since_change_s: float = 0.0
    swing: float = math.nan
    """Widest swing of the superheat's signals while the machine hunted [K, peak to peak]."""

    def watch(self, results: Iterator[Results]) -> Iterator[Results]:
        """Pass the results on and look at each."""
        for result in results:
            self._look(result)
            yield result

    def _look(self, result: Results) -> None:
        self.seconds += result.rows
        self.since_change_s = float(result.judgement.since_change_s[-1])
        on = running(result.points)
        if on is not None and on.size:
            before = bool(on[0]) if self.was_running is None else self.was_running
            self.starts += int(np.sum(on & ~np.concatenate([[before], on[:-1]])))
            self.was_running = self.runs_at_end = bool(on[-1])
            self.rows_told += on.size
        if np.any(result.judgement.overall.state == int(State.HUNTING)):
            for name in _SUPERHEAT_SIGNALS:
                swing = result.judgement.swings.get(name)
                if swing is not None and not swing.swing <= self.swing:
                    self.swing = swing.swing

    def extra(self) -> dict[str, Seen]:
        """Give the values of the whole session."""
        found: dict[str, Seen] = {}
        if math.isfinite(self.swing):
            points = ("suction_temperature", "suction_pressure")
            found["superheat_swing"] = seen_value("superheat_swing", self.swing, 0.2, points)
        if self.rows_told and self.seconds >= LEAST_S:
            per_hour = self.starts * 3600.0 / self.seconds
            u = math.sqrt(max(self.starts, 1)) * 3600.0 / self.seconds
            if self.starts > 1:
                found["starts_per_hour"] = seen_value("starts_per_hour", per_hour, 0.5 * u)
        return found
