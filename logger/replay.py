"""Working a stored session out again: the same analyser, the same rows, the same results."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path

import msgspec

from analysis.analyser import Analyser, Results
from analysis.frame import GRACE_US
from analysis.pressure_table import PressureTableError
from analysis.rows import Rows
from analysis.saturation import SaturationCurve
from analysis.settings import Settings, SettingsError, settings_over_time
from analysis.timeline import timeline
from logger.errors import CommandError, DamagedInputError, NotAvailableError
from logger.session import Session
from logger.session_errors import NotASessionError, SessionError
from logger.session_files import LONGEST_US
from logger.setup_file import Setup, curve_of_table, find_curve
from logger.wholeness import doubt_about


def no_session(error: NotASessionError) -> CommandError:
    """Give what a command says where there is no session: not there, not to be opened, or something else."""
    there = error.file is not None and os.access(error.file, os.R_OK)
    return CommandError(f"{error}.") if there else NotAvailableError(f"{error}.")


def open_session(folder: str, *, tell: bool = True) -> Session:
    """Open a session for a command; damage to its files is told in one line of the error output.

    Parameters
    ----------
    folder
        Its place.
    tell
        False where it was told already, or is told in another way.

    Raises
    ------
    CommandError
        With exit status 3 where it is damaged, 4 where it is not there or cannot be opened, 2 where something
        else is in its place.
    """
    try:
        session = Session.open(Path(folder))
    except NotASessionError as error:
        raise no_session(error) from None
    except SessionError as error:
        raise DamagedInputError(f"{error}.") from None
    if tell and (doubt := doubt_about(session)) is not None:
        print(f"Note: {doubt}", file=sys.stderr)
    return session


def end_us(session: Session) -> int:
    """Session time at which recording stopped; the newest reading where it was broken off [us]."""
    stops = [event.t_us for event in session.events if event.kind == "stop"]
    return stops[0] if stops else session.duration_us


def curves_for(session: Session) -> Mapping[str, SaturationCurve]:
    """Find the saturation of every refrigerant that the session declares.

    A table that the person gave is kept in the session and goes before what evenrun knows itself, as it did
    while recording.
    """
    tables = session.header.pressure_tables
    names = {text for _, text in timeline(session.events, "refrigerant") if text}
    try:
        return {n: curve_of_table(n, tables[n]) if n in tables else find_curve(n) for n in names}
    except PressureTableError as refused:
        raise DamagedInputError(f"{session.folder}, its pressure table: {refused}") from None


def settings_of(session: Session) -> list[Settings]:
    """Give what held when in a session.

    Raises
    ------
    DamagedInputError
        If an event cannot be understood.
    """
    try:
        return settings_over_time(session.events, {channel.id: channel for channel in session.channels})
    except SettingsError as refused:
        raise DamagedInputError(f"{session.folder}: {refused}") from None


def analyse_session(session: Session) -> Iterator[Results]:
    """Work out a session from its readings and events.

    Raises
    ------
    CommandError
        If an event cannot be understood.
    """
    channels = {channel.id: channel for channel in session.channels}
    end = end_us(session)
    if end > LONGEST_US:
        raise DamagedInputError(
            f"{session.folder}: its moments span {end / 86_400e6:.0f} days, and at most 400 can be worked "
            "out; a moment in it is wrong, or the log belongs into several sessions."
        )
    fold = Analyser(channels, settings_of(session), curves_for(session))
    for rows in session.rows():
        yield from fold.step(rows.take(rows.t_us <= end))
    yield from fold.step(Rows.empty(), end + GRACE_US)


def setup_of(session: Session) -> Setup | None:
    """Give the set-up that the session was recorded with, where it holds one."""
    try:
        return msgspec.toml.decode(session.header.setup, type=Setup) if session.header.setup else None
    except (msgspec.ValidationError, msgspec.DecodeError):
        return None
