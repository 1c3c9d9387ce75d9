"""What keeps one adapter alive: silence, reconnecting, back-off, epochs and exact counts, for every kind.

One lost probe never stops its neighbours: whatever an adapter raises ends in an event, not in the program.
"""

from __future__ import annotations

import asyncio
import logging
import random
import statistics
from collections import Counter, deque
from collections.abc import Callable
from contextlib import aclosing
from dataclasses import dataclass, field
from typing import cast

from analysis.measure import Quality, Reading
from drivers.base import (
    Adapter,
    ChannelsFound,
    Clock,
    DriverError,
    LinkEvent,
    LinkState,
    NeedsPersonError,
    Rejected,
    StreamItem,
    Timing,
)

_log = logging.getLogger(__name__)
Emit = Callable[[StreamItem], None]
_RHYTHM = 3
"""Intervals between readings from which the rhythm of a device is known."""
_TRYING = (LinkState.SEARCHING, LinkState.CONNECTING, LinkState.WAITING, LinkState.FAILED)


@dataclass(slots=True)
class Counts:
    """What one adapter has given so far; nothing is dropped that is not counted here."""

    readings: int = 0
    rejected: Counter[str] = field(default_factory=Counter)
    """Kind of fault to refused frames; ``lead_in`` is before the first good line and no fault."""
    not_known: int = 0
    """Readings without a value: the instrument itself had none, or it cannot be right."""
    out_of_range: int = 0
    connections: int = 0
    losses: int = 0
    abandoned: int = 0
    """Connections that did not close in time and were left to themselves."""

    @property
    def faults(self) -> int:
        """Refused frames, lead-in not counted."""
        return self.rejected.total() - self.rejected["lead_in"]


class _ReconnectError(DriverError):
    """The supervisor itself gives a connection up."""


async def supervise(
    adapter: Adapter,
    clock: Clock,
    timing: Timing,
    emit: Emit,
    *,
    counts: Counts | None = None,
    rng: random.Random | None = None,
) -> Counts:
    """Run an adapter until it ends by itself or this is cancelled.

    Parameters
    ----------
    adapter
        What to read.
    clock, timing
        Handed to the adapter; silence and back-off run on the loop's own time.
    emit
        Takes every item, epochs stamped; called in the loop, must be quick. What it raises is raised here.
    counts
        Filled while running; a new one by default.
    rng
        For the jitter of the back-off; a test gives its own.

    Returns
    -------
    Counts
        When the adapter has ended by itself.
    """
    return await _Supervisor(adapter, clock, timing, emit, counts or Counts(), rng or random.Random()).run()  # noqa: S311


