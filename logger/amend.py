"""Putting a session right afterwards: one more event; readings and earlier events stay as they are."""

from __future__ import annotations

import dataclasses
import time

from analysis.measure import Channel
from analysis.settings import SettingsError, settings_over_time
from analysis.timeline import Event
from logger.append_file import replace_file, sync_file
from logger.descriptor import DESCRIPTOR, digest_of, multipart_digest
from logger.errors import CommandError, DamagedInputError, NotAvailableError
from logger.events import EVENTS, event_line
from logger.readings_format import parts_in
from logger.session import Session
from logger.session_errors import SessionError, StillRecordingError, reason_of
from logger.session_lock import lock_session, unlock_session
from logger.verify import verify


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
    about_channel = kind in ("assign", "offset", "scale")
    if about_channel and channel not in channels:
        raise CommandError(
            f"'{channel}' is no channel of this session; give --channel one of {', '.join(channels)}."
        )
    event = Event(from_us, time.time_ns() // 1000, kind, channel if about_channel else "", text)
    try:
        settings_over_time([*session.events, event], channels)
    except SettingsError as refused:
        raise CommandError(str(refused)) from None
    try:
        lock = lock_session(session.folder)
    except StillRecordingError as error:
        raise NotAvailableError(f"{error}.") from None
    try:
        faults = verify(session.folder)
        if faults:
            raise DamagedInputError(f"{faults[0]}; recover the session before you correct it.")
        _append(session, event)
    except (OSError, SessionError) as error:
        why = reason_of(error) if isinstance(error, OSError) else str(error)
        raise NotAvailableError(f"The correction could not be stored: {why}.") from None
    finally:
        unlock_session(lock, session.folder)
    return event


def _append(session: Session, event: Event) -> None:
    """Append the event, then state the file's new size and digest."""
    path = session.folder / EVENTS
    with path.open("ab") as file:
        file.write(event_line(event))
        file.flush()
        sync_file(file.fileno())
    parts = parts_in(session.folder)
    measured = tuple(digest_of(each) for each in (*parts, path))
    descriptor = dataclasses.replace(session.descriptor, parts=measured)
    replace_file(session.folder / DESCRIPTOR, descriptor.encode(multipart_digest(parts)))
