"""Which sound a moment of a recording asks for: settled, a point lost, act now. No Qt and no player."""

from __future__ import annotations

from analysis.verdict import State
from logger.desktop.bands import Judged
from logger.desktop.present import Present
from logger.desktop.sounds import Cue

ACT_EVERY_S = 3.0
"""The act-now cue holds three beats of one second; it is played again until it is silenced."""
SHELVED_S = 300.0
"""A silenced act-now is heard again after this while, if it still holds."""


class CueWatch:
    """Follows the moments of one recording."""

    def __init__(self) -> None:
        self._steady: bool | None = None
        self._silent: frozenset[str] = frozenset()
        self._played_s = self._shelved_s = -1e9
        self.acting = False
        """Whether act-now is being heard."""

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
        act = any(judged is Judged.ACT for judged in present.judged.values())
        self.acting = act and now_s - self._shelved_s >= SHELVED_S
        if not act:
            self._shelved_s = -1e9
        if self.acting and now_s - self._played_s >= ACT_EVERY_S:
            self._played_s = now_s
            return "act"
        if lost:
            return "lost"
        return "settled" if settled else None

    def silence(self, now_s: float) -> None:
        """Silence the act-now that is being heard; it comes again if it still holds after five minutes."""
        self._shelved_s, self.acting = now_s, False
