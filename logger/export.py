"""Export: a wide table with date and time on a regular grid, for spreadsheets and other tools.

A cell holds the newest usable indication of its channel at that moment, in the channel's unit, as long as it
may be held; otherwise it is empty. Late and rejected readings are left out, as in every analysis. Offsets and
scales are not applied: the table shows what the instruments indicated.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import numpy as np
import numpy.typing as npt

from analysis.measure import Channel
from analysis.rows import Rows
from analysis.timeline import holding_at, timeline
from logger.append_file import sync_folder
from logger.export_formats import LOCALES, CsvFile, ExportOptions, ParquetFile, SheetFile, Sink, Table
from logger.moments import parse_utc
from logger.resample import Block, resample
from logger.session import Session
from logger.session_errors import SessionError, StorageError, reason_of
from logger.session_files import LONGEST_US

_JUMP_US = 2_000_000  # below it, pairs of clocks differ by the computer's own adjustment
_FORMATS: dict[str, Callable[[Path, Sequence[str], ExportOptions], Sink]] = {
    ".csv": CsvFile,
    ".parquet": ParquetFile,
    ".xlsx": SheetFile,
}


def export(
    session: Session,
    path: Path,
    options: ExportOptions | None = None,
    progress: Callable[[int], None] | None = None,
) -> int:
    """Write a session as a wide table; the ending of the name decides between csv, parquet and xlsx.

    Parameters
    ----------
    session
        What to export.
    path
        The new file; it must not exist.
    options
        What it looks like.
    progress
        Called now and then with the session time that is done [us].

    Returns
    -------
    int
        How many rows were written.

    Raises
    ------
    SessionError
        If an option or the ending is unknown, the file exists, or a sheet cannot hold so many rows.
    StorageError
        If the disk refuses; no half-written file stays.
    """
    chosen = options or ExportOptions()
    if chosen.step_us <= 0:
        raise SessionError("the step between rows must be more than zero")
    if chosen.locale not in LOCALES:
        raise SessionError(f"'{chosen.locale}' is not a known locale; choose {' or '.join(LOCALES)}")
    if path.exists():
        raise SessionError("is there already; choose another name for the export", path)
    make = _FORMATS.get(path.suffix.lower())
    if make is None:
        raise SessionError("a name must end in .csv, .parquet or .xlsx, which decides the format", path)
    if not path.parent.is_dir():
        raise StorageError("the export was not written: the folder is gone; choose one that is there", path)
    fresh = path.with_name(f".{path.name}.new")
    count = 0
    try:
        utc = _UtcOf(session)
        sink = make(fresh, column_names(session, chosen.names), chosen)
        try:
            for block in _blocks(session, chosen.step_us):
                count += len(block.t_us)
                sink.write(Table(block.t_us, utc.at(block.t_us), block.values))
                if progress is not None and len(block.t_us):
                    progress(int(block.t_us[-1]))
        finally:
            sink.close()
        os.replace(fresh, path)
        sync_folder(path.parent)
    except OverflowError:
        raise SessionError("its dates lie outside the calendar; put the clock events right", path) from None
    except OSError as error:
        raise StorageError(f"the export was not written: {reason_of(error)}", path) from None
    finally:
        with contextlib.suppress(OSError):
            fresh.unlink(missing_ok=True)
    return count


def _blocks(session: Session, step_us: int) -> Iterator[Block]:
    holds = {channel.id: round(channel.hold * 1e6) for channel in session.channels}
    return resample(_near(session.rows()), holds, step_us)


def _near(batches: Iterator[Rows]) -> Iterator[Rows]:
    """Refuse moments that would make rows without end.

    Raises
    ------
    SessionError
        If a reading lies further from the start than a session can be long.
    """
    for rows in batches:
        furthest = max(abs(int(rows.t_us.min(initial=0))), int(rows.t_us.max(initial=0)))
        if furthest > LONGEST_US:
            days = furthest / 86_400e6
            raise SessionError(
                f"a reading lies {days:.0f} days from the start, and at most 400 days make a table; "
                "its moment is wrong, or the log belongs into several sessions"
            )
        yield rows


def column_names(session: Session, names: str) -> list[str]:
    """Name the columns of the channels, each with its unit.

    Raises
    ------
    SessionError
        If it is not said by what to name them.
    """
    if names not in ("channel", "point"):
        raise SessionError(f"columns are named by 'channel' or by 'point', not by '{names}'")
    found: list[str] = []
    for channel in session.channels:
        name = _point_of(session, channel) or channel.id if names == "point" else channel.id
        title = f"{harmless(name)} [{channel.unit}]"
        found.append(title if title not in found else f"{harmless(channel.id)} [{channel.unit}]")
    return found


def _point_of(session: Session, channel: Channel) -> str | None:
    return holding_at(timeline(session.events, "assign", channel.id), 2**62)


def harmless(label: str) -> str:
    """Make sure that no spreadsheet takes a label for a formula.

    Examples
    --------
    >>> harmless("=1+1"), harmless("pump")
    ("'=1+1", 'pump')
    """
    return f"'{label}" if label.lstrip()[:1] in tuple("=+-@") or label[:1] in ("\t", "\r") else label


class _UtcOf:
    """UTC of session moments: from t = 0, and after each jump of the wall clock from the pair behind it."""

    def __init__(self, session: Session) -> None:
        offsets = [(-(2**62), session.header.utc_start_us)]
        for t_us, text in timeline(session.events, "clock"):
            with contextlib.suppress(ValueError):
                offset = parse_utc(text) - t_us
                if abs(offset - offsets[-1][1]) > _JUMP_US:
                    offsets.append((t_us, offset))
        self._from = np.array([moment for moment, _ in offsets], np.int64)
        self._offset = np.array([offset for _, offset in offsets], np.int64)

    def at(self, t_us: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
        return t_us + self._offset[np.searchsorted(self._from, t_us, side="right") - 1]
