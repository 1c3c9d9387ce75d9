"""Events of a session, and which of them holds at a moment.

Which channel feeds which measuring point, offsets, the barometer, the refrigerant and the phase are events
beside the readings. Correcting one never touches an old line: a later line overrules every earlier line of
the same kind and subject from its own moment on. A correction from moment 0 repairs the whole session.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Event:
    """One line beside the readings."""

    t_us: int
    """The moment from which it holds, since t = 0 [us]."""
    utc_us: int
    """When it was written, since 1970-01-01 UTC [us]."""
    kind: str
    """For example ``assign``, ``offset``, ``phase``, ``mark``, ``link``, ``clock``."""
    subject: str = ""
    """What it is about: a channel, an adapter, or nothing."""
    text: str = ""


KINDS = {
    "clock": "UTC at this moment",
    "link": "a device's connection: its state and the reason",
    "channel": "a channel was found: its label and unit",
    "assign": "the measuring point that a channel feeds; empty for none",
    "offset": "what is added to a channel's indication, with its unit, and how it was found; empty for none",
    "scale": "what a channel's indication is multiplied by",
    "barometer": "absolute air pressure of the site, with its unit",
    "refrigerant": "what the machine is filled with",
    "fluid": "what flows in the source or load circuit",
    "mode": "heating or cooling, as called for",
    "phase": "rest, start, settle, as-found, repair, as-left or night",
    "mark": "a moment noted by the person",
    "unmark": "the mark of this moment is taken back",
    "named": "another text for the mark of this moment",
    "dropout": "how long a channel gave no reading",
    "rejected": "what a device sent and could not be decoded, counted by kind of fault",
    "lost": "readings that could not be kept, counted",
    "late": "readings that came after their second was closed, counted",
    "alarm": "raised with value and limit, cleared, suppressed; acknowledged, shelved with the reason",
    "watch": "a band learnt, left or regained; from when to when a watch kept every reading",
    "thinned": "readings that a watch left out, counted for each channel",
    "machine": "the compressor starts or stops, as the watch saw it",
    "storage": "from when to when the disk refused, and what became of the readings",
    "suspended": "how long the computer slept; nothing was read meanwhile, and time since t = 0 left it out",
    "awake": "why the computer could not be kept from sleeping",
    "stop": "why the recording ended",
    "recovered": "what was repaired in the files",
}
"""What the subject and text of each kind of event say; other kinds may follow and are read all the same."""


def timeline(events: Iterable[Event], kind: str, subject: str = "") -> list[tuple[int, str]]:
    """Give what holds from when on, for one kind of event and one subject.

    Parameters
    ----------
    events
        In the order in which they were written.
    kind, subject
        Which events count.

    Returns
    -------
    list of (moment [us], text)
        Moments ascend strictly; each text holds until the next moment.

    Examples
    --------
    Two probes were found swapped after an hour, and the correction covers the whole session:

    >>> lines = [
    ...     Event(0, 0, "assign", "probe/1", "source_entering_temperature"),
    ...     Event(60_000_000, 60_000_000, "assign", "probe/1", ""),
    ...     Event(0, 3_600_000_000, "assign", "probe/1", "source_leaving_temperature"),
    ... ]
    >>> timeline(lines[:2], "assign", "probe/1")
    [(0, 'source_entering_temperature'), (60000000, '')]
    >>> timeline(lines, "assign", "probe/1")
    [(0, 'source_leaving_temperature')]
    """
    holding: list[tuple[int, str]] = []
    for event in events:
        if event.kind == kind and event.subject == subject:
            while holding and holding[-1][0] >= event.t_us:
                holding.pop()
            holding.append((event.t_us, event.text))
    return holding


def holding_at(line: Sequence[tuple[int, str]], t_us: int) -> str | None:
    """Give the text that holds at a moment of a :func:`timeline`; None before its first one.

    Examples
    --------
    >>> holding_at([(0, "rest"), (5, "start")], 5), holding_at([(3, "rest")], 2)
    ('start', None)
    """
    place = bisect_right(line, t_us, key=lambda entry: entry[0])
    return line[place - 1][1] if place else None


def subjects(events: Iterable[Event], kind: str) -> list[str]:
    """List the subjects that have events of a kind, in the order of their first one.

    Examples
    --------
    >>> subjects([Event(0, 0, "offset", "b"), Event(0, 0, "mark"), Event(1, 1, "offset", "a")], "offset")
    ['b', 'a']
    """
    return list(dict.fromkeys(event.subject for event in events if event.kind == kind))
