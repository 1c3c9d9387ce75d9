"""A copy of a session for sharing: the same readings, and nothing that names a person, place or machine.

Only what is known to be harmless is copied: every text is either one of the program's own words, or an amount
that its own parser accepts whole. All else (titles, labels, serial numbers, addresses, notes, marks, photos,
the visit's record, sources of limits) stays behind. Times stay, since trends need them.
"""

from __future__ import annotations

import contextlib
import importlib.metadata
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import msgspec

from analysis.barometer import parse_barometer
from analysis.card_file import CardFile
from analysis.circumstances import RatedCoil
from analysis.compare import MODES
from analysis.correction import parse_correction
from analysis.derived import BY_SYMBOL
from analysis.liquids import parse_liquid
from analysis.measure import Channel
from analysis.points import POINTS
from analysis.pressure_table_text import PressureTableError, figures_only
from analysis.refrigerants import canonical_name
from analysis.rows import Rows
from analysis.timeline import Event
from analysis.unit_card import CardError, unit_card
from drivers.clock import FollowedClock
from logger.descriptor import SessionHeader
from logger.errors import CommandError, DamagedInputError, NotAvailableError
from logger.results_format import results_in
from logger.session import Session
from logger.session_card import written_card
from logger.session_errors import SessionError, SessionExistsError, StorageError
from logger.session_writer import SessionWriter

PHASES = ("rest", "start", "settle", "as-found", "repair", "as-left", "night")
_FLUSH_S = 60.0
_STATE = re.compile(r"(searching|connecting|live|silent|waiting|failed|ended)\b", re.ASCII)
_LENGTH = re.compile(r"[0-9]+(\.[0-9]+)? s\b", re.ASCII)
_DESIGNATION = re.compile(r"R-?[0-9]{2,4}[A-Za-z]{0,3}", re.ASCII)
_NUMBER = re.compile(r"[-+]?[0-9]{1,8}(\.[0-9]{1,12})?", re.ASCII)
_RESULT = re.compile(rb"-?[0-9.]+,([a-z_]+),[-+0-9.e]*,[-+0-9.e]*,[a-z_]*\r?\n")


@dataclass(slots=True)
class Stripped:
    """What was copied, and what stayed behind."""

    readings: int = 0
    left_behind: dict[str, int] = field(default_factory=dict)
    """Kind of event to how many of them were not copied."""
    unreadable: int = 0
    """Lines that could not be read, which stay behind too."""
    card: str = "no unit card"


def strip(session: Session, folder: Path) -> Stripped:
    """Write the copy into a new folder.

    Raises
    ------
    CommandError
        If the folder exists, or the disk refuses, or the session is still being written.
    """
    if session.recording:
        raise NotAvailableError(f"{session.folder} is still being written; strip it when it is closed.")
    outcome = Stripped()
    names = _Names(session.channels)
    tables, renamed = _tables(session)
    header = SessionHeader(
        title="session",
        software=f"evenrun {importlib.metadata.version('evenrun')}, stripped copy",
        libraries={_renamed(what, renamed): by for what, by in session.header.libraries.items()},
        unit_card=_card(session, outcome),
        barometer_pa=session.header.barometer_pa,
        pressure_tables=tables,
        part_us=session.header.part_us,
        lateness_us=session.header.lateness_us,
    )
    clock = FollowedClock(session.header.utc_start_us * 1000)
    try:
        writer = SessionWriter.create(folder, header, clock)
    except SessionExistsError as error:
        raise CommandError(f"{error}.") from None
    except StorageError as error:
        raise NotAvailableError(f"{error}.") from None
    try:
        _fill(writer, session, names, renamed, outcome)
        clock.follow(session.duration_us * 1000)
        writer.close("ended")
    except (SessionError, OSError) as error:
        writer.abandon()
        raise NotAvailableError(f"The copy {folder} is not complete: {error}.") from None
    return outcome


def _tables(session: Session) -> tuple[dict[str, str], dict[str, str]]:
    """Give the pressure-temperature tables by new names, figures only, and the old names to the new.

    Without its table a session could not be worked out. A name that is no designation may be a person's.
    """
    tables, renamed = {}, {}
    for number, (name, text) in enumerate(session.header.pressure_tables.items(), 1):
        with contextlib.suppress(PressureTableError):  # what cannot be read stays behind
            new = name if _DESIGNATION.fullmatch(name) else f"refrigerant-{number:02}"
            tables[new] = figures_only(text)
            renamed[name] = new
    return tables, renamed


def _renamed(text: str, renamed: Mapping[str, str]) -> str:
    for old, new in renamed.items():
        text = text.replace(old, new)
    return text


