"""What the page is drawn from on which a visit is set up: devices around, declarations, joins."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.measure import Channel
from analysis.points import POINTS
from analysis.presets import PresetName, duration
from analysis.units import to_si
from drivers.base import Found, LinkState
from logger.desktop.amounts import amount
from logger.desktop.key_page import Offer
from logger.listening import Listening, Spoken
from logger.scanning import Seen
from logger.shown_values import plain
from logger.visit_plan import lacks_profile

GOOD_DBM, FAIR_DBM = -67.0, -80.0
"""From where a radio's strength is called good, and fair (common practice, no source)."""
_KINDS = {
    "serial_lines": "serial port", "ble_gatt": "Bluetooth", "ble_broadcast": "Bluetooth broadcast",
    "onewire": "1-Wire bus", "typed": "typed",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Row:
    """One device around, as a key."""

    word: str
    told: str
    act: str
    taken: bool = False
    trouble: str = ""
    """In two or three words, where it needs a person."""


@dataclass(frozen=True, slots=True)
class FindPage:
    """Everything the page shows."""

    rows: tuple[Row, ...] = ()
    looking: str = ""
    """How long the look goes on, or how long it is over."""
    still_looking: bool = False
    troubles: tuple[str, ...] = ()
    refrigerants: tuple[str, ...] = ()
    """Those that have keys of their own."""
    refrigerant: str = ""
    mode: str = ""
    fluid: str = ""
    joined: int = 0
    channels: int = 0
    taken: int = 0
    waiting: str = ""
    """The taken device that has not spoken yet, and why."""
    again: str = ""
    """The visit before, whose set-up can be used again."""
    last: str = ""
    """The session before, which can be looked at."""
    busy: str = ""
    question: str = ""
    offers: tuple[Offer, ...] = ()
    page: int = 0


def strength_words(dbm: float | None) -> str:
    """Say how strongly a radio is heard; nothing where there is none.

    Examples
    --------
    >>> strength_words(-60.0), strength_words(-75.0), strength_words(-90.0), strength_words(None)
    ('signal good', 'signal fair', 'signal weak', '')
    """
    if dbm is None:
        return ""
    return "signal good" if dbm >= GOOD_DBM else "signal fair" if dbm >= FAIR_DBM else "signal weak"


def kind_words(kind: str, address: str) -> str:
    """Say what carries the readings.

    Examples
    --------
    >>> kind_words("serial_lines", "/dev/ttyUSB0"), kind_words("serial_lines", "socket://board:4000")
    ('serial port', 'network')
    """
    if "://" in address:
        return "network"
    return _KINDS.get(kind, kind.replace("_", " "))


def found_row(seen: Seen, now_s: float, act: str) -> Row:
    """Write a device that was found and not taken."""
    found = seen.found
    parts = [kind_words(found.kind, found.address), strength_words(found.strength_dbm), _fits(found)]
    parts.append(f"seen {duration(max(now_s - seen.at_s, 0.0))} ago")
    return Row(plain(found.label or found.address), " · ".join(filter(None, parts)), act)


def taken_row(name: str, word: str, carried: str, listening: Listening | None, now_s: float, act: str) -> Row:
    """Write a device that was taken: what it says, or why it says nothing."""
    told, trouble = link_words(listening, now_s)
    if not trouble:
        told = f"{', '.join(filter(None, (name, carried)))} · {told}"
    return Row(plain(word), plain(told), act, True, trouble)


def link_words(listening: Listening | None, now_s: float) -> tuple[str, str]:
    """Say how a taken device stands, and in two words what is wrong where something is."""
    if listening is None:
        return "not asked yet", ""
    if listening.misread:
        return "nothing it sends fits its profile: touch it to choose another", "WRONG PROFILE"
    if listening.failed:
        assert listening.event is not None, "what has failed has said so"
        lost = listening.event.state is LinkState.WAITING
        return listening.failed.rstrip("."), "NO LINK" if lost else "NEEDS YOU"
    heard = listening.heard()
    if not heard:
        state = listening.event.state if listening.event is not None else LinkState.SEARCHING
        words = {LinkState.LIVE: "linked, nothing read yet", LinkState.SEARCHING: "searching for it"}
        return words.get(state, state.value), ""
    age = max(now_s - max(spoken.at_s for spoken in list(listening.newest.values())), 0.0)
    count = f"{len(heard)} channel{'s' if len(heard) > 1 else ''} read"
    return f"{count}, newest {age:.0f} s ago" if age >= 2.0 else f"{count}, live", ""


def value_words(channel: Channel, spoken: Spoken | None, preset: PresetName) -> str:
    """Write a channel's newest value in the units of the preset."""
    if spoken is None or spoken.value is None or not math.isfinite(spoken.value):
        return "no value"
    return amount(channel.quantity, to_si(channel.quantity, channel.unit, spoken.value), preset).text


def channel_offers(
    listening: Sequence[Listening], points: dict[str, str], preset: PresetName, channels: Sequence[Channel]
) -> tuple[Offer, ...]:
    """Write every channel as a key: what it reads now, and which measuring point it feeds."""
    newest: dict[str, Spoken] = {}
    for one in listening:
        newest |= one.newest
    offers = []
    for channel in channels:
        name = channel.id.partition("/")[2]
        word = f"{channel.label}  {name}" if channel.label and channel.label != name else name
        fed = POINTS[points[channel.id]].label if channel.id in points else "not joined"
        value = value_words(channel, newest.get(channel.id), preset)
        offers.append(Offer(plain(word), f"visit channel {channel.id}", f"{value} · {fed}"))
    return tuple(offers)


def _fits(found: Found) -> str:
    if lacks_profile(found):
        return "several profiles fit" if found.profiles else "profile not known"
    if found.profiles:
        return f"fits {found.profiles[0]}"
    # Values stand here in the device's own units; they are shown in the person's once it is taken.
    return plain(re.sub(r"\s[-−]?\d[^\s,]*(\s[^\s,]+)?(?=,|$)", "", found.evidence))
