"""The supervisor: silence, back-off, epochs, deadlines, counts; one lost probe never stops its neighbours."""

from __future__ import annotations

import asyncio
import gc
import logging
import random
import time
import tracemalloc
from collections import Counter
from collections.abc import AsyncGenerator, Callable

import pytest

from analysis.measure import Channel, Quality, Reading
from analysis.units import Quantity
from drivers.base import (
    ChannelsFound,
    Clock,
    LinkEvent,
    LinkLostError,
    LinkState,
    NeedsPersonError,
    Rejected,
    StreamItem,
    Timing,
)
from drivers.clock import SystemClock
from drivers.supervise import Counts, supervise
from tests.drivers.peers.results import keep
from tests.drivers.peers.watching import Supervised

Body = Callable[[Clock, Timing], AsyncGenerator[StreamItem, None]]
QUICK = Timing(
    backoff_first=0.02,
    backoff_most=0.1,
    silent_at_least=0.05,
    close_deadline=0.2,
    backoff_reset_after=0.5,
    default_interval=0.02,
)


class Fake:
    """An adapter made of a function."""

    def __init__(self, body: Body, name: str = "fake") -> None:
        self.name, self._body = name, body

    def stream(self, clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        return self._body(clock, timing)


def channel(interval: float = 0.02, name: str = "fake/t") -> Channel:
    return Channel(name, Quantity.TEMPERATURE, "degC", expected_interval_s=interval)


def one(value: float | None = 1.0, quality: Quality = Quality.OK) -> list[Reading]:
    return [Reading(time.monotonic_ns(), "fake/t", value, quality)]


def test_silence_then_a_forced_reconnect_and_epochs() -> None:
    async def body(clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        yield ChannelsFound((channel(),))
        yield one()
        await asyncio.sleep(60)

    async def main() -> None:
        async with Supervised(Fake(body), QUICK) as run:
            await run.until(lambda: run.counts.connections == 3)
            states = run.seen.states
            assert states[:4] == [
                LinkState.CONNECTING, LinkState.LIVE, LinkState.SILENT, LinkState.WAITING,
            ]  # fmt: skip
            assert "no data for" in run.seen.reason(LinkState.SILENT)
            assert "connecting anew" in run.seen.reason(LinkState.WAITING)
            assert [r.epoch for r in run.seen.readings[:2]] == [1, 2]
            assert {event.epoch for event in run.seen.events[:4]} == {1}

    asyncio.run(main())


def test_an_instrument_slower_than_its_profile_says_is_not_torn_down() -> None:
    """Its profile may not state the interval: the rhythm that is seen counts."""

    async def body(clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        yield ChannelsFound((channel(0.005),))
        while True:
            await asyncio.sleep(0.1)
            yield one()

    async def main() -> None:
        timing = Timing(silent_at_least=0.02, default_interval=0.1)
        async with Supervised(Fake(body), timing) as run:
            await run.until(lambda: run.counts.readings >= 10)
            assert run.counts.connections == 1
            late = [
                event for event in run.seen.events if event.epoch == 1 and event.state is LinkState.SILENT
            ]
            assert len(late) <= 4, "silence is still told although the rhythm is known"

    asyncio.run(main())


def test_data_after_silence_is_live_again_without_a_new_epoch() -> None:
    async def body(clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        yield ChannelsFound((channel(),))
        yield one()
        await asyncio.sleep(0.1)
        while True:
            yield one()
            await asyncio.sleep(0.01)

    async def main() -> None:
        async with Supervised(Fake(body), QUICK) as run:
            await run.until(lambda: run.seen.reason(LinkState.LIVE) == "data again")
            assert LinkState.WAITING not in run.seen.states
            assert {r.epoch for r in run.seen.readings} == {1}

    asyncio.run(main())


def test_channels_known_only_after_connecting() -> None:
    """As with GATT: search, connect, look inside, only then say what there is."""

    async def body(clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        yield LinkEvent(clock.monotonic_ns(), LinkState.SEARCHING)
        await asyncio.sleep(0.15)  # searching has no deadline
        yield LinkEvent(clock.monotonic_ns(), LinkState.CONNECTING, "found, connecting")
        await asyncio.sleep(0.02)
        yield ChannelsFound((channel(name="fake/first"),))
        yield ChannelsFound((channel(name="fake/first"), channel(name="fake/second")))
        yield LinkEvent(clock.monotonic_ns(), LinkState.LIVE)
        while True:
            yield [Reading(time.monotonic_ns(), "fake/second", 2.0)]
            await asyncio.sleep(0.01)

    async def main() -> None:
        timing = Timing(
            open_deadline=0.03, connect_deadline=0.03, discovery_deadline=0.03, silent_at_least=0.2
        )
        async with Supervised(Fake(body), timing) as run:
            await run.until(lambda: run.counts.readings > 3)
            assert [len(item.channels) for item in run.seen.channels] == [1, 2]
            assert run.seen.states == [
                LinkState.CONNECTING, LinkState.SEARCHING, LinkState.CONNECTING, LinkState.LIVE,
            ]  # fmt: skip

    asyncio.run(main())


def test_a_connection_that_never_comes_about_is_given_up() -> None:
    async def body(clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        await asyncio.sleep(60)
        yield one()

    async def main() -> None:
        timing = Timing(
            open_deadline=0.02, connect_deadline=0.02, discovery_deadline=0.02, backoff_first=0.01
        )
        async with Supervised(Fake(body), timing) as run:
            await run.until(lambda: LinkState.WAITING in run.seen.states)
            assert "no connection within 0.06 s" in run.seen.reason(LinkState.WAITING)

    asyncio.run(main())


def test_what_needs_a_person_is_tried_slowly() -> None:
    async def body(clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        raise NeedsPersonError("The port is in use by another program; close that program.")
        yield one()

    async def main() -> None:
        timing = Timing(backoff_first=0.001, backoff_most=0.3, backoff_jitter=0.0)
        async with Supervised(Fake(body), timing) as run:
            await run.until(lambda: LinkState.FAILED in run.seen.states)
            event = next(event for event in run.seen.events if event.state is LinkState.FAILED)
            assert event.retry_in_s == 0.3
            assert event.reason.endswith("close that program.")

    asyncio.run(main())


def test_back_off_grows_is_bounded_jitters_and_is_reset_by_data() -> None:
    lasts = [0.0] * 6 + [0.3] + [0.0] * 2

    async def body(clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        yield ChannelsFound((channel(),))
        until = time.monotonic() + (lasts.pop(0) if lasts else 0.0)
        while time.monotonic() < until:
            yield one()
            await asyncio.sleep(0.005)
        raise LinkLostError("gone")

    async def main() -> None:
        timing = Timing(
            backoff_first=0.01, backoff_most=0.08, backoff_jitter=0.2, backoff_reset_after=0.2,
            silent_at_least=1.0,
        )  # fmt: skip
        async with Supervised(Fake(body), timing) as run:
            await run.until(lambda: run.counts.losses >= 9)
            delays = [
                event.retry_in_s or 0.0 for event in run.seen.events if event.state is LinkState.WAITING
            ]
            for delay, nominal in zip(delays, [0.01, 0.02, 0.04, 0.08, 0.08, 0.08, 0.01, 0.02], strict=False):
                assert 0.8 * nominal <= delay <= 1.2 * nominal
            assert len({round(delay / 0.08, 6) for delay in delays[3:6]}) == 3, "no jitter"

    asyncio.run(main())


def test_any_exception_is_a_loss_in_words_and_the_end_is_the_end() -> None:
    endings = [ZeroDivisionError("division by zero"), asyncio.CancelledError(), None]

    async def body(clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        yield one()
        ending = endings.pop(0)
        if ending is not None:
            raise ending

    async def main() -> None:
        async with Supervised(Fake(body), QUICK) as run:
            assert await asyncio.wait_for(run.task, 5) is run.counts
            assert run.seen.states[-1] is LinkState.ENDED
            reasons = [event.reason for event in run.seen.events if event.state is LinkState.WAITING]
            assert reasons == ["ZeroDivisionError: division by zero", "The adapter stopped by itself."]
            assert run.counts.readings == 3
            assert run.counts.losses == 2

    asyncio.run(main())


def test_the_adapter_is_cleaned_up_on_cancel() -> None:
    cleaned = []

    async def body(clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        try:
            while True:
                yield one()
                await asyncio.sleep(0.005)
        finally:
            cleaned.append(True)

    async def main() -> None:
        async with Supervised(Fake(body), QUICK) as run:
            await run.until(lambda: run.counts.readings > 2)
        assert cleaned == [True]

    asyncio.run(main())


def test_cancelling_returns_in_time_whatever_the_adapter_does() -> None:
    released = asyncio.Event()

    async def body(clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        yield one()
        while not released.is_set():
            try:
                await released.wait()
            except asyncio.CancelledError:
                continue  # the worst behaviour there is

    async def main() -> None:
        counts = Counts()
        task = asyncio.create_task(supervise(Fake(body), SystemClock(), QUICK, lambda _: None, counts=counts))
        await asyncio.sleep(0.05)
        task.cancel()
        done, _ = await asyncio.wait({task}, timeout=5.0)
        assert done, "cancelling did not return"
        assert task.cancelled()
        assert counts.abandoned == 1
        released.set()
        await asyncio.sleep(0.01)
        assert len(asyncio.all_tasks()) == 1

    asyncio.run(main())


def test_the_application_s_own_failure_is_not_hidden() -> None:
    async def body(clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        yield one()

    def emit(item: StreamItem) -> None:
        if isinstance(item, list):
            raise RuntimeError("the ring is broken")

    async def main() -> None:
        with pytest.raises(RuntimeError, match="the ring is broken"):
            await supervise(Fake(body), SystemClock(), QUICK, emit)

    asyncio.run(main())


def test_long_absence_is_told_once_then_only_changes() -> None:
    async def body(clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        raise LinkLostError("out of reach")
        yield one()

    async def main() -> None:
        timing = Timing(backoff_first=0.01, backoff_most=0.01, remind_after=0.15)
        async with Supervised(Fake(body), timing) as run:
            await run.until(lambda: any("not heard for" in event.reason for event in run.seen.events))
            told, tried = len(run.seen.events), run.counts.connections
            await run.until(lambda: run.counts.connections > tried + 10)
            assert len(run.seen.events) == told

    asyncio.run(main())


def test_counts_of_quality() -> None:
    async def body(clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        yield one()
        yield one(None, Quality.NOT_KNOWN)
        yield one(900.0, Quality.OUT_OF_RANGE)
        yield Rejected(clock.monotonic_ns(), {"checksum": 2, "lead_in": 1})

    async def main() -> None:
        async with Supervised(Fake(body), QUICK) as run:
            counts = await asyncio.wait_for(run.task, 5)
            assert (counts.readings, counts.not_known, counts.out_of_range) == (3, 1, 1)
            assert counts.rejected == {"checksum": 2, "lead_in": 1}
            assert counts.faults == 2

    asyncio.run(main())


class Failing:
    """A device that sends, refuses, falls silent, breaks and hangs at random, and keeps its own count."""

    def __init__(self, number: int) -> None:
        self.name = f"device{number}"
        self.rng = random.Random(number)
        self.sent = 0
        self.refused: Counter[str] = Counter()
        self.open = 0

    async def stream(self, clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        rng = self.rng
        self.open += 1
        try:
            if rng.random() < 0.3:
                raise LinkLostError("no answer")
            yield ChannelsFound((channel(0.004, f"{self.name}/t"),))
            while True:
                act = rng.random()
                if act < 0.002:
                    raise OSError(5, "input/output error")
                if act < 0.004:
                    raise LinkLostError("unplugged")
                if act < 0.005:
                    await asyncio.sleep(60)
                if act < 0.006:
                    raise NeedsPersonError("in use by another program")
                if act < 0.05:
                    kind = rng.choice(["checksum", "truncated", "non_ascii"])
                    self.refused[kind] += 1
                    self.sent += 1
                    yield Rejected(clock.monotonic_ns(), {kind: 1})
                else:
                    batch = [
                        Reading(clock.monotonic_ns(), f"{self.name}/t", rng.random())
                        for _ in range(rng.randrange(1, 5))
                    ]
                    self.sent += len(batch)
                    yield batch
                await asyncio.sleep(0.002)
        finally:
            self.open -= 1


def twelve_devices(seconds: float) -> tuple[int, int]:
    """Run twelve failing devices; give the readings stored and the growth of memory [bytes]."""

    async def main() -> tuple[int, int]:
        # An hour at the usual second between readings, compressed 500-fold.
        timing = Timing(
            backoff_first=0.005, backoff_most=0.06, backoff_reset_after=0.06, silent_at_least=0.05,
            close_deadline=0.5, default_interval=0.02,
        )  # fmt: skip
        devices = [Failing(number) for number in range(12)]
        counts = [Counts() for _ in devices]
        stored: Counter[str] = Counter()

        def emit(item: StreamItem) -> None:
            if isinstance(item, list):
                for reading in item:
                    stored[reading.channel] += 1

        before = asyncio.all_tasks()
        tasks = [
            asyncio.create_task(supervise(device, SystemClock(), timing, emit, counts=count))
            for device, count in zip(devices, counts, strict=True)
        ]
        await asyncio.sleep(seconds / 2)
        gc.collect()
        tracemalloc.start()
        half = tracemalloc.get_traced_memory()[0]
        await asyncio.sleep(seconds / 2)
        gc.collect()
        growth = tracemalloc.get_traced_memory()[0] - half
        tracemalloc.stop()
        assert not any(task.done() for task in tasks), "a supervisor ended"
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        assert asyncio.all_tasks() == before, "a task is left over"
        for device, count in zip(devices, counts, strict=True):
            assert device.open == 0
            assert dict(count.rejected) == dict(device.refused)
            assert device.sent == stored[f"{device.name}/t"] + count.rejected.total()
        assert sum(count.losses for count in counts) >= 12
        return sum(stored.values()), growth

    logging.disable(logging.CRITICAL)  # the test runner keeps every record, which is no memory of ours
    try:
        return asyncio.run(main())
    finally:
        logging.disable(logging.NOTSET)


def test_twelve_failing_devices_lose_nothing_and_leave_nothing() -> None:
    stored, growth = twelve_devices(3.0)
    assert stored > 1000
    assert growth < 300_000


@pytest.mark.campaign
def test_twelve_failing_devices_for_a_compressed_hour() -> None:
    stored, growth = twelve_devices(75.0)
    assert stored > 100_000
    assert growth < 300_000
    keep("twelve-failing-devices", seconds=75, readings_stored=stored, lost=0, memory_growth_bytes=growth)
