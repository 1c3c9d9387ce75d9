"""What callbacks have brought and a stream has not taken yet: bounded, counted, closed with its stream."""

from __future__ import annotations

import asyncio
from collections import Counter, deque
from collections.abc import AsyncIterator

from analysis.measure import Reading
from drivers.base import DriverError, Rejected

_MOST = 20_000
"""Readings kept for a stream that does not come to take them: minutes of the fastest probe."""


class Arrivals:
    """Readings and faults on their way from callbacks to one stream, in one event loop.

    Callbacks only append, so they are quick and can raise nothing. After :meth:`close` everything is ignored:
    a callback of an old connection can never reach a new one.
    """

    def __init__(self) -> None:
        self._readings: deque[Reading] = deque()
        self._rejected: Counter[str] = Counter()
        self._sample = b""
        self._failure: DriverError | None = None
        self._wake = asyncio.Event()
        self.closed = False

    def put(self, reading: Reading) -> None:
        """Take a reading; the oldest is dropped and counted when nobody collects."""
        if self.closed:
            return
        if len(self._readings) >= _MOST:
            self._readings.popleft()
            self._rejected["overrun"] += 1
        self._readings.append(reading)
        self._wake.set()

    def reject(self, kind: str, payload: bytes = b"") -> None:
        """Count something that could not be used."""
        if self.closed:
            return
        self._sample = self._sample or payload
        self._rejected[kind] += 1
        self._wake.set()

    def fail(self, failure: DriverError) -> None:
        """End the stream with this error, after what has come before it."""
        if not self.closed and self._failure is None:
            self._failure = failure
            self._wake.set()

    def close(self) -> None:
        """Ignore whatever still comes."""
        self.closed = True

    async def taken(self, now_ns: int) -> AsyncIterator[list[Reading] | Rejected]:
        """Wait, then yield all that has come since the last time.

        Raises
        ------
        DriverError
            What :meth:`fail` was given, once everything before it is taken.
        """
        await self._wake.wait()
        self._wake.clear()
        if self._readings:
            batch = list(self._readings)
            self._readings.clear()
            yield batch
        if self._rejected:
            counts, sample = dict(self._rejected), self._sample
            self._rejected.clear()
            self._sample = b""
            yield Rejected(now_ns, counts, sample)
        if self._failure is not None:
            raise self._failure
