"""What the window needs of whatever it shows: a recording that runs, a stored session, a typed visit."""

from __future__ import annotations

from typing import Protocol

from analysis.timeline import Event
from logger.desktop.history import History
from logger.desktop.present import Present


class Source(Protocol):
    """Where the window's moments come from: a recording that runs, or a stored session."""

    history: History
    notice: str
    recording: bool

    @property
    def finished(self) -> bool:
        """Whether nothing is being written any more."""
        ...

    @property
    def events(self) -> list[Event]:
        """Events beside the readings."""
        ...

    def present(self) -> Present:
        """Give the moment that is shown."""
        ...

    def mark(self, text: str = "", ago_s: float = 0.0) -> None:
        """Note the moment, or the one so long ago at which the key went down."""
        ...

    def name(self, text: str, t_us: int | None = None) -> None:
        """Give a text to the mark of a moment, or to the newest."""
        ...

    def undo(self) -> None:
        """Take the newest mark back."""
        ...

    def back_date(self, seconds: float) -> None:
        """Move the newest mark back."""
        ...

    def alarm(self, text: str) -> None:
        """Note what was done about the alarm that wants somebody."""
        ...

    def assign(self, channel: str, point: str) -> None:
        """Let a channel feed a measuring point."""
        ...

    def stop(self, reason: str) -> None:
        """End the recording."""
        ...
