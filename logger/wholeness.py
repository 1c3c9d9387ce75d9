"""One line for whoever reads a session whose files are not as they were when it was closed."""

from __future__ import annotations

from logger.descriptor import Part, SessionState, digest_of
from logger.session import Session
from logger.session_errors import reason_of


def doubt_about(session: Session) -> str | None:
    """Say that a session's files are not whole, and the way out; None where nothing speaks against them.

    Sizes and digests are looked at, which takes a small part of the time of reading; what exactly is wrong is
    for ``verify`` to say.
    """
    name = session.folder
    if session.state is SessionState.RECORDING:
        if session.recording:
            return None
        return f"{name} was broken off and never closed: run 'evenrun recover {name}' to close it."
    doubts = [doubt for part in session.descriptor.parts if (doubt := _doubt(session, part)) is not None]
    doubts += [str(fault) for fault in session.faults[:1]]
    if not doubts:
        return None
    more = f" (and {len(doubts) - 1} more)" if len(doubts) > 1 else ""
    return (
        f"{name} is damaged: {doubts[0]}{more}. Only what is left is used. "
        f"'evenrun verify {name}' says what is wrong, 'evenrun recover {name}' puts back what it can."
    )


def _doubt(session: Session, part: Part) -> str | None:
    path = session.folder / part.path
    try:
        if not path.exists():
            return f"{part.path} is missing"
        if (size := path.stat().st_size) != part.bytes:
            return f"{part.path} has {size} bytes instead of {part.bytes}"
        return f"{part.path} has been changed since it was closed" if digest_of(path) != part else None
    except OSError as error:
        return f"{part.path} cannot be read: {reason_of(error)}"
