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
    request_timeout=0.5,
    connect_deadline=0.6,
    discovery_deadline=0.2,
    close_deadline=0.3,
    default_interval=0.2,
    silent_at_least=0.2,
    scan_watchdog=0.3,
    backoff_most=0.3,
)
"""Twenty times as fast as in the field; requests keep some room on a busy computer."""


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
async def watching(adapter: Adapter, timing: Timing = FAST) -> AsyncIterator[Watched]:
    """Supervise an adapter while the context lasts."""
    watched = Watched(Counts())
    task = asyncio.create_task(
        supervise(
            adapter, SystemClock(), timing, watched.items.append, counts=watched.counts, rng=random.Random(1)
        )
    )
    try:
        yield watched
    finally:
        task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await task


async def until(condition: Callable[[], object], what: str, limit: float = 5.0) -> None:
    """Wait for a condition; the limit is generous, as it is a failure and no measurement."""
    loop = asyncio.get_running_loop()
    end = loop.time() + limit
    while not condition():
        assert loop.time() < end, f"did not happen: {what}"
        await asyncio.sleep(0.003)
