"""Putting a session right afterwards: one more event; readings and earlier events stay as they are."""

from __future__ import annotations

import time

from analysis.measure import Channel
from analysis.settings import SettingsError, settings_over_time
from analysis.timeline import Event
from logger.append_events import append_events
from logger.errors import CommandError, DamagedInputError, NotAvailableError
from logger.replay import settings_of
from logger.session import Session
from logger.session_errors import SessionError, StillRecordingError, StorageError
from logger.setup_file import find_curve

CHANNEL_KINDS = ("assign", "offset", "scale")


def write_event(session: Session, *events: Event) -> None:
    """Append events to a closed session, all of them or none.

    Raises
    ------
    CommandError
        If the session is damaged, broken off or still being written, or the disk refuses.
    """
    try:
        append_events(session.folder, events)
    except (StillRecordingError, StorageError) as error:
        raise NotAvailableError(f"{error}.") from None
    except SessionError as error:
        raise DamagedInputError(f"{error}.") from None


def amend(session: Session, kind: str, channel: str, text: str, from_us: int) -> Event:
    """Append a correction to a closed session.

    Parameters
    ----------
    kind
        For example ``assign``.
    channel
        For kinds that are about a channel.
    text
        What holds from then on.
    from_us
        The moment from which it holds; 0 repairs the whole session.

    Raises
    ------
    CommandError
        If the correction cannot be understood, or the session is damaged or still being written.
    """
    channels: dict[str, Channel] = {known.id: known for known in session.channels}
    about_channel = kind in CHANNEL_KINDS
    if about_channel and channel not in channels:
        raise CommandError(
            f"'{channel}' is no channel of this session; give --channel one of {', '.join(channels)}."
        )
    settings_of(session)  # what is wrong already is damage, and not the fault of this correction
    event = Event(from_us, time.time_ns() // 1000, kind, channel if about_channel else "", text)
    try:
        settings_over_time([*session.events, event], channels)
    except SettingsError as refused:
        raise CommandError(str(refused)) from None
    if kind == "refrigerant" and text and text not in session.header.pressure_tables:
        # A name that is not known would make the whole session impossible to work out.
        find_curve(text)
    write_event(session, event)
    return event
