"""Adding events to a session that is closed: a correction, a mark made later. No old line is touched."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from analysis.timeline import Event
from logger.append_file import replace_file
from logger.descriptor import DESCRIPTOR, ReadingsDigest, SessionState, digest_of, read_descriptor
from logger.events import EVENTS, EVENTS_HEADER, event_line
from logger.readings_format import parts_in
from logger.session_errors import DamagedSessionError, Fault, SessionError, StorageError, reason_of
from logger.session_lock import lock_session, unlock_session
from logger.session_summary import keep_summary
from logger.verify import verify


def append_events(folder: Path, events: Sequence[Event]) -> None:
    """Add events behind those that are there, and state the file's new size and digest.

    Raises
    ------
    StillRecordingError
        If the session is still being written.
    SessionError
        If it was broken off, or a file of it is damaged: recover it first; then nothing is changed.
    StorageError
        If the disk refuses.
    """
    try:
        lock = lock_session(folder)
        try:
            _append(folder, events)
        finally:
            unlock_session(lock, folder)
    except OSError as error:
        raise StorageError(f"the events were not stored: {reason_of(error)}", folder) from None
    keep_summary(folder)


def _append(folder: Path, events: Sequence[Event]) -> None:
    descriptor = read_descriptor(folder)
    if descriptor.state is SessionState.RECORDING:
        raise SessionError("the session was broken off; run recover on it first", folder)
    faults: list[Fault] = verify(folder, own_lock=True)
    if faults:
        raise DamagedSessionError(f"{faults[0]}; run recover on the session first", folder)
    path = folder / EVENTS
    before = path.read_bytes() if path.exists() else EVENTS_HEADER
    replace_file(path, before + b"".join(map(event_line, events)))
    known = {part.path: part for part in descriptor.parts}
    known[EVENTS] = digest_of(path)
    content = replace(descriptor, parts=tuple(known.values())).encode(
        ReadingsDigest.of(parts_in(folder)).stream
    )
    replace_file(folder / DESCRIPTOR, content)