def _fill(
    writer: SessionWriter, session: Session, names: _Names, renamed: Mapping[str, str], outcome: Stripped
) -> None:
    calibrations = list(dict.fromkeys(c.calibration for c in session.channels if c.calibration))
    writer.channels(
        replace(
            channel,
            id=names.of(channel.id),
            label="",
            source="stated with the original" if channel.source else "",
            calibration=f"calibration {calibrations.index(channel.calibration) + 1}"
            if channel.calibration
            else "",
        )
        for channel in session.channels
    )
    for event in session.events:
        if event.kind == "clock" and event.t_us == 0:
            continue  # the copy begins with its own
        if event.kind == "refrigerant" and event.text in renamed:
            kept: Event | None = replace(event, subject="", text=renamed[event.text])
        else:
            kept = clean_event(event, names.of)
        if kept is None:
            outcome.left_behind[event.kind] = outcome.left_behind.get(event.kind, 0) + 1
        else:
            writer.event(kept)

    def count(_: object) -> None:
        outcome.unreadable += 1

    for rows in session.rows(count):
        ids = tuple(names.of(channel) for channel in rows.ids)
        writer.add(Rows(ids, rows.t_us, rows.channel, rows.value, rows.quality))
        outcome.readings += len(rows)
        if not writer.flush(_FLUSH_S):
            raise StorageError("the disk refuses; free some space", writer.folder)
    for path in results_in(session.folder):
        writer.shown(_results(path))


def _results(path: Path) -> Iterator[bytes]:
    """Give the lines of what was shown that hold a known symbol and numbers only."""
    with path.open("rb") as file:
        for line in file:
            match = _RESULT.fullmatch(line)
            if match is not None and (match.group(1) == b"state" or match.group(1).decode() in BY_SYMBOL):
                yield line


class _Names:
    """New names for channels and devices, in the order in which they come."""

    def __init__(self, channels: Sequence[Channel]) -> None:
        self._names = {channel.id: f"channel-{n:02}" for n, channel in enumerate(channels, 1)}
        self._others = 0

    def of(self, name: str) -> str:
        """Give the new name."""
        if name and name not in self._names:
            self._others += 1
            self._names[name] = f"device-{self._others:02}"
        return self._names.get(name, "")


def clean_event(event: Event, rename: Callable[[str], str]) -> Event | None:
    """Give an event without anything that a person or a device could have written into it; None to leave it.

    Examples
    --------
    >>> clean_event(Event(0, 0, "phase", "", "as-found"), str).text
    'as-found'
    >>> clean_event(Event(0, 0, "mark", "", "the baker's door code is 12"), str) is None
    True
    """
    clean = _CLEAN.get(event.kind)
    text = clean(event.text) if clean is not None else None
    if text is None:
        return None
    return Event(event.t_us, event.utc_us, event.kind, rename(event.subject), text)


def _if_read_by(parse: Callable[[str], object]) -> Callable[[str], str | None]:
    """Keep a text that a strict parser accepts whole."""

    def clean(text: str) -> str | None:
        try:
            if text:
                parse(text)
        except ValueError:
            return None
        return text

    return clean


def _if_among(*words: str) -> Callable[[str], str | None]:
    return lambda text: text if text in ("", *words) else None


def _only(pattern: re.Pattern[str]) -> Callable[[str], str | None]:
    """Keep what matches at the beginning, and nothing behind it."""

    def clean(text: str) -> str | None:
        match = pattern.match(text)
        return match.group(0) if match else None

    return clean


_CLEAN: dict[str, Callable[[str], str | None]] = {
    "clock": _only(re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9:.]+Z", re.ASCII)),
    "link": _only(_STATE),
    "assign": _if_among(*POINTS),
    "offset": _if_read_by(lambda text: parse_correction(text, None)),
    "scale": lambda text: text if not text or _NUMBER.fullmatch(text) else None,
    "barometer": _if_read_by(parse_barometer),
    "refrigerant": _if_read_by(canonical_name),
    "fluid": _if_read_by(parse_liquid),
    "load_fluid": _if_read_by(parse_liquid),
    "source_coil": _if_read_by(RatedCoil.parse),
    "mode": _if_among(*MODES),
    "phase": _if_among(*PHASES),
    "dropout": _only(_LENGTH),
    "suspended": _only(_LENGTH),
    "rejected": lambda _: "",
    "lost": lambda _: "",
    "late": lambda _: "",
    "recovered": lambda _: "",
    "stop": lambda _: "ended",
}
"""Kind of event to what of its text may be copied; None leaves the event behind."""


def _card(session: Session, outcome: Stripped) -> str:
    """Give the unit card with its values and without title, serial number and sources."""
    try:
        found = written_card([session])
        if found is None:
            return ""
        unit_card(found[0])  # only what the strict parsers accept whole is copied
        canonical_name(found[0].refrigerant.name)
        plain = _without_words(msgspec.to_builtins(found[0]))
        outcome.card = "unit card without title, serial number and sources"
        return msgspec.toml.encode(msgspec.convert(plain, CardFile)).decode()
    except (CardError, DamagedInputError, ValueError):
        outcome.card = "the unit card cannot be read and stays behind"
        return ""


def _without_words(value: object) -> object:
    if isinstance(value, dict):
        blank = {"title": "one machine", "source": "the original's card"}
        return {key: blank.get(key, _without_words(inner)) for key, inner in value.items() if key != "serial"}
    if isinstance(value, list | tuple):
        return [_without_words(inner) for inner in value]
    return value
