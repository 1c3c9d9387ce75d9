"""Runs an adapter under the supervisor and keeps, in order, everything that comes out."""

from __future__ import annotations

import asyncio
import contextlib
import random
from collections.abc import AsyncIterator, Callable
from dataclasses import replace

from analysis.measure import Reading
from drivers.base import (
    Adapter,
    ChannelsFound,
    Clock,
    LinkEvent,
    LinkState,
    Rejected,
    StreamItem,
    Timing,
)
from drivers.clock import SystemClock
from drivers.supervise import Counts, supervise

FAST = replace(
    Timing().scaled(0.05),
    connect_deadline=3.0,
    discovery_deadline=3.0,
    request_timeout=3.0,
    close_deadline=0.5,
    default_interval=10.0,
    scan_watchdog=10.0,
    backoff_most=0.3,
)
"""Attempts follow each other twenty times as fast as in the field; every deadline leaves room for a busy
computer, so that a test meets one only where it is about it."""


class ManualClock:
    """Stands still until it is moved on, so that a test about time does not depend on the computer."""

    def __init__(self) -> None:
        self._now_ns = 10**9

    def advance(self, seconds: float) -> None:
        self._now_ns += round(seconds * 1e9)

    def monotonic_ns(self) -> int:
        return self._now_ns

    def utc_ns(self) -> int:
        return self._now_ns


class Watched:
    """What one supervised adapter has given."""

    def __init__(self, counts: Counts) -> None:
        self.items: list[StreamItem] = []
        self.counts = counts

    @property
    def readings(self) -> list[Reading]:
        return [reading for item in self.items if isinstance(item, list) for reading in item]

    @property
    def events(self) -> list[LinkEvent]:
        return [item for item in self.items if isinstance(item, LinkEvent)]

    @property
    def states(self) -> list[LinkState]:
        """States without immediate repetition."""
        states: list[LinkState] = []
        for event in self.events:
            if not states or states[-1] is not event.state:
                states.append(event.state)
        return states

    @property
    def channels(self) -> list[ChannelsFound]:
        return [item for item in self.items if isinstance(item, ChannelsFound)]

    @property
    def rejected(self) -> list[Rejected]:
        return [item for item in self.items if isinstance(item, Rejected)]

    def values(self, channel: str) -> list[float | None]:
        return [reading.value for reading in self.readings if reading.channel == channel]

    def reasons(self, state: LinkState) -> list[str]:
        return [event.reason for event in self.events if event.state is state]


@contextlib.asynccontextmanager
async def watching(
    adapter: Adapter, timing: Timing = FAST, clock: Clock | None = None
) -> AsyncIterator[Watched]:
    """Supervise an adapter while the context lasts."""
    watched = Watched(Counts())
    task = asyncio.create_task(
        supervise(
            adapter,
            clock or SystemClock(),
            timing,
            watched.items.append,
            counts=watched.counts,
            rng=random.Random(1),
        )
    )
    try:
        yield watched
    finally:
        task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await task


async def until(condition: Callable[[], object], what: str, limit: float = 20.0) -> None:
    """Wait for a condition; the limit is generous, as it is a failure and no measurement."""
    loop = asyncio.get_running_loop()
    end = loop.time() + limit
    while not condition():
        assert loop.time() < end, f"did not happen: {what}"
        await asyncio.sleep(0.003)
