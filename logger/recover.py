"""Repairing a session that was broken off or damaged: whole rows stay, the rest is cut out and kept beside.

Readings that a closed session's files have lost are put back from its archive (:mod:`logger.restore`).
Nothing is thrown away: before a file is changed, the file as it was is put into the folder ``damaged``.
"""

from __future__ import annotations

import contextlib
import io
import os
import shutil
import time
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import BinaryIO

from analysis.measure import Channel
from analysis.timeline import Event
from analysis.units import Quantity, UnitError, quantity_of
from logger.append_file import replace_file, sync_folder
from logger.archive import ARCHIVE, archive_fault, described_in, read_archive
from logger.descriptor import DESCRIPTOR, Descriptor, SessionHeader, SessionState, digest_of, read_descriptor
from logger.events import EVENTS, EVENTS_HEADER, event_line, parse_event
from logger.readings_format import READINGS_HEADER, header_length, part_name, parts_in
from logger.readings_reader import BadLine, ReadingsReader
from logger.restore import Restored, restore
from logger.results_format import RESULTS, results_in, whole_results
from logger.session_errors import (
    DamagedSessionError,
    Fault,
    NotASessionError,
    StorageError,
    reason_of,
)
from logger.session_files import check_files
from logger.session_lock import lock_session, unlock_session
from logger.session_summary import keep_summary
from logger.session_writer import finish

DAMAGED = "damaged"


@dataclass(frozen=True, slots=True)
class Recovery:
    """What recovering a session did."""

    changed: bool
    """False if everything was in order already."""
    rows: int
    """Readings that the session holds."""
    cut: tuple[Fault, ...]
    """Each piece that was cut out, with file, line and reason."""
    warnings: tuple[str, ...] = ()
    restored: Restored | None = None
    """What was put back from the archive."""

    @property
    def sentence(self) -> str:
        """All of it in one sentence."""
        if not self.changed:
            return f"Nothing to recover: {self.rows} readings, all files in order."
        cut = f"{len(self.cut)} damaged pieces cut out" if self.cut else "nothing had to be cut out"
        back = f"; {self.restored.sentence}" if self.restored is not None else ""
        return f"Recovered: {self.rows} readings kept, {cut}{back}."


@dataclass
class _Piece:
    line: int
    start: int
    length: int
    reason: str


