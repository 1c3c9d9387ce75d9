"""When the disk refuses while recording: from when to when nothing was stored, told to the second."""

from __future__ import annotations

from dataclasses import dataclass

from logger.journal import JournalStatus
from logger.moments import elapsed_text


@dataclass(slots=True)
class StoringWatch:
    """Turns what the journal says into one event when storing stops and one when it goes on."""

    since_us: int | None = None
    dropped_before: int = 0
    most_held: int = 0

    def take(self, status: JournalStatus, now_us: int) -> tuple[int, str] | None:
        """Look at the journal; gives the moment and text of an event where something has changed.

        The recording goes on meanwhile; the event itself waits in memory like the readings.
        """
        if status.trouble is not None:
            self.most_held = max(self.most_held, status.held_rows)
            if self.since_us is not None:
                return None
            self.since_us = max(now_us - round(status.behind_s * 1e6), 0)
            self.dropped_before = status.dropped_rows
            self.most_held = status.held_rows
            why = status.trouble.removeprefix("Not stored: ").split(". ")[0]
            return self.since_us, f"not stored from {elapsed_text(self.since_us)} s on: {why}"
        if self.since_us is None:
            return None
        began, self.since_us = self.since_us, None
        return began, self._back(began, now_us, status)

    def close(self, status: JournalStatus, now_us: int) -> tuple[int, str] | None:
        """Tell a stop of storing that lasts until the end."""
        if self.since_us is None or status.trouble is None:
            return self.take(status, now_us)
        return self.since_us, f"not stored for {(now_us - self.since_us) / 1e6:.1f} s, until the end"

    def _back(self, began: int, now_us: int, status: JournalStatus) -> str:
        lost = status.dropped_rows - self.dropped_before
        kept = f"up to {self.most_held} readings waited in memory and are written now"
        missing = f"{lost} found no room and are lost" if lost else "none is lost"
        return f"stored again after {(now_us - began) / 1e6:.1f} s: {kept}; {missing}"
