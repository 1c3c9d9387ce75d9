"""The tests that an adapter must pass; authors of plug-ins run them on their own.

A worked example is ``tests/drivers/test_conformance.py``. In short::

    problems = asyncio.run(check_adapter(lambda: MyAdapter("probe", ...)))
    assert not problems, problems
"""

from __future__ import annotations

import asyncio
import math
import threading
from collections.abc import Callable
from typing import Any

from analysis.measure import Quality, Reading
from drivers.base import Adapter, ChannelsFound, Clock, DriverError, LinkEvent, Rejected, Timing
from drivers.clock import SystemClock

_WITHOUT_VALUE = Quality.NOT_KNOWN | Quality.INVALID | Quality.MALFORMED | Quality.OUT_OF_RANGE


async def check_adapter(
    make: Callable[[], Adapter],
    *,
    readings: int = 5,
    within: float = 10.0,
    clock: Clock | None = None,
    timing: Timing | None = None,
) -> list[str]:
    """Run an adapter against its device, or a fake one, and list what breaks the contract.

    Parameters
    ----------
    make
        Gives the adapter; called once. Its device must be sending.
    readings
        How many readings must come ...
    within
        ... in so many seconds, on each of two connections.
    clock, timing
        Handed to the adapter.

    Returns
    -------
    list of str
        A sentence for each breach; empty if there is none.
    """
    checker = _Checker(make(), clock or SystemClock(), timing or Timing())
    threads = set(threading.enumerate())
    tasks = asyncio.all_tasks()
    for connection in ("first", "second"):
        await checker.connection(connection, readings, within)
    await asyncio.sleep(0.2)
    if left := [task.get_name() for task in asyncio.all_tasks() - tasks]:
        checker.say(f"leaves tasks behind when closed: {', '.join(left)}")
    # A thread of a pool may stay for the next use; a thread of the adapter's own may not.
    own = [t.name for t in set(threading.enumerate()) - threads if not t.name.startswith("asyncio_")]
    if own:
        checker.say(f"leaves threads behind when closed: {', '.join(own)}")
    return checker.problems


class _Checker:
    def __init__(self, adapter: Adapter, clock: Clock, timing: Timing) -> None:
        self._adapter, self._clock, self._timing = adapter, clock, timing
        self.problems: list[str] = []
        self._announced: set[str] = set()
        if not isinstance(adapter.name, str) or not adapter.name:
            self.say("has no name")

    def say(self, problem: str) -> None:
        if problem not in self.problems:
            self.problems.append(problem)

    async def connection(self, which: str, wanted: int, within: float) -> None:
        """Take readings over one connection, then close it in the middle."""
        self._announced = set()
        got = 0
        stream: Any = self._adapter.stream(self._clock, self._timing)
        if not hasattr(stream, "aclose"):
            self.say("stream is not an asynchronous generator: it cannot be closed")
            return
        try:
            async with asyncio.timeout(within):
                async for item in stream:
                    got += self._look(item)
                    if got >= wanted:
                        break
                else:
                    self.say(f"the {which} stream ended after {got} readings")
        except TimeoutError:
            self.say(f"the {which} connection gave {got} readings within {within:g} s instead of {wanted}")
        except DriverError as error:
            self.say(f"the {which} connection was lost: {error}")
        except Exception as error:
            self.say(f"raises {type(error).__name__} instead of LinkLostError or NeedsPersonError: {error}")
        try:
            async with asyncio.timeout(self._timing.close_deadline):
                await stream.aclose()
        except TimeoutError:
            self.say(f"does not close within {self._timing.close_deadline:g} s")
        except Exception as error:
            self.say(f"raises {type(error).__name__} on closing: {error}")

    def _look(self, item: object) -> int:
        if isinstance(item, ChannelsFound):
            for channel in item.channels:
                self._announced.add(channel.id)
                if not channel.id.startswith(f"{self._adapter.name}/"):
                    self.say(f"channel id '{channel.id}' does not begin with '{self._adapter.name}/'")
        elif isinstance(item, list):
            if not item:
                self.say("gives empty batches")
            for reading in item:
                self._reading(reading)
            return len(item)
        elif isinstance(item, Rejected):
            if not item.counts or any(count < 1 for count in item.counts.values()):
                self.say("gives a Rejected without a count")
        elif not isinstance(item, LinkEvent):
            self.say(f"gives {type(item).__name__}, which is no item of a stream")
        return 0

    def _reading(self, reading: object) -> None:
        if not isinstance(reading, Reading):
            self.say(f"gives {type(reading).__name__} in a batch instead of Reading")
            return
        if reading.channel not in self._announced:
            self.say(f"gives a reading of '{reading.channel}' before announcing that channel")
        if not isinstance(reading.t_mono_ns, int) or reading.t_mono_ns > self._clock.monotonic_ns():
            self.say("gives a moment that is no whole number of nanoseconds, or lies in the future")
        if reading.value is None:
            if not reading.quality & _WITHOUT_VALUE:
                self.say("gives no value without saying why in the quality")
        elif not isinstance(reading.value, float | int) or not math.isfinite(reading.value):
            self.say(f"gives {reading.value} as a value; what is not known is None with a quality")
        elif reading.quality & (Quality.NOT_KNOWN | Quality.INVALID | Quality.MALFORMED):
            self.say(f"gives the value {reading.value} together with '{reading.quality.text()}'")
        if reading.epoch:
            self.say("sets the epoch, which is the supervisor's")