def recover(folder: Path, utc_us: int | None = None) -> Recovery:
    """Bring a session's files in order; doing it twice changes nothing more.

    Parameters
    ----------
    folder
        The session.
    utc_us
        The moment to write into the event; now by default [us].

    Raises
    ------
    StillRecordingError
        If it is still being written.
    NotASessionError
        If the folder holds nothing of a session.
    StorageError
        If the disk refuses; the files are then as they were, or repaired, each as a whole.
    """
    check_files(folder)
    names = (DESCRIPTOR, EVENTS, part_name(1))
    if not any((folder / name).exists() for name in names) and not parts_in(folder):
        raise NotASessionError("here is no session; name a folder that evenrun has recorded", folder)
    try:
        lock = lock_session(folder)
        try:
            recovery = _recover(folder, time.time_ns() // 1000 if utc_us is None else utc_us)
        finally:
            unlock_session(lock, folder)
    except OSError as error:
        raise StorageError(f"recovering stopped: {reason_of(error)}", folder) from None
    if recovery.changed:
        keep_summary(folder)
    return recovery


def _recover(folder: Path, utc_us: int) -> Recovery:
    for path in folder.glob(".*"):
        if path.suffix in (".new", ".spill"):
            path.unlink(missing_ok=True)
    descriptor, cut = _descriptor(folder)
    repaired = bool(cut)
    reader = ReadingsReader({channel.id: channel.unit for channel in descriptor.channels})
    rows, newest_us = 0, 0
    kept: set[Path] = set()
    for path in parts_in(folder) or [folder / part_name(1)]:
        path.touch()
        pieces: list[_Piece] = []

        def note(bad: BadLine, pieces: list[_Piece] = pieces) -> None:
            if bad.content:
                pieces.append(_Piece(bad.line, bad.start, len(bad.content), bad.reason))

        for batch in reader.read(path, note):
            rows += len(batch)
            newest_us = max(newest_us, int(batch.t_us.max(initial=0)))
        with path.open("rb") as file:
            headless = not header_length(file.read(len(READINGS_HEADER)))
        if pieces or headless:
            _keep(path)
            kept.add(path)
            _write_without(path, pieces, headless)
            repaired = True
        cut += [_fault(path.name, piece) for piece in pieces]
    restored = restore(folder, descriptor, lambda path: None if path in kept else _keep(path))
    if restored is not None:
        repaired, rows = True, rows + restored.rows - restored.changed
        newest_us = max(newest_us, descriptor.duration_us or 0)
    cut += _cut_results(folder)
    events, cut_events = _events(folder)
    cut += cut_events
    descriptor = _complete(descriptor, reader.units)
    if not (repaired or cut) and _in_order(folder, descriptor, rows):
        return Recovery(False, rows, ())
    archived = _archived(folder)
    more_archived: tuple[str, ...] = ()
    if archived > rows:
        # It is made again from the journal, and holds readings that the journal has lost.
        _keep(folder / ARCHIVE)
        more_archived = (
            f"the archive held {archived} readings, {archived - rows} more than the journal; it is kept as "
            f"the newest {DAMAGED}/{ARCHIVE}, and any Parquet reader opens it",
        )
    summary = "; ".join(str(fault) for fault in cut[:20]) or "nothing had to be cut out"
    more = f"; and {len(cut) - 20} more" if len(cut) > 20 else ""
    back = f"; {restored.sentence}" if restored is not None else ""
    told = Event(newest_us, utc_us, "recovered", "", f"{rows} readings kept; {summary}{more}{back}")
    replace_file(folder / EVENTS, events + event_line(told))
    finished = replace(descriptor, state=SessionState.RECOVERED, rows=rows, duration_us=newest_us)
    return Recovery(True, rows, tuple(cut), more_archived + finish(folder, finished), restored)


def _descriptor(folder: Path) -> tuple[Descriptor, list[Fault]]:
    """Read the descriptor, or begin a new one from what the other files say."""
    try:
        return read_descriptor(folder), []
    except (DamagedSessionError, NotASessionError) as error:
        path = folder / DESCRIPTOR
        if path.exists():
            _keep(path)
        start_us = 0
        with contextlib.suppress(OSError):
            for line in io.BytesIO((folder / EVENTS).read_bytes()):
                with contextlib.suppress(ValueError):
                    event = parse_event(line)
                    if event.kind == "clock":
                        start_us = event.utc_us - event.t_us
                        break
        if (described := described_in(folder / ARCHIVE)) is not None:
            what = f"taken from {ARCHIVE}, as it was when the session was closed"
            return described, [Fault(DESCRIPTOR, error.line, f"{error.sentence.split(';')[0]}; {what}")]
        header = SessionHeader(utc_start_us=start_us, title=folder.name)
        what = "made again from the readings and events: labels, uncertainties and set-up are not known"
        return Descriptor(header), [Fault(DESCRIPTOR, error.line, f"{error.sentence.split(';')[0]}; {what}")]


def _complete(descriptor: Descriptor, units: dict[str, str]) -> Descriptor:
    """Describe channels that have readings and no description, as far as their unit tells."""
    known = {channel.id for channel in descriptor.channels}
    found = []
    for name, unit in units.items():
        if name not in known:
            with contextlib.suppress(UnitError):
                found.append(Channel(name, quantity_of(unit, tuple(Quantity)), unit, source="recovered"))
    return descriptor.with_channels(found)


def _events(folder: Path) -> tuple[bytes, list[Fault]]:
    """Give the whole lines of events.csv, and what is not whole; the file is kept if it has any of that."""
    path = folder / EVENTS
    content = path.read_bytes() if path.exists() else b""
    kept, cut = [EVENTS_HEADER], []
    for number, line in enumerate(io.BytesIO(content), 1):
        if number == 1 and line.rstrip() == EVENTS_HEADER.rstrip():
            continue
        try:
            if not line.endswith(b"\n"):
                raise ValueError(f"the last line is torn ({len(line)} bytes without line end)")
            parse_event(line)
        except ValueError as error:
            cut.append(_fault(EVENTS, _Piece(number, 0, len(line), str(error))))
        else:
            kept.append(line)
    if cut:
        _keep(path)
    return b"".join(kept), cut


def _cut_results(folder: Path) -> list[Fault]:
    """Cut a torn last line of what was shown; the file is kept as it was."""
    for path in results_in(folder):
        content = path.read_bytes()
        whole = whole_results(content)
        if whole != content:
            _keep(path)
            replace_file(path, whole)
            line = whole.count(b"\n") + 1
            return [
                Fault(RESULTS, line, f"{len(content) - len(whole)} bytes of a line that was not finished")
            ]
    return []


def _fault(name: str, piece: _Piece) -> Fault:
    return Fault(name, piece.line, f"{piece.length} bytes cut out: {piece.reason}")


def _in_order(folder: Path, descriptor: Descriptor, rows: int) -> bool:
    """Whether a session is closed and its files are what the descriptor says."""
    if descriptor.state is SessionState.RECORDING or descriptor.rows != rows:
        return False
    files = [*parts_in(folder), folder / EVENTS, *results_in(folder)]
    if [path.name for path in files] != [part.path for part in descriptor.parts]:
        return False
    if tuple(digest_of(path) for path in files) != descriptor.parts:
        return False
    return archive_fault(folder, descriptor) is None


def _archived(folder: Path) -> int:
    """Count the readings of the archive; 0 where it is missing or cannot be read."""
    try:
        return sum(len(rows) for rows in read_archive(folder / ARCHIVE))
    except (DamagedSessionError, NotASessionError):
        return 0


def _keep(path: Path) -> None:
    """Put a file as it is into the folder ``damaged``; needs no room where the disk can link."""
    folder = path.parent / DAMAGED
    folder.mkdir(exist_ok=True)
    beside, number = folder / path.name, 1
    while beside.exists():
        number += 1
        beside = folder / f"{path.name}.{number}"
    try:
        os.link(path, beside)
    except OSError:
        shutil.copy2(path, beside)
        with beside.open("rb+") as file:
            os.fsync(file.fileno())
    sync_folder(folder)


def _write_without(path: Path, pieces: Iterable[_Piece], headless: bool) -> None:
    """Write a file anew without some of its pieces, and put it in the old one's place."""
    fresh = path.with_name(f".{path.name}.new")
    fresh.unlink(missing_ok=True)
    with path.open("rb") as old, fresh.open("xb") as new:
        if headless:
            new.write(READINGS_HEADER)
        for piece in pieces:
            _copy(old, new, piece.start - old.tell())
            old.seek(piece.length, os.SEEK_CUR)
        _copy(old, new, None)
        new.flush()
        os.fsync(new.fileno())
    fresh.replace(path)
    sync_folder(path.parent)


def _copy(old: BinaryIO, new: BinaryIO, count: int | None) -> None:
    if count is None:
        shutil.copyfileobj(old, new)
        return
    while count > 0 and (block := old.read(min(count, 1 << 20))):
        new.write(block)
        count -= len(block)
