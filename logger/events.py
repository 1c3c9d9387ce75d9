"""events.csv: everything that happened beside the readings, one line each, only ever appended to."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from analysis.timeline import Event
from logger.csv_line import END, field, one_line, split_line
from logger.moments import elapsed_text, parse_elapsed, parse_utc, utc_text
from logger.session_errors import Fault

EVENTS = "events.csv"
EVENT_COLUMNS = ("elapsed_s", "time_utc", "kind", "subject", "text")
EVENTS_HEADER = (",".join(EVENT_COLUMNS) + END).encode()


def event_line(event: Event) -> bytes:
    """Write an event as a line; line breaks in its text become blanks."""
    texts = (event.kind, event.subject, event.text)
    fields = (elapsed_text(event.t_us), utc_text(event.utc_us), *(field(one_line(text)) for text in texts))
    return (",".join(fields) + END).encode()


def parse_event(line: bytes) -> Event:
    """Read a line of events.csv.

    Raises
    ------
    ValueError
        With what is wrong.
    """
    elapsed, utc, kind, subject, text = split_line(line, len(EVENT_COLUMNS))
    if not kind:
        raise ValueError("the kind of event is missing")
    return Event(parse_elapsed(elapsed), parse_utc(utc), kind, subject, text)


def clock_event(t_us: int, utc_us: int) -> Event:
    """Say which UTC belongs to a moment of the session; written at the start, each minute, at each jump."""
    return Event(t_us, utc_us, "clock", "", utc_text(utc_us))


def read_events(path: Path, report: Callable[[Fault], None] | None = None) -> list[Event]:
    """Read all whole events; what is not whole is reported and left out.

    Parameters
    ----------
    path
        An events.csv, which may still be growing; a missing file holds no events.
    report
        Called with each line that could not be read.
    """

    def tell(line: int, sentence: str) -> None:
        if report is not None:
            report(Fault(path.name, line, sentence))

    events: list[Event] = []
    if not path.exists():
        return events
    with path.open("rb") as file:
        for number, line in enumerate(file, 1):
            if not line.endswith(b"\n"):
                tell(number, f"the last line is torn ({len(line)} bytes)")
            elif number == 1 and line.rstrip(b"\r\n") == EVENTS_HEADER.rstrip():
                continue
            else:
                if number == 1:
                    tell(number, f"the header {EVENTS_HEADER.decode().strip()} is missing")
                try:
                    events.append(parse_event(line))
                except ValueError as error:
                    tell(number, str(error))
    return events
