"""Marks of a session: moments noted by the person, taken back, moved and named by later events."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from analysis.timeline import Event


def standing_marks(events: Iterable[Event]) -> list[Event]:
    """Give the marks that stand, in the order in which they were set.

    ``unmark`` takes the mark of its moment away, ``named`` gives it another text. All lines stay in the file.

    Examples
    --------
    A mark is taken back, another is named later:

    >>> lines = [
    ...     Event(5, 5, "mark"), Event(8, 8, "mark"), Event(5, 9, "unmark"),
    ...     Event(8, 60, "named", "", "strainer opened"),
    ... ]
    >>> [(mark.t_us, mark.text) for mark in standing_marks(lines)]
    [(8, 'strainer opened')]
    """
    marks: list[Event] = []
    for event in events:
        if event.kind == "mark":
            marks.append(event)
        elif event.kind == "unmark":
            marks = [mark for mark in marks if mark.t_us != event.t_us]
        elif event.kind == "named":
            marks = [replace(m, text=event.text) if m.t_us == event.t_us else m for m in marks]
    return marks


def taken_back(mark: Event, utc_us: int = 0) -> Event:
    """Give the event that takes a mark back."""
    return Event(mark.t_us, utc_us, "unmark", "", mark.text)


def moved_back(mark: Event, seconds: float, utc_us: int = 0) -> tuple[Event, Event]:
    """Give the events that move a mark to a moment before it was set, not before the session.

    Examples
    --------
    >>> [(e.kind, e.t_us) for e in moved_back(Event(8_000_000, 0, "mark"), 5.0)]
    [('unmark', 8000000), ('mark', 3000000)]
    """
    at_us = max(mark.t_us - round(seconds * 1e6), 0)
    return taken_back(mark, utc_us), Event(at_us, utc_us, "mark", "", mark.text)
