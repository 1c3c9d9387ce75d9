"""A small file that says how a recording stands, for a board without a screen; replaced whole each minute."""

from __future__ import annotations

import json
import logging
import os
import threading
import time
from pathlib import Path
from types import TracebackType
from typing import Self

from logger.append_file import replace_file
from logger.engine import Engine
from logger.errors import NotAvailableError
from logger.moments import utc_text
from logger.session_errors import reason_of
from logger.state_words import headline

_log = logging.getLogger(__name__)
EVERY_S = 60.0


def status_facts(engine: Engine, folder: Path, state: str) -> dict[str, object]:
    """Give the present state as plain values; times in seconds."""
    snapshot = engine.snapshot()
    journal, watch = snapshot.journal, engine.watch
    facts: dict[str, object] = {
        "state": state,
        "written_utc": utc_text(time.time_ns() // 1000),
        "process": os.getpid(),
        "session": str(folder),
        "elapsed": snapshot.elapsed_us / 1e6,
        "machine": headline(snapshot.newest.judgement) if snapshot.newest is not None else None,
        "links": [
            {
                "name": link.name,
                "state": link.event.state.value if link.event is not None else None,
                "reason": link.trouble or (link.event.reason if link.event is not None else ""),
                "readings": link.counts.readings,
                "rejected": link.counts.faults,
                "connections": link.counts.connections,
            }
            for link in snapshot.links
        ],
        "alarms": [
            {
                "code": alarm.rule.code,
                "title": alarm.rule.title,
                "state": alarm.standing.state.value,
                "raised": alarm.standing.raised_us / 1e6,
                "times": alarm.standing.times,
            }
            for alarm in snapshot.alarms
        ],
        "silent": snapshot.silent,
        "late": snapshot.late,
        "not_analysed": snapshot.lost,
    }
    if journal is not None:
        facts["storing"] = {
            "written": journal.written_rows,
            "held": journal.held_rows,
            "lost": journal.dropped_rows,
            "behind": journal.behind_s,
            "trouble": journal.trouble,
        }
    if watch is not None:
        facts["watch"] = {
            "received": watch.received.total(),
            "stored": watch.stored.total(),
            "left_out": watch.left_out.total(),
            "windows": watch.windows,
            "full_rate": watch.full_rate,
        }
    return facts


def begin_status(path: Path) -> None:
    """Say that a recording is about to begin.

    Raises
    ------
    NotAvailableError
        If the file cannot be written, before anything else is made.
    """
    try:
        replace_file(path, b'{"state": "starting"}\n')
    except OSError as error:
        sentence = f"The status file {path} cannot be written: {reason_of(error)}."
        raise NotAvailableError(sentence) from None


class StatusFile:
    """Writes the file from a thread of its own while a recording runs; a disk that refuses stops nothing."""

    def __init__(self, path: Path, engine: Engine, folder: Path, every_s: float = EVERY_S) -> None:
        self._path, self._engine, self._folder, self._every_s = path, engine, folder, every_s
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="status file", daemon=True)

    def __enter__(self) -> Self:
        """Write it the first time, and from then on by itself."""
        self._try("recording")
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Write it a last time: ``ended``, or ``failed`` where the recording ended with a fault."""
        self._stop.set()
        self._thread.join()
        self._try("ended" if kind is None else "failed")

    def _run(self) -> None:
        while not self._stop.wait(self._every_s):
            self._try("recording")

    def _try(self, state: str) -> None:
        try:
            self._write(state)
        except OSError as error:
            _log.warning("the status file was not written: %s", reason_of(error))

    def _write(self, state: str) -> None:
        for _ in range(5):
            try:
                facts = status_facts(self._engine, self._folder, state)
                break
            except RuntimeError:  # a channel appeared while we looked; look again
                continue
        else:
            return
        replace_file(self._path, json.dumps(facts, indent=1).encode() + b"\n")
