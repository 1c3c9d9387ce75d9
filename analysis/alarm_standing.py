"""How each alarm stands for the person: seen or not, shelved with a reason and a time after which it returns.

The states are those of ISA-18.2 / IEC 62682 (from memory): normal, unacknowledged, acknowledged, returned to
normal but unacknowledged, and shelved. An alarm out of its place (a machine that stands still) is suppressed
by design, which here only ends it: what was not seen stays to be seen.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from analysis.timeline import Event

KIND = "alarm"
ACKNOWLEDGED, UNSHELVED = "acknowledged", "unshelved"
ENDS = ("cleared", "suppressed")
MOST_SHELVED_MIN = 480
"""A shift: the standard wants shelving limited in time, and the alarm to come back by itself."""
_SHELVED = re.compile(r"shelved for (\d+) min: (.*\S)", re.DOTALL)


class AlarmState(StrEnum):
    """How an alarm stands."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "not acknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "over, not acknowledged"
    SHELVED = "shelved"


class AlarmError(ValueError):
    """An alarm cannot be shelved so; the text is one sentence with the way out."""


@dataclass(frozen=True, slots=True)
class AlarmStanding:
    """One alarm at a moment."""

    code: str
    state: AlarmState
    raised_us: int
    """When it was raised last."""
    times: int
    """How often it was raised."""
    active: bool
    shelved_until_us: int = 0
    reason: str = ""
    """Why it is shelved."""


def shelve_text(minutes: float, reason: str) -> str:
    """Write the event that shelves an alarm.

    Raises
    ------
    AlarmError
        Without a reason, or for a time that is no length of work.

    Examples
    --------
    >>> shelve_text(30, "hose off for the repair")
    'shelved for 30 min: hose off for the repair'
    """
    reason = " ".join(reason.split())
    if not reason:
        raise AlarmError("An alarm is shelved only with a reason; say why it may wait.")
    if not 1 <= minutes <= MOST_SHELVED_MIN:
        raise AlarmError(
            f"An alarm is shelved for 1 to {MOST_SHELVED_MIN} min, not {minutes:g}; it comes back by itself."
        )
    return f"shelved for {minutes:.0f} min: {reason}"


@dataclass(slots=True)
class _Entry:
    raised_us: int = 0
    times: int = 0
    active: bool = False
    seen: bool = True
    shelved_until_us: int = 0
    reason: str = ""


class AlarmBook:
    """Follows the events of all alarms; bounded by the number of alarms, not of events.

    Examples
    --------
    >>> book = AlarmBook()
    >>> book.take(Event(60_000_000, 0, "alarm", "freeze_margin_low", "raised: freeze margin too low"))
    >>> book.standings(61_000_000)[0].state.value
    'not acknowledged'
    >>> book.take(Event(90_000_000, 0, "alarm", "freeze_margin_low", "shelved for 1 min: valve being opened"))
    >>> [book.standings(at)[0].state.value for at in (100_000_000, 150_000_000)]
    ['shelved', 'acknowledged']
    >>> book.take(Event(160_000_000, 0, "alarm", "freeze_margin_low", "cleared"))
    >>> book.standings(161_000_000)[0].state.value
    'normal'
    """

    def __init__(self, events: Iterable[Event] = ()) -> None:
        self._entries: dict[str, _Entry] = {}
        for event in events:
            self.take(event)

    def take(self, event: Event) -> None:
        """Take in one event; what is no alarm's is passed over."""
        if event.kind != KIND:
            return
        word = re.split(r"[ :]", event.text, maxsplit=1)[0]
        if word == "raised":
            entry = self._entries.setdefault(event.subject, _Entry())
            entry.raised_us, entry.active, entry.seen = event.t_us, True, False
            entry.times += 1
            return
        known = self._entries.get(event.subject)
        shelved = _SHELVED.match(event.text)
        if known is None and shelved:
            known = self._entries.setdefault(event.subject, _Entry())
        if known is None:
            return
        if word in ENDS:
            known.active = False
        elif word == ACKNOWLEDGED:
            known.seen = True
        elif word == UNSHELVED:
            known.shelved_until_us, known.reason = 0, ""
        elif shelved:
            minutes = min(int(shelved.group(1)), MOST_SHELVED_MIN)
            known.shelved_until_us, known.reason = event.t_us + minutes * 60_000_000, shelved.group(2)
            known.seen = True  # who shelves it has seen it

    def standings(self, now_us: int) -> list[AlarmStanding]:
        """Give every alarm that was ever raised or shelved, the newest first."""
        found = [
            AlarmStanding(
                code, _state(entry, now_us), entry.raised_us, entry.times, entry.active,
                entry.shelved_until_us if now_us < entry.shelved_until_us else 0,
                entry.reason if now_us < entry.shelved_until_us else "",
            )
            for code, entry in self._entries.copy().items()  # asked from other threads
        ]  # fmt: skip
        return sorted(found, key=lambda one: -one.raised_us)


def _state(entry: _Entry, now_us: int) -> AlarmState:
    if now_us < entry.shelved_until_us:
        return AlarmState.SHELVED
    if entry.active:
        return AlarmState.ACKNOWLEDGED if entry.seen else AlarmState.UNACKNOWLEDGED
    return AlarmState.NORMAL if entry.seen else AlarmState.RETURNED
