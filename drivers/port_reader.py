"""One thread per port: reads, stamps the moment, and hands over without waking the loop for each reading."""

from __future__ import annotations

import asyncio
import logging
import threading
from collections import deque
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from queue import Empty, SimpleQueue

from drivers.base import Clock, DriverError, LinkLostError, Timing
from drivers.serial_link import ByteLink

_log = logging.getLogger(__name__)
Chunk = tuple[int, bytes]
"""Moment right after the read [ns] and what was read."""
PENDING_LIMIT = 4 * 1024 * 1024
"""Bytes a stalled loop may leave uncollected before chunks are dropped, and counted."""


class PortReader:
    """A link in a thread of its own; only that thread opens, reads, writes and closes it."""

    def __init__(self, link: ByteLink, clock: Clock, name: str) -> None:
        self._link, self._clock = link, clock
        self._chunks: SimpleQueue[Chunk] = SimpleQueue()
        self._to_send: deque[bytes] = deque()
        self._stop = threading.Event()
        self._pending = 0
        self._collected = 0
        self.overrun_bytes = 0
        self.opened = threading.Event()
        self.failure: Exception | None = None
        self._thread = threading.Thread(target=self._run, name=f"port {name}", daemon=True)

    def start(self) -> None:
        """Begin to open the link."""
        self._thread.start()

    def send(self, data: bytes) -> None:
        """Send bytes at the thread's next turn."""
        self._to_send.append(data)

    def collect(self) -> list[Chunk]:
        """Give the chunks read since the last call; raises the link's failure once all are given."""
        chunks: list[Chunk] = []
        over = self.failure is not None  # looked at first: what was read before the loss is given first
        while True:
            try:
                chunk = self._chunks.get_nowait()
            except Empty:
                break
            chunks.append(chunk)
            self._collected += len(chunk[1])
        if over and not chunks:
            assert self.failure is not None
            raise self.failure
        return chunks

    async def next_chunks(self, timing: Timing) -> list[Chunk]:
        """Wait for the next chunks; raises the link's failure once all are given."""
        while not (chunks := self.collect()):  # noqa: ASYNC110  no wake-up for each read
            await asyncio.sleep(timing.drain_interval)
        return chunks

    def stop(self) -> None:
        """Ask the thread to end after its present read."""
        self._stop.set()

    @property
    def alive(self) -> bool:
        """Whether the thread still runs."""
        return self._thread.is_alive()

    def _run(self) -> None:
        try:
            self._link.open()
            self.opened.set()
            while not self._stop.is_set():
                while self._to_send:
                    self._link.write(self._to_send.popleft())
                data = self._link.read_some()
                if data:
                    self._keep(self._clock.monotonic_ns(), data)
        except DriverError as error:
            self.failure = error
        except Exception as error:
            _log.warning("The reader of %s failed.", self._link.describe(), exc_info=True)
            self.failure = LinkLostError(f"{self._link.describe()} failed: {type(error).__name__}: {error}.")
        finally:
            self._link.close()

    def _keep(self, t_ns: int, data: bytes) -> None:
        if self._pending - self._collected > PENDING_LIMIT:
            self.overrun_bytes += len(data)
            return
        self._pending += len(data)
        self._chunks.put((t_ns, data))


@asynccontextmanager
async def reading(
    make_link: Callable[[], ByteLink], clock: Clock, timing: Timing, name: str
) -> AsyncIterator[PortReader]:
    """Open a link in a thread of its own within the deadline, and close it whatever happens.

    Raises
    ------
    LinkLostError, NeedsPersonError
        If it cannot be opened.
    """
    reader = PortReader(make_link(), clock, name)
    reader.start()
    loop = asyncio.get_running_loop()
    try:
        deadline = loop.time() + timing.open_deadline
        while not reader.opened.is_set():
            if reader.failure is not None:
                raise reader.failure
            if loop.time() > deadline:
                raise LinkLostError(f"{name} did not open within {timing.open_deadline:g} s.")
            await asyncio.sleep(min(timing.drain_interval, 0.01))
        yield reader
    finally:
        reader.stop()
        deadline = loop.time() + 0.8 * timing.close_deadline  # sooner than the supervisor gives up
        # A thread cannot set an asyncio event without waking the loop; it ends within one read time-out.
        while reader.alive and loop.time() < deadline:  # noqa: ASYNC110
            await asyncio.sleep(min(timing.drain_interval, 0.01))
        if reader.alive:
            _log.warning("The port of %s does not close and is left to itself.", name)
