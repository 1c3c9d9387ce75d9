"""The journal: a thread that brings rows to the disk in order and never lets an error lose them.

Rows are handed to the operating system at once (a killed process then loses none of them) and made durable
once a second (a power cut then loses about a second). While the disk refuses, rows are held in memory up to
a limit and written in order as soon as it works again; what went beyond the limit is counted.
"""

from __future__ import annotations

import logging
import threading
import time
from collections import deque
from dataclasses import dataclass
from pathlib import Path

from logger.append_file import AppendFile, replace_file
from logger.session_errors import reason_of

_log = logging.getLogger(__name__)
_CHUNK = 1 << 20  # rows waiting for the same file are joined up to this size [byte]


@dataclass(frozen=True, slots=True)
class JournalStatus:
    """How the journal stands."""

    written_rows: int
    """Rows handed to the operating system."""
    held_rows: int
    """Rows that wait in memory."""
    dropped_rows: int
    """Rows that found no room in memory while the disk refused."""
    behind_s: float
    """Age of the oldest row that the disk has not confirmed; 0 when it has all [s]."""
    sync_s: float
    """How long the latest confirmation took [s]."""
    longest_sync_s: float
    trouble: str | None
    """Why writing does not work at the moment, in one sentence."""


@dataclass(frozen=True, slots=True)
class _Work:
    name: str
    content: bytes
    rows: int
    since: float
    replaces: bool = False


