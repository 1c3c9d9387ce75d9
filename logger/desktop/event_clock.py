"""From a window system's time stamps to the moment at which a key went down.

A busy window handles a key late; the window system has stamped it when it happened. Its milliseconds count
from a moment of its own (and wrap), so the distance to our clock is learnt: the least delay seen is taken as
none. It may rise by 1 ms a minute, for clocks drift.
"""

from __future__ import annotations

CREEP_PER_S = 1e-3 / 60.0
MOST_S = 30.0
"""A greater delay is no delay but another count: the distance is learnt anew."""


class EventClock:
    """Learns how late events are handled."""

    def __init__(self) -> None:
        self._distance_s: float | None = None
        self._learnt_s = 0.0

    def late_s(self, stamp_ms: int, now_s: float) -> float:
        """Say how long ago an event of this stamp happened [s]; 0 where it has none.

        Parameters
        ----------
        stamp_ms
            The window system's stamp [ms]; 0 for none.
        now_s
            Monotonic clock when the event is handled [s].

        Examples
        --------
        >>> clock = EventClock()
        >>> clock.late_s(5000, 100.0), round(clock.late_s(5400, 100.9), 3)
        (0.0, 0.5)
        """
        if stamp_ms <= 0:
            return 0.0
        distance = now_s - stamp_ms / 1000.0
        if self._distance_s is not None:
            least = self._distance_s + (now_s - self._learnt_s) * CREEP_PER_S
            late = distance - least
            if 0.0 <= late <= MOST_S:
                self._distance_s, self._learnt_s = least, now_s
                return late
        self._distance_s, self._learnt_s = distance, now_s
        return 0.0
