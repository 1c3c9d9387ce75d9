"""Checking a session's files: whole, readable, in order, and what the descriptor and the archive say."""

from __future__ import annotations

import contextlib
import tempfile
from dataclasses import dataclass, field
from itertools import zip_longest
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from analysis.measure import Quality
from analysis.rows import Rows
from logger.archive import ARCHIVE, archive_fault, read_archive, units_of
from logger.descriptor import DESCRIPTOR, Descriptor, SessionState, digest_of, read_descriptor
from logger.events import EVENTS, read_events
from logger.moments import elapsed_text
from logger.readings_format import QUALITY_BITS, parts_in
from logger.readings_reader import BadLine, ReadingsReader
from logger.session_errors import DamagedSessionError, Fault, NotASessionError, StillRecordingError
from logger.session_files import check_files
from logger.session_lock import is_locked
from logger.sorted_readings import SortedReadings

MOST_FAULTS = 1000


@dataclass
class _Findings:
    """The first faults in full, the rest as a number."""

    faults: list[Fault] = field(default_factory=list)
    more: int = 0

    def add(self, file: str, line: int | None, sentence: str) -> None:
        if len(self.faults) < MOST_FAULTS:
            self.faults.append(Fault(file, line, sentence))
        else:
            self.more += 1


def verify(folder: Path, *, own_lock: bool = False) -> list[Fault]:
    """Check everything about a session; an empty list says that all is in order.

    Parameters
    ----------
    folder
        The session.
    own_lock
        The caller itself holds the session's lock, so that a taken lock does not mean a recording.

    Raises
    ------
    StillRecordingError
        If it is still being written.
    NotASessionError
        If the folder holds nothing of a session.
    """
    check_files(folder)
    if not own_lock and is_locked(folder):
        raise StillRecordingError("the session is still being written; verify it when it is closed", folder)
    found = _Findings()
    parts = parts_in(folder)
    descriptor: Descriptor | None = None
    try:
        descriptor = read_descriptor(folder)
    except (DamagedSessionError, NotASessionError) as error:
        if isinstance(error, NotASessionError) and not parts:
            raise
        found.add(DESCRIPTOR, error.line, error.sentence)
    rows = _readings(parts, descriptor, found)
    if not (folder / EVENTS).exists():
        found.add(EVENTS, None, "is missing; run recover on the session")
    read_events(folder / EVENTS, lambda fault: found.add(fault.file, fault.line, fault.sentence))
    if descriptor is not None:
        _against_descriptor(folder, parts, descriptor, rows, found)
    if found.more:
        found.faults.append(Fault(folder.name, None, f"and {found.more} more faults"))
    return found.faults


def _readings(parts: list[Path], descriptor: Descriptor | None, found: _Findings) -> int:
    """Check every line of the readings; gives how many are whole."""
    channels = () if descriptor is None else descriptor.channels
    lateness_us = None if descriptor is None else descriptor.header.lateness_us
    reader = ReadingsReader({channel.id: channel.unit for channel in channels})
    known = len(channels)
    total, newest_us = 0, -(2**62)
    for path in parts:
        bad_lines: list[int] = []

        def note(bad: BadLine, name: str = path.name, bad_lines: list[int] = bad_lines) -> None:
            if bad.content and bad.line not in bad_lines[-1:]:
                bad_lines.append(bad.line)
            found.add(name, bad.line, bad.reason)

        before = 0  # whole rows of this file in the batches so far
        for rows in reader.read(path, note):
            if len(rows):
                newest = np.maximum.accumulate(np.maximum(rows.t_us, newest_us))
                if lateness_us is not None:
                    late = (newest - rows.t_us > lateness_us) & (rows.quality & Quality.LATE.value == 0)
                    for run in _runs(np.flatnonzero(late), newest):
                        line = _line_of(before + int(run[0]), bad_lines)
                        found.add(path.name, line, _behind(newest[run], rows.t_us[run]))
                newest_us = int(newest[-1])
            before += len(rows)
        total += before
        if path.stat().st_size == 0:
            found.add(path.name, 1, "the file is empty, even without its header; run recover")
        for name in reader.ids[known:] if descriptor is not None else ():
            found.add(path.name, None, f"the channel '{name}' is not described in {DESCRIPTOR}; run recover")
        known = len(reader.ids)
    return total


def _runs(places: NDArray[np.intp], newest: NDArray[np.int64]) -> list[NDArray[np.intp]]:
    """Part places where they do not follow each other or lie behind another reading: a run a wrong time."""
    if not len(places):
        return []
    cuts = np.flatnonzero((np.diff(places) > 1) | (np.diff(newest[places]) != 0)) + 1
    return np.split(places, cuts)


def _behind(newest: NDArray[np.int64], t_us: NDArray[np.int64]) -> str:
    most = elapsed_text(int((newest - t_us).max()))
    if len(t_us) == 1:
        return f"the reading lies {most} s behind an earlier line and is not marked late"
    before = elapsed_text(int(newest[0]))
    return (
        f"from here on {len(t_us)} readings lie up to {most} s behind the one at {before} s before them and "
        "are not marked late; the time of that one is probably wrong"
    )


def _line_of(row: int, bad_lines: list[int]) -> int:
    """Say on which line the n-th whole row is; the header is line 1."""
    line = row + 2
    for bad in bad_lines:
        if bad > line:
            break
        line += 1
    return line


def _against_descriptor(
    folder: Path, parts: list[Path], descriptor: Descriptor, rows: int, found: _Findings
) -> None:
    if descriptor.state is SessionState.RECORDING:
        found.add(DESCRIPTOR, None, "the session was broken off and not closed; run recover on it")
        return
    names = [path.name for path in parts]
    for name in descriptor.readings:
        if name not in names:
            found.add(name, None, "is missing; look for it in a copy of the session")
    for name in names:
        if name not in descriptor.readings:
            found.add(name, None, f"is not listed in {DESCRIPTOR}; run recover")
    for part in descriptor.parts:
        path = folder / part.path
        if path.exists() and (now := digest_of(path)) != part:
            what = (
                f"has {now.bytes} bytes instead of {part.bytes}" if now.bytes != part.bytes else "has changed"
            )
            found.add(part.path, None, f"{what} since the session was closed (size or SHA-256 differ)")
    if rows != descriptor.rows:
        found.add(DESCRIPTOR, None, f"says {descriptor.rows} readings; the files hold {rows}")
    fault = archive_fault(folder, descriptor)
    if fault is None:
        fault = _difference(folder, descriptor)
    if fault is not None:
        found.add(ARCHIVE, None, fault)


def _difference(folder: Path, descriptor: Descriptor) -> str | None:
    """Compare each reading of the archive with the journal; in bounded memory."""
    with (
        tempfile.TemporaryDirectory() as scratch,
        contextlib.closing(SortedReadings(units_of(descriptor), Path(scratch) / "spill")) as readings,
    ):
        for part in parts_in(folder):
            readings.take(part)
        expected = ((name, group) for name in readings.channels() for group in readings.groups(name))
        for pair, got in zip_longest(expected, read_archive(folder / ARCHIVE)):
            if pair is None or got is None:
                return "holds another number of readings than the journal; run recover to make it again"
            name, group = pair
            flags = (group.quality & QUALITY_BITS).astype(np.uint16)
            rows = Rows((name,), group.t_us, np.zeros(len(group.t_us), np.int32), group.value, flags)
            if not rows.equals(got):
                return f"differs from the journal in channel '{name}'; run recover to make it again"
    return None
