"""A foot switch or clicker: a keyboard whose key is held, repeats or bounces. One press is one mark.

Press-down marks. A second press within two seconds takes the mark back; held for a second the mark reads
"I changed"; a second press that is held shows or leaves the far view. No clock and no Qt: moments come with
the calls.
"""

from __future__ import annotations

from typing import Literal

Act = Literal["mark", "undo", "changed", "far"]

REPEAT_S = 0.12
"""A press this soon after the last press or release is the same press: bounce of the contact, or a switch
that repeats its key while it is held (10 per s and faster)."""
BOUNCE_S = 0.06
"""Repeats later than this after a press are no bounce: the switch repeats while it is held."""
AGAIN_S = 2.0
HOLD_S = 1.0


class Switch:
    """The presses of one switch."""

    def __init__(self) -> None:
        self._down = False
        self._since = self._last = -1e9
        self._mark_s = -1e9
        """When the mark that a second press may take back was taken."""
        self._second = self._told = True
        self._repeats = False

    def press(self, t_s: float) -> list[Act]:
        """Take a press-down; gives what it asks for at once."""
        same = self._down or t_s - self._last < REPEAT_S
        self._down, self._last = True, max(t_s, self._last)
        if same:
            self._repeats = self._repeats or t_s - self._since > BOUNCE_S
            return []
        done = self.due(t_s)
        self._since, self._told, self._repeats = t_s, False, False
        self._second = t_s - self._mark_s <= AGAIN_S
        if self._second:
            return done
        self._mark_s = t_s
        return [*done, "mark"]

    def release(self, t_s: float) -> list[Act]:
        """Take a release; what it means is known once no repeat follows, see :meth:`due`."""
        held = self.due(t_s)
        self._down, self._last = False, max(t_s, self._last)
        return held

    def due(self, now_s: float) -> list[Act]:
        """Give what has become sure by now: a press was held, or a second one was short."""
        if self._told:
            return []
        # A switch that repeats by taps is up between them, and still held.
        end = now_s if self._down else self._last
        if self._second and self._repeats:
            # The repeats of a held switch often begin after half a second of nothing: still the first press.
            self._second, self._since = False, self._mark_s
        if end - self._since >= HOLD_S:
            self._told = True
            if self._second:
                self._mark_s = -1e9
            return ["far" if self._second else "changed"]
        if self._down or now_s - self._last < REPEAT_S:
            return []
        self._told = True
        if not self._second:
            return []
        self._mark_s = -1e9
        return ["undo"]
