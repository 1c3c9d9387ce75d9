"""The summary of one session, worked out when it is closed and kept beside its readings as summary.json.

Many sessions are then summed up about as quickly as their files can be read. A summary is only taken over
while the program and every byte that it was worked out from are the same; otherwise it is worked out anew.
"""

from __future__ import annotations

import functools
import hashlib
import importlib.metadata
import logging
import math
import os
from pathlib import Path

import msgspec

from analysis.windows import Stretch
from logger.append_file import replace_file
from logger.comparison import study
from logger.descriptor import DESCRIPTOR, digest_of, read_descriptor
from logger.errors import CommandError
from logger.events import EVENTS
from logger.readings_format import parts_in
from logger.session import Session
from logger.session_errors import SessionError

_log = logging.getLogger(__name__)
KEPT = "summary.json"
MOST_READINGS = 2_000_000
"""A session with more readings is summed up when it is asked for: closing it would take seconds longer.

A day of twenty channels at one reading a second is 1.7 million.
"""
MOST_BYTES = 8 << 20
"""A larger summary is none [byte]."""


class StretchSummary(msgspec.Struct, forbid_unknown_fields=True):
    """One stretch: when, in which state, and the mean of every symbol (SI)."""

    utc_us: int
    """When it began, since 1970 [us]."""
    from_s: float
    to_s: float
    steady: bool
    mode: str
    phase: str
    refrigerant: str
    barometer: float | None
    """As declared [Pa]."""
    values: dict[str, tuple[float | None, float | None]]
    """Value and standard uncertainty (k = 1) by symbol; null where not known."""


class SessionSummary(msgspec.Struct, forbid_unknown_fields=True):
    """What fleets, spreadsheets and people want to know of a session without working it out."""

    title: str
    dropouts: int
    stretches: list[StretchSummary]
    units: str = "SI; values are [value, standard uncertainty (k = 1)], null where not known"
    made_by: str = ""
    of: str = ""
    """Digest of the descriptor, which holds the digests of the readings and the events."""


@functools.cache
def made_by() -> str:
    """Name the program to the byte of what it works out with, so that an altered one is not taken for it."""
    digest = hashlib.sha256()
    top = Path(__file__).resolve().parents[1]
    for path in sorted([*(top / "analysis").rglob("*.py"), *(top / "logger").glob("*.py")]):
        digest.update(path.read_bytes())
    return f"evenrun {importlib.metadata.version('evenrun')} {digest.hexdigest()[:16]}"


def work_out(session: Session) -> SessionSummary:
    """Summarise a session that is open.

    Raises
    ------
    CommandError
        If the session cannot be worked out.
    """
    dropouts = sum(event.kind == "dropout" for event in session.events)
    start = session.header.utc_start_us
    return SessionSummary(
        session.header.title, dropouts, [_summary(stretch, start) for stretch in study(session).stretches]
    )


def _summary(stretch: Stretch, utc_start_us: int) -> StretchSummary:
    held = stretch.settings
    means = {**stretch.derived, **stretch.points}
    return StretchSummary(
        utc_us=utc_start_us + stretch.from_us,
        from_s=stretch.from_us / 1e6,
        to_s=stretch.to_us / 1e6,
        steady=stretch.steady,
        mode=held.mode,
        phase=held.phase,
        refrigerant=held.refrigerant,
        barometer=held.barometer_pa if held.barometer_declared else None,
        values={symbol: (_known(mean.value), _known(mean.u)) for symbol, mean in means.items()},
    )


def keep_summary(folder: Path) -> None:
    """Work a closed session out and keep its summary beside it.

    What hinders it is no fault of the session, whose closing must not fail for it: the summary is then worked
    out whenever it is asked for.
    """
    try:
        session = Session.open(folder)
        if (session.descriptor.rows or 0) > MOST_READINGS:
            return
        kept = work_out(session)
        kept.made_by, kept.of = made_by(), _of(folder)
        replace_file(folder / KEPT, msgspec.json.format(msgspec.json.encode(kept), indent=1) + b"\n")
    except (CommandError, SessionError, OSError) as error:
        _log.info("%s keeps no summary: %s", folder, error)
    except Exception:
        _log.exception("%s keeps no summary", folder)


def kept_summary(folder: Path) -> SessionSummary | None:
    """Give the summary that is kept with a session, or None where it must be worked out anew."""
    try:
        with (folder / KEPT).open("rb") as file:
            if os.fstat(file.fileno()).st_size > MOST_BYTES:
                return None
            kept = msgspec.json.decode(file.read(MOST_BYTES), type=SessionSummary)
        if kept.made_by != made_by() or kept.of != _of(folder) or not _whole(folder):
            return None
    except (OSError, SessionError, msgspec.MsgspecError):
        return None
    return kept


def _of(folder: Path) -> str:
    return hashlib.sha256((folder / DESCRIPTOR).read_bytes()).hexdigest()


def _whole(folder: Path) -> bool:
    """Whether readings and events are to the byte what the descriptor says."""
    stated = {part.path: part for part in read_descriptor(folder).parts}
    worked_from = [*parts_in(folder), folder / EVENTS]
    return all(stated.get(path.name) == digest_of(path) for path in worked_from)


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None
