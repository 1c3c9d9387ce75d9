"""Recording a session: the one object that the engine hands readings, events and channels to."""

from __future__ import annotations

import itertools
import shutil
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from filelock import BaseFileLock

from analysis.measure import Channel
from analysis.rows import Rows, microseconds
from analysis.timeline import Event
from drivers.base import Clock
from drivers.clock import ClockPair
from logger.append_file import replace_file, sync_folder
from logger.archive import write_archive
from logger.archive_ahead import ArchiveAhead, Prepared
from logger.descriptor import DESCRIPTOR, Descriptor, SessionHeader, SessionState, digest_of
from logger.events import EVENTS, EVENTS_HEADER, clock_event, event_line
from logger.journal import Journal, JournalStatus
from logger.moments import elapsed_text
from logger.readings_format import READINGS_HEADER, LineWriter, part_name, parts_in
from logger.results_format import RESULTS, RESULTS_HEADER, results_in
from logger.session_errors import SessionError, SessionExistsError, StorageError, reason_of
from logger.session_lock import lock_session, unlock_session


@dataclass
class _Lost:
    rows: int
    first_us: int
    last_us: int


class SessionWriter:
    """Writes one session. Nothing here waits for the disk, except :meth:`flush` and :meth:`close`."""

    def __init__(
        self,
        folder: Path,
        descriptor: Descriptor,
        clock: Clock,
        t0_ns: int,
        lock: BaseFileLock,
        journal: Journal,
    ) -> None:
        self.folder = folder
        self.t0_ns = t0_ns
        """Monotonic moment of t = 0 [ns]."""
        self._clock = clock
        self._descriptor = descriptor
        self._lock: BaseFileLock | None = lock
        self._journal = journal
        self._lines = LineWriter()
        self._part = 1
        self._hour = 0
        self._rows = 0
        self._newest_us = 0
        self._lost: _Lost | None = None
        self._stopped = False
        self._ahead = ArchiveAhead(folder, journal.sync)

    @classmethod
    def create(
        cls, folder: Path, header: SessionHeader, clock: Clock, *, journal: Journal | None = None
    ) -> SessionWriter:
        """Make the folder and begin; t = 0 is now, by both faces of the clock.

        Parameters
        ----------
        folder
            Must not exist yet.
        header
            What is known at the start; its ``utc_start_us`` is set here.
        clock
            Where moments come from.
        journal
            One with other limits than the usual; not started.

        Raises
        ------
        SessionExistsError
            If the folder is there already.
        StorageError
            If it cannot be made or written.
        """
        start = ClockPair.now(clock)
        descriptor = Descriptor(replace(header, utc_start_us=start.utc_ns // 1000))
        try:
            folder.mkdir(parents=True)
        except FileExistsError:
            raise SessionExistsError(
                "is there already; choose another name for the session", folder
            ) from None
        except OSError as error:
            raise StorageError(f"the folder cannot be made: {reason_of(error)}", folder) from None
        journal = journal or Journal(folder)
        try:
            lock = lock_session(folder)
            replace_file(folder / DESCRIPTOR, descriptor.encode())
            sync_folder(folder.parent)
        except OSError as error:
            shutil.rmtree(folder, ignore_errors=True)  # made above, and nothing is in it yet
            raise StorageError(f"the session cannot be begun: {reason_of(error)}", folder) from None
        writer = cls(folder, descriptor, clock, start.mono_ns, lock, journal)
        journal.open(part_name(1), READINGS_HEADER)
        journal.open(EVENTS, EVENTS_HEADER)
        journal.open(RESULTS, RESULTS_HEADER)
        journal.append(part_name(1), b"", 0)
        journal.start()
        writer.event(clock_event(0, descriptor.header.utc_start_us))
        return writer

    def now_us(self) -> int:
        """Session time of this moment [us]."""
        return microseconds(self._clock.monotonic_ns(), self.t0_ns)

    def channels(self, channels: Iterable[Channel]) -> None:
        """Announce channels, before their first reading.

        Raises
        ------
        SessionError
            If a channel that is known comes in another unit, or its id cannot be written; nothing changes.
        """
        descriptor = self._descriptor.with_channels(channels)
        if descriptor != self._descriptor:
            self._descriptor = descriptor
            for channel in descriptor.channels:
                self._lines.set_unit(channel.id, channel.unit)
            self._journal.replace(DESCRIPTOR, descriptor.encode())

    def add(self, rows: Rows) -> None:
        """Hand over readings in the order of arrival; they are with the operating system soon after.

        Call it with what has come together in at most 250 ms. Rows that find no room while the disk refuses
        are counted, and an event ``lost`` says so; who writes faster than a disk takes it (an import) calls
        :meth:`flush` between batches.
        """
        if not len(rows):
            return
        part_us = self._descriptor.header.part_us
        if int(rows.t_us.max()) // part_us <= self._hour:  # nearly always: no new part begins
            self._put(rows)
            return
        hours = np.maximum(np.maximum.accumulate(rows.t_us // part_us), self._hour)
        starts = [0, *(np.flatnonzero(np.diff(hours)) + 1).tolist(), len(rows)]
        for start, end in itertools.pairwise(starts):
            if hours[start] > self._hour:
                self._hour = int(hours[start])
                self._next_part()
            self._put(rows.take(slice(start, end)))

    def event(self, event: Event) -> None:
        """Write an event; it is held even when rows find no room. A ``stop`` is then the session's own."""
        self._stopped = self._stopped or event.kind == "stop"
        self._journal.append(EVENTS, event_line(event), 0, always=True)

    def shown(self, lines: Iterable[bytes]) -> None:
        """Record what a person is shown; it gives way to readings where the disk refuses."""
        content = b"".join(lines)
        if content:
            self._journal.append(RESULTS, content, 0)

    def note(self, kind: str, subject: str = "", text: str = "", *, from_us: int | None = None) -> Event:
        """Write an event that holds from now on, or from another moment; gives it back."""
        event = Event(self.now_us() if from_us is None else from_us, self._utc_us(), kind, subject, text)
        self.event(event)
        return event

    def flush(self, timeout_s: float = 5.0) -> bool:
        """Wait until everything is with the operating system; False if the disk refuses."""
        return self._journal.flush(timeout_s)

    def status(self) -> JournalStatus:
        """Say how storing stands."""
        return self._journal.status()

    def close(self, reason: str, *, timeout_s: float = 10.0) -> tuple[str, ...]:
        """End the session: stop event (where none is written yet), sizes and digests, archive.

        Returns
        -------
        tuple of str
            What did not work although all rows are stored, for example the archive on a full disk.

        Raises
        ------
        StorageError
            If rows are held and the disk refuses; nothing is given up, and close can be called again.
        """
        if self._lock is None:
            return ()
        if not self._stopped:
            self.note("stop", "", reason)
        self._tell_lost()
        if not self._journal.stop(timeout_s):
            raise StorageError(
                self._journal.trouble or "the disk does not answer; wait and try again", self.folder
            )
        warnings = finish(self.folder, self._finished(SessionState.CLOSED), self._ahead.end())
        unlock_session(self._lock, self.folder)
        self._lock = None
        return warnings

    def abandon(self) -> None:
        """End without closing: for a writer whose disk will not come back. Held rows are lost."""
        if self._lock is not None:
            self._journal.abandon()
            self._ahead.give_up()
            unlock_session(self._lock, self.folder)
            self._lock = None

    def _finished(self, state: SessionState) -> Descriptor:
        return replace(self._descriptor, state=state, rows=self._rows, duration_us=self._newest_us)

    def _put(self, rows: Rows) -> None:
        self._newest_us = max(self._newest_us, int(rows.t_us.max()))
        if self._journal.append(part_name(self._part), self._lines.encode(rows), len(rows)):
            self._rows += len(rows)
            self._tell_lost()
        else:
            first, last = int(rows.t_us.min()), int(rows.t_us.max())
            lost = self._lost or _Lost(0, first, last)
            self._lost = _Lost(lost.rows + len(rows), min(lost.first_us, first), max(lost.last_us, last))

    def _tell_lost(self) -> None:
        if self._lost is not None:
            span = f"{elapsed_text(self._lost.first_us)} s to {elapsed_text(self._lost.last_us)} s"
            text = f"{self._lost.rows} rows from {span} found no room in memory while the disk refused"
            self.note("lost", "journal", text, from_us=self._lost.first_us)
            self._lost = None

    def _next_part(self) -> None:
        self._ahead.finished(part_name(self._part), self._descriptor, self._rows)
        self._part += 1
        name = part_name(self._part)
        self._journal.open(name, READINGS_HEADER)
        self._journal.finish(part_name(self._part - 1))
        self._descriptor = replace(self._descriptor, readings=(*self._descriptor.readings, name))
        self._journal.replace(DESCRIPTOR, self._descriptor.encode())

    def _utc_us(self) -> int:
        return self._clock.utc_ns() // 1000


def finish(folder: Path, descriptor: Descriptor, prepared: Prepared | None = None) -> tuple[str, ...]:
    """Write the final descriptor with sizes and digests, then the archive; gives what did not work.

    Parameters
    ----------
    folder
        The session.
    descriptor
        With everything but sizes and digests.
    prepared
        The first parts, measured and sorted already; without it all are read now.
    """
    parts = parts_in(folder)
    warnings: list[str] = []
    ready = prepared or Prepared(folder, descriptor)
    try:
        if not ready.serves(parts, descriptor):  # some other program wrote into a finished part
            ready.close()
            ready = Prepared(folder, descriptor)
        left = parts[len(ready.digest.parts) :]
        for path in left:
            ready.digest.add(path)
        others = (digest_of(path) for path in (folder / EVENTS, *results_in(folder)))
        measured = (*ready.digest.parts, *others)
        descriptor = replace(descriptor, readings=tuple(path.name for path in parts), parts=measured)
        replace_file(folder / DESCRIPTOR, descriptor.encode(ready.digest.stream))
    except OSError as error:
        ready.close()
        warnings.append(f"the descriptor was not finished: {reason_of(error)}; then run recover")
        return tuple(warnings)
    try:
        for path in left:
            ready.readings.take(path)
        write_archive(folder, descriptor, ready.readings)
    except OSError as error:
        warnings.append(f"the archive was not written: {reason_of(error)}; then run recover")
    except SessionError as error:
        warnings.append(str(error))
    finally:
        ready.close()
    return tuple(warnings)
