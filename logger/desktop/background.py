"""Work beside the window: one piece at a time, in a thread of its own, so that drawing never waits."""

from __future__ import annotations

import threading
from collections.abc import Callable


class Background:
    """One piece of work at a time; what may go wrong in it is told by the work itself."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._thread: threading.Thread | None = None

    @property
    def busy(self) -> bool:
        """Whether something is being worked out."""
        return self._thread is not None and self._thread.is_alive()

    def start(self, work: Callable[[], None]) -> None:
        """Begin a piece of work."""
        self._thread = threading.Thread(target=work, name=self._name, daemon=True)
        self._thread.start()

    def join(self, timeout_s: float) -> bool:
        """Wait until nothing is being worked out; gives whether that is so."""
        if self._thread is not None:
            self._thread.join(timeout_s)
        return not self.busy
