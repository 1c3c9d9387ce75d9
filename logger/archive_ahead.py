"""While a session is recorded its finished parts are measured and sorted, so that closing has little left.

The journal stays the truth. What is prepared here is scratch: lost with the process, and thrown away at the
first trouble or when a file is not any more as it was measured; then all is made from the journal.
"""

from __future__ import annotations

import contextlib
import logging
import queue
import threading
from collections.abc import Callable
from pathlib import Path

from logger.archive import SCRATCH, units_of
from logger.descriptor import Descriptor, ReadingsDigest
from logger.session_errors import reason_of
from logger.sorted_readings import SortedReadings

_log = logging.getLogger(__name__)
REST_S = 0.02
"""Pause after every batch of some ten thousand readings: recording comes first."""
LEAST_READINGS = 6_000_000
"""A session is prepared ahead from so many readings on: a smaller one is closed in about two seconds as it
is, and a watch of days stays as small in memory as it began."""
CONFIRM_S = 5.0
"""How long to wait for the disk to confirm a finished part before it is tried again."""


class Prepared:
    """The first parts of a session, measured and sorted; each is read once, in their order."""

    def __init__(self, folder: Path, descriptor: Descriptor) -> None:
        self.readings = SortedReadings(units_of(descriptor), folder / SCRATCH)
        self.digest = ReadingsDigest()

    def take(self, part: Path, between: Callable[[], None] = lambda: None) -> None:
        """Take in the next part."""
        self.readings.take(part, between)
        self.digest.add(part)

    def serves(self, parts: list[Path], descriptor: Descriptor) -> bool:
        """Whether these are still the first parts, and the channels are described as was read.

        Raises
        ------
        OSError
            If a part cannot be looked at.
        """
        begun = parts[: len(self.digest.parts)]
        units = self.readings.units
        return [(path.name, path.stat().st_size) for path in begun] == [
            (part.path, part.bytes) for part in self.digest.parts
        ] and all(units.get(name, unit) == unit for name, unit in units_of(descriptor).items())

    def close(self) -> None:
        """Remove the scratch."""
        with contextlib.suppress(OSError):
            self.readings.close()


class _GivenUpError(Exception):
    """The session is left without being closed."""


class ArchiveAhead:
    """Prepares each part once it is finished and safe on the disk, in a thread of its own.

    Parameters
    ----------
    folder
        The session.
    confirmed
        Waits at most so many seconds until everything written so far is durable, and says whether it is.
    """

    def __init__(self, folder: Path, confirmed: Callable[[float], bool]) -> None:
        self._folder = folder
        self._confirmed = confirmed
        self._waiting: list[str] = []
        self._finished: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._thread: threading.Thread | None = None
        self._prepared: Prepared | None = None
        self._hurry = threading.Event()
        self._given_up = False
        self.taken = 0
        """How many parts are prepared."""

    def finished(self, part: str, descriptor: Descriptor, readings: int) -> None:
        """Say that nothing more will be added to a part, and how many readings there are so far."""
        self._waiting.append(part)
        if readings < LEAST_READINGS:
            return
        if self._thread is None:
            self._thread = threading.Thread(target=self._run, args=(descriptor,), name="archive", daemon=True)
            self._thread.start()
        for name in self._waiting:
            self._finished.put(name)
        self._waiting.clear()

    def end(self) -> Prepared | None:
        """Finish what is waiting, once the journal has stopped, and give what is prepared."""
        self._stop(None)
        prepared, self._prepared = self._prepared, None
        return prepared

    def give_up(self) -> None:
        """Leave without closing."""
        self._given_up = True
        self._stop(5.0)  # a disk that hangs must not hang the program
        if self._prepared is not None:
            self._prepared.close()

    def _stop(self, timeout_s: float | None) -> None:
        self._hurry.set()
        self._finished.put(None)
        if self._thread is not None:
            self._thread.join(timeout_s)
            self._thread = None

    # From here on: the thread.

    def _run(self, descriptor: Descriptor) -> None:
        prepared = Prepared(self._folder, descriptor)
        try:
            while (part := self._finished.get()) is not None:
                while not self._confirmed(CONFIRM_S):
                    self._turn()
                    if self._hurry.is_set():
                        raise TimeoutError("the disk does not confirm it")
                prepared.take(self._folder / part, self._turn)
                self.taken += 1
        except _GivenUpError:
            prepared.close()
        except Exception as error:  # whatever it is, closing makes the archive from the journal
            reason = reason_of(error) if isinstance(error, OSError) else repr(error)
            _log.warning("the archive is made when the session is closed, not before: %s", reason)
            prepared.close()
        else:
            self._prepared = prepared

    def _turn(self) -> None:
        if self._given_up:
            raise _GivenUpError
        self._hurry.wait(REST_S)
