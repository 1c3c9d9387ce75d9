"""Which sound a moment of a recording asks for: settled, a point lost, act now. No Qt and no player."""

from __future__ import annotations

from analysis.verdict import State
from logger.desktop.present import Present
from logger.desktop.sounds import Cue

ACT_EVERY_S = 3.0
"""The act-now cue holds three beats of one second; it is played again until somebody answers the alarm."""


class CueWatch:
    """Follows the moments of one recording."""

    def __init__(self) -> None:
        self._steady: bool | None = None
        self._silent: frozenset[str] = frozenset()
        self._played_s = -1e9

    def step(self, present: Present, now_s: float) -> Cue | None:
        """Take the newest moment; gives the most urgent sound that it asks for."""
        newest = present.newest
        if newest is None:
            return None
        states = newest.judgement.overall.state
        steady = bool(states.size) and State(int(states[-1])) is State.STEADY
        settled, self._steady = steady and self._steady is False, steady
        fed = set(newest.settings.channel_of.values())
        silent = frozenset(channel for channel in present.silent if channel in fed)
        lost, self._silent = bool(silent - self._silent), silent
        if present.calling is not None and now_s - self._played_s >= ACT_EVERY_S:
            self._played_s = now_s
            return "act"
        if lost:
            return "lost"
        return "settled" if settled else None
