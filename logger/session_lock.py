"""The lock by which everyone knows that a session is still being written; it dies with its process."""

from __future__ import annotations

import contextlib
import sys
from pathlib import Path

from filelock import BaseFileLock, FileLock, Timeout

from logger.session_errors import StillRecordingError

if sys.platform != "win32":
    import fcntl

LOCK = ".lock"


def lock_session(folder: Path) -> BaseFileLock:
    """Take the session for writing.

    Raises
    ------
    StillRecordingError
        If another process (or another part of this one) writes it.
    """
    lock = FileLock(folder / LOCK, thread_local=False)
    try:
        lock.acquire(timeout=0)
    except Timeout:
        raise StillRecordingError(
            "the session is still being written; stop that recording first", folder
        ) from None
    return lock


def unlock_session(lock: BaseFileLock, folder: Path) -> None:
    """Give the session free."""
    lock.release()
    with contextlib.suppress(OSError):
        (folder / LOCK).unlink(missing_ok=True)


def is_locked(folder: Path) -> bool:
    """Whether the session is being written at this moment; changes nothing in the folder."""
    if not (folder / LOCK).exists():
        return False
    lock = FileLock(folder / LOCK, thread_local=False)
    try:
        lock.acquire(timeout=0)
    except Timeout:
        return True
    except PermissionError:
        return _held_by_another_user(folder / LOCK)
    except OSError:  # a medium that cannot be written has no writer
        return False
    lock.release()
    return False


def _held_by_another_user(path: Path) -> bool:
    """Look at a lock that may be read only; where even that is not permitted, it counts as held."""
    if sys.platform == "win32":
        return True
    try:
        with path.open("rb") as file:
            fcntl.flock(file, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except OSError:
        return True
    return False
