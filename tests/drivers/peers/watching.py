"""What a test sees of a supervised adapter."""

from __future__ import annotations

import asyncio
import random
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from analysis.measure import Reading
from drivers.base import Adapter, ChannelsFound, Clock, LinkEvent, LinkState, Rejected, StreamItem, Timing
from drivers.clock import SystemClock
from drivers.supervise import Counts, supervise


@dataclass
class Watcher:
    """Gathers what is emitted, each with the moment at which it came."""

    readings: list[Reading] = field(default_factory=list)
    events: list[LinkEvent] = field(default_factory=list)
    event_times: list[float] = field(default_factory=list)
    channels: list[ChannelsFound] = field(default_factory=list)
    rejected: list[Rejected] = field(default_factory=list)

    def __call__(self, item: StreamItem) -> None:
        if isinstance(item, list):
            self.readings += item
        elif isinstance(item, LinkEvent):
            self.events.append(item)
            self.event_times.append(time.monotonic())
        elif isinstance(item, ChannelsFound):
            self.channels.append(item)
        else:
            self.rejected.append(item)

    @property
    def states(self) -> list[LinkState]:
        return [event.state for event in self.events]

    def reason(self, state: LinkState) -> str:
        """Give the last reason for a state."""
        return next((event.reason for event in reversed(self.events) if event.state is state), "")


class Supervised:
    """Runs an adapter under the supervisor inside ``async with``; afterwards nothing may be left over."""

    def __init__(self, adapter: Adapter, timing: Timing | None = None, clock: Clock | None = None) -> None:
        self.adapter, self.timing, self.clock = adapter, timing or Timing(), clock or SystemClock()
        self.seen = Watcher()
        self.counts = Counts()

    async def __aenter__(self) -> Supervised:
        self.task = asyncio.create_task(
            supervise(
                self.adapter, self.clock, self.timing, self.seen, counts=self.counts, rng=random.Random(1)
            )
        )
        return self

    async def __aexit__(self, *_: object) -> None:
        self.task.cancel()
        await asyncio.gather(self.task, return_exceptions=True)
        left = [
            task for task in asyncio.all_tasks() if task.get_name().startswith(f"{self.adapter.name} epoch")
        ]
        assert not left, f"tasks left over: {left}"

    async def live(self) -> None:
        """Wait until the port is open: what a port receives before that, opening throws away."""
        await self.until(lambda: LinkState.LIVE in self.seen.states)

    async def until(self, condition: Callable[[], bool], most: float = 10.0) -> float:
        """Wait for a condition and give how long it took [s]; fails with what was seen."""
        begun = time.monotonic()
        while not condition():
            if self.task.done() and self.task.exception() is not None:
                raise AssertionError("the supervisor failed") from self.task.exception()
            if time.monotonic() - begun > most:
                raise AssertionError(f"not within {most} s: {self.seen.events[-5:]} {self.counts}")
            await asyncio.sleep(0.002)
        return time.monotonic() - begun
