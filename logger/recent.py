"""The newest readings of a running recording, for whoever looks at more than the present moment."""

from __future__ import annotations

from analysis.rows import Rows
from logger.ring import Ring

SPAN_S = 300.0
"""As long as the longest window of a match."""


class Recent:
    """Readings of the last so many seconds, taken from the ring with a place of its own."""

    def __init__(self, ring: Ring, span_s: float = SPAN_S) -> None:
        self._ring, self._cursor = ring, ring.cursor()
        self._span_us = round(span_s * 1e6)
        self._rows = Rows.empty()

    def rows(self, now_us: int) -> Rows:
        """Give them, in the order of arrival; ``now_us`` is the present moment of the session."""
        rows = Rows.concatenate([self._rows, self._ring.read(self._cursor)])
        self._rows = rows.take(rows.t_us >= now_us - self._span_us)
        return self._rows