class Journal:
    """Writes a session's files from a thread of its own."""

    def __init__(
        self, folder: Path, *, hold_bytes: int = 64 << 20, sync_every_s: float = 1.0, retry_s: float = 0.5
    ) -> None:
        self._folder = folder
        self._hold_bytes = hold_bytes
        self._sync_every_s = sync_every_s
        self._retry_s = retry_s
        self._change = threading.Condition()
        self._waiting: deque[_Work] = deque()
        self._waiting_bytes = self._unsynced_bytes = 0
        self._files: dict[str, AppendFile] = {}
        self._finished: set[str] = set()
        self._written_rows = self._held_rows = self._dropped_rows = 0
        self._oldest_unsynced: float | None = None
        self._sync_s = self._longest_sync_s = 0.0
        self._why: str | None = None
        self._stop = self._hurry = self._sync_refused = False
        self._thread = threading.Thread(target=self._run, name="journal", daemon=True)

    def start(self) -> None:
        """Start the writing thread."""
        self._thread.start()

    def open(self, name: str, header: bytes) -> None:
        """Name a file that rows will be appended to; it is made with its header if it is not there."""
        with self._change:
            self._files[name] = AppendFile(self._folder / name, header)

    def finish(self, name: str) -> None:
        """Say that nothing more comes for a file: it is let go of once all of it is durable.

        A recording of weeks would otherwise hold a file of each hour open, and run into the system's limit.
        """
        with self._change:
            self._finished.add(name)

    def append(self, name: str, chunk: bytes, rows: int = 1, *, always: bool = False) -> bool:
        """Hand over whole rows for a file; False if memory is full and they are counted as dropped.

        ``always`` is for the few lines that say what happened: they are held beyond the limit.
        """
        with self._change:
            # While the disk does not confirm, what is written but not confirmed is in memory as well.
            kept = self._waiting_bytes + (self._unsynced_bytes if self._sync_refused else 0)
            if not always and kept + len(chunk) > self._hold_bytes:
                self._dropped_rows += rows
                return False
            self._enqueue(_Work(name, chunk, rows, time.monotonic()))
        return True

    def replace(self, name: str, content: bytes) -> None:
        """Hand over new content for a whole file (the descriptor), in its turn."""
        with self._change:
            self._enqueue(_Work(name, content, 0, time.monotonic(), replaces=True))

    def flush(self, timeout_s: float = 5.0) -> bool:
        """Wait until everything handed over so far is with the operating system."""
        with self._change:
            return self._change.wait_for(lambda: not self._waiting, timeout_s)

    def sync(self, timeout_s: float = 10.0) -> bool:
        """Wait until everything handed over so far is durable."""
        with self._change:
            self._hurry = True
            self._change.notify_all()
            return self._change.wait_for(
                lambda: not self._waiting and self._oldest_unsynced is None, timeout_s
            )

    def stop(self, timeout_s: float = 10.0) -> bool:
        """Make everything durable and end the thread; False if the disk refuses, and then nothing ends."""
        if not self._thread.is_alive():
            return not self._waiting
        if not self.sync(timeout_s):
            return False
        with self._change:
            self._stop = True
            self._change.notify_all()
        self._thread.join()
        return True

    def abandon(self) -> None:
        """End the thread although rows may be held; they are lost."""
        with self._change:
            self._stop = True
            self._change.notify_all()
        self._thread.join(timeout=5.0)  # a disk that hangs must not hang the program

    @property
    def trouble(self) -> str | None:
        """Why writing does not work, in one sentence; None while it works."""
        with self._change:
            return self._sentence()

    def status(self) -> JournalStatus:
        """Say how the journal stands."""
        with self._change:
            oldest = [work.since for work in list(self._waiting)[:1]]
            if self._oldest_unsynced is not None:
                oldest.append(self._oldest_unsynced)
            return JournalStatus(
                self._written_rows,
                self._held_rows,
                self._dropped_rows,
                max(0.0, time.monotonic() - min(oldest)) if oldest else 0.0,
                self._sync_s,
                self._longest_sync_s,
                self._sentence(),
            )

    def _sentence(self) -> str | None:
        if self._why is None:
            return None
        held = f"{self._held_rows} rows are held in memory and will be written when it works again"
        lost = f"; {self._dropped_rows} more found no room and are lost" if self._dropped_rows else ""
        return f"Not stored: {self._why}. {held}{lost}."

    def _enqueue(self, work: _Work) -> None:
        self._waiting.append(work)
        self._waiting_bytes += len(work.content)
        self._held_rows += work.rows
        self._change.notify_all()

    # From here on: the thread.

    def _run(self) -> None:
        sync_at = time.monotonic() + self._sync_every_s
        while True:
            with self._change:
                now = time.monotonic()
                if self._why is not None:
                    # Nothing but a retry helps; new rows do not wake the thread early.
                    self._change.wait_for(lambda: self._stop or self._hurry, self._retry_s)
                elif not self._waiting and not self._stop and not self._hurry:
                    idle = self._oldest_unsynced is None
                    self._change.wait(None if idle else max(0.0, sync_at - now))
                if self._stop:
                    break
                batch = self._next_batch()
                last = len(batch) == len(self._waiting)
                due = (self._hurry and last) or time.monotonic() >= sync_at or self._why is not None
            if batch:
                self._write(batch)
            if due:
                self._sync()
                sync_at = time.monotonic() + self._sync_every_s
        for file in self._files.values():
            file.close()

    def _next_batch(self) -> list[_Work]:
        """Take what waits for one file, without removing it: it leaves the queue when it is written."""
        batch: list[_Work] = []
        size = 0
        for work in self._waiting:
            if batch and (
                work.name != batch[0].name
                or work.replaces
                or batch[0].replaces
                or size + len(work.content) > _CHUNK
            ):
                break
            batch.append(work)
            size += len(work.content)
        return batch

    def _write(self, batch: list[_Work]) -> None:
        content = b"".join(work.content for work in batch)
        name = batch[0].name
        try:
            if batch[0].replaces:
                replace_file(self._folder / name, content)
            else:
                self._files[name].write(content)
        except Exception as error:  # whatever it is, the rows stay held and are tried again
            self._fail(name, error)
            return
        rows = sum(work.rows for work in batch)
        with self._change:
            for _ in batch:
                self._waiting.popleft()
            self._waiting_bytes -= len(content)
            self._unsynced_bytes += 0 if batch[0].replaces else len(content)
            self._held_rows -= rows
            self._written_rows += rows
            if self._oldest_unsynced is None and not batch[0].replaces:
                self._oldest_unsynced = batch[0].since
            if not self._sync_refused:
                self._why = None
            self._change.notify_all()

    def _sync(self) -> None:
        begun = time.monotonic()
        with self._change:
            files = list(self._files.values())
        for file in files:
            try:
                file.sync()
            except Exception as error:
                self._sync_refused = True
                self._fail(file.path.name, error)
                return
        took = time.monotonic() - begun
        with self._change:
            self._sync_s = took
            self._longest_sync_s = max(self._longest_sync_s, took)
            self._oldest_unsynced = None
            self._unsynced_bytes = 0
            if self._sync_refused or not self._waiting:
                self._why = None
            if not self._waiting:
                self._hurry = False
            self._sync_refused = False
            self._let_go()
            self._change.notify_all()

    def _let_go(self) -> None:
        """Close the files to which nothing more comes and which the disk has confirmed whole."""
        awaited = {work.name for work in self._waiting}
        for name in [name for name in self._finished - awaited if not self._files[name].dirty]:
            self._finished.discard(name)
            self._files.pop(name).close()

    def _fail(self, name: str, error: Exception) -> None:
        reason = reason_of(error) if isinstance(error, OSError) else f"an internal fault ({error!r})"
        if not isinstance(error, OSError):
            _log.exception("the journal met a fault of its own in %s", name)
        with self._change:
            self._why = f"{name} in {self._folder}: {reason}"
            self._hurry = False
            self._change.notify_all()