class _Supervisor:
    def __init__(
        self,
        adapter: Adapter,
        clock: Clock,
        timing: Timing,
        emit: Emit,
        counts: Counts,
        rng: random.Random,
    ) -> None:
        self._adapter, self._clock, self._timing, self._emit = adapter, clock, timing, emit
        self._counts, self._rng = counts, rng
        self._watched = bool(getattr(adapter, "watched", True))
        self._loop = asyncio.get_running_loop()
        self._state: tuple[LinkState | None, str] = (None, "")
        self._epoch = self._taking = 0
        self._failures = 0
        self._stated: float | None = None
        self._intervals: deque[float] = deque(maxlen=20)
        self._began = self._loop.time()
        self._first_data: float | None = None
        self._last_data: float | None = None
        self._last_item = self._began
        self._reminded = self._quiet = False
        self._last_reason = ""
        self._heard = self._began
        self._emit_failure: Exception | None = None

    async def run(self) -> Counts:
        while True:
            self._epoch += 1
            self._taking = self._epoch
            self._counts.connections += 1
            self._began = self._last_item = self._loop.time()
            self._first_data = self._last_data = None
            self._change(LinkState.CONNECTING)
            failure = await self._connection()
            if failure is None:
                self._change(LinkState.ENDED)
                return self._counts
            self._counts.losses += 1
            await self._wait(failure)

    async def _connection(self) -> Exception | None:
        """Run one connection; give why it was lost, or None when the adapter has ended."""
        task = asyncio.create_task(self._pump(self._epoch), name=f"{self._adapter.name} epoch {self._epoch}")
        failure: Exception | None = None
        try:
            while not task.done():
                await asyncio.wait({task}, timeout=self._look_again())
                if not task.done():
                    try:
                        self._watch()
                    except _ReconnectError as lost:
                        failure = lost
                        break
        finally:
            await self._close(task)
        if self._emit_failure is not None:
            raise self._emit_failure
        if failure is not None or not task.done():
            return failure
        if task.cancelled():
            return DriverError("The adapter stopped by itself.")
        return cast("Exception | None", task.exception())

    async def _pump(self, epoch: int) -> None:
        # The protocol promises an iterator; adapters give asynchronous generators, which can be closed.
        stream = self._adapter.stream(self._clock, self._timing)
        async with aclosing(stream) as items:  # type: ignore[type-var]
            async for item in items:
                if epoch != self._taking:
                    return
                try:
                    self._take(item)
                except Exception as error:
                    self._emit_failure = error
                    raise

    async def _close(self, task: asyncio.Task[None]) -> None:
        """Cancel a connection and wait for it, but never longer than the deadline."""
        if task.done():
            _retrieve(task)  # where we are cancelled, nobody else asks for its end
            return
        self._taking = 0  # nothing that still arrives is taken
        task.cancel()
        try:
            await asyncio.wait({task}, timeout=self._timing.close_deadline)
        finally:
            if not task.done():
                self._counts.abandoned += 1
                _log.warning("%s did not close in time and is left to itself.", self._adapter.name)
                task.add_done_callback(_retrieve)

    def _take(self, item: StreamItem) -> None:
        now = self._loop.time()
        self._last_item = now
        if isinstance(item, list):
            if not item:
                return
            self._data(now)
            epoch, counts = self._epoch, self._counts
            stamped = [Reading(t, channel, value, quality, epoch) for t, channel, value, quality, _ in item]
            counts.readings += len(stamped)
            for reading in stamped:
                if reading.quality is not Quality.OK:
                    counts.not_known += reading.value is None
                    counts.out_of_range += bool(reading.quality & Quality.OUT_OF_RANGE)
            self._emit(stamped)
        elif isinstance(item, LinkEvent):
            self._change(item.state, item.reason, retry_in_s=item.retry_in_s)
        else:
            if isinstance(item, ChannelsFound):
                self._stated = min((c.expected_interval_s for c in item.channels), default=None)
            elif isinstance(item, Rejected):
                self._counts.rejected.update(item.counts)
            self._emit(item)

    def _data(self, now: float) -> None:
        if self._first_data is None:
            self._first_data = now
        if self._last_data is not None:
            self._intervals.append(now - self._last_data)
        self._last_data = self._heard = now
        self._reminded = self._quiet = False
        if self._state[0] is not LinkState.LIVE:
            self._change(LinkState.LIVE, "data again" if self._state[0] is LinkState.SILENT else "")

    def _change(
        self, state: LinkState, reason: str = "", *, retry_in_s: float | None = None, again: bool = False
    ) -> None:
        if (state, reason) == self._state and not again:
            return
        self._state = (state, reason)
        if self._quiet and state in _TRYING:
            return
        self._emit(
            LinkEvent(self._clock.monotonic_ns(), state, reason, retry_in_s, self._failures, self._epoch)
        )

    def _expected(self) -> float:
        """Give the seconds between readings: stated or seen, whichever is longer; else the default."""
        seen = statistics.median(self._intervals) if len(self._intervals) >= _RHYTHM else 0.0
        return max(self._stated or 0.0, seen) or self._timing.default_interval

    def _limits(self) -> tuple[float, float]:
        """Give after how long a link is silent, and after how long it is given up [s]."""
        timing, expected = self._timing, self._expected()
        silent = max(timing.silent_after_intervals * expected, timing.silent_at_least)
        if len(self._intervals) < _RHYTHM:
            # A profile may have left the interval out: a slow instrument gets time to show its rhythm.
            expected = max(expected, timing.default_interval)
        return silent, max(timing.reconnect_after_intervals * expected, silent)

    def _look_again(self) -> float:
        """Give the seconds to the next look; short, since the interval may become known meanwhile."""
        return max(min(self._timing.silent_at_least, self._timing.open_deadline) / 4, 0.001)

    def _watch(self) -> None:
        """Notice silence and connections that never come about."""
        self._remind()
        now = self._loop.time()
        state = self._state[0]
        if state is LinkState.CONNECTING:
            timing = self._timing
            allowed = timing.open_deadline + timing.connect_deadline + timing.discovery_deadline
            if now - self._last_item > allowed:
                raise _ReconnectError(f"no connection within {allowed:g} s")
        if self._watched and state in (LinkState.LIVE, LinkState.SILENT):
            since = now - (self._last_data if self._last_data is not None else self._last_item)
            silent, reconnect = self._limits()
            if since > reconnect:
                raise _ReconnectError(f"no data for {since:.1f} s, connecting anew")
            if since > silent and state is LinkState.LIVE:
                self._change(LinkState.SILENT, f"no data for {since:.1f} s")

    async def _wait(self, failure: Exception) -> None:
        timing = self._timing
        if self._data_seconds() >= timing.backoff_reset_after:
            self._failures = 0
        self._failures += 1
        reason = str(failure) if isinstance(failure, DriverError) else _words(failure)
        if not isinstance(failure, DriverError):
            _log.warning("%s failed.", self._adapter.name, exc_info=failure)
        state = LinkState.WAITING
        delay = timing.backoff_first * timing.backoff_factor ** min(self._failures - 1, 30)
        if isinstance(failure, NeedsPersonError):
            state, delay = LinkState.FAILED, timing.backoff_most
        delay = min(delay, timing.backoff_most) * (
            1.0 + timing.backoff_jitter * (2.0 * self._rng.random() - 1.0)
        )
        if reason != self._last_reason:
            self._quiet = False
        self._last_reason = reason
        self._change(state, reason, retry_in_s=delay, again=True)
        self._remind()
        await asyncio.sleep(delay)

    def _data_seconds(self) -> float:
        """Give how long this connection has given data [s]."""
        if self._first_data is None or self._last_data is None:
            return 0.0
        return self._last_data - self._first_data

    def _remind(self) -> None:
        """Say once that a probe has long not been heard; from then on only changes are told."""
        if (
            self._watched
            and self._loop.time() - self._heard > self._timing.remind_after
            and not self._reminded
        ):
            minutes = f"{self._timing.remind_after / 60:.0f} min"
            state = self._state[0] or LinkState.CONNECTING
            self._change(state, f"not heard for {minutes}: near? switched on? battery?")
            self._reminded = self._quiet = True


def _words(failure: Exception) -> str:
    return f"{type(failure).__name__}: {failure}" if str(failure) else type(failure).__name__


def _retrieve(task: asyncio.Task[None]) -> None:
    """Look at the end of a task left to itself, so that it is not reported as forgotten."""
    if not task.cancelled():
        task.exception()
