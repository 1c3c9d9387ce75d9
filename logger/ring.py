"""The ring: the newest readings in columns, for any number of readers that each keep their own place.

One thread writes; readers never make it wait. A reader that falls too far behind is told how many readings
it has lost; the session on disk has them all.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.rows import Rows


@dataclass(slots=True)
class Cursor:
    """A reader's place in the ring."""

    position: int = 0
    lost: int = 0
    """Readings that were overwritten before this reader came to them."""


class Ring:
    """The newest readings of all channels, in the order in which they came."""

    def __init__(self, capacity: int = 1 << 17) -> None:
        self.capacity = capacity
        self._t_us = np.zeros(capacity, np.int64)
        self._channel = np.zeros(capacity, np.int32)
        self._value = np.zeros(capacity, np.float64)
        self._quality = np.zeros(capacity, np.uint16)
        self._ids: tuple[str, ...] = ()
        self._written = 0

    @property
    def written(self) -> int:
        """How many readings have ever been written."""
        return self._written

    def write(self, rows: Rows) -> None:
        """Put readings in; only one thread may do so."""
        if not len(rows):
            return
        known = (*self._ids, *(name for name in rows.ids if name not in self._ids))
        total = len(rows)
        rows = rows.indexed_by(known).take(slice(-self.capacity, None))
        places = (self._written + total - len(rows) + np.arange(len(rows))) % self.capacity
        self._t_us[places] = rows.t_us
        self._channel[places] = rows.channel
        self._value[places] = rows.value
        self._quality[places] = rows.quality
        self._ids = known  # readers take the names before the count, so a name is never missing
        self._written += total

    def cursor(self, *, newest: bool = False) -> Cursor:
        """Give a place to read from: the beginning, or only what will come."""
        return Cursor(self._written if newest else max(self._written - self.capacity, 0))

    def read(self, cursor: Cursor) -> Rows:
        """Give what has come since the cursor's last turn, and move the cursor on."""
        upto = self._written
        begin = max(cursor.position, upto - self.capacity)
        places = np.arange(begin, upto) % self.capacity
        ids = self._ids
        rows = Rows(
            ids, self._t_us[places], self._channel[places], self._value[places], self._quality[places]
        )
        # What the writer overwrote while it was being copied is lost, not mixed up.
        safe = max(begin, self._written - self.capacity)
        cursor.lost += safe - cursor.position
        cursor.position = upto
        return rows.take(slice(safe - begin, None))
