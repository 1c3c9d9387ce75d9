"""Devices, clock and disk that fail at random and keep account of what they gave; for the soak tests."""

from __future__ import annotations

import asyncio
import errno
import os
import random
import time
from collections import Counter
from collections.abc import AsyncGenerator
from dataclasses import replace

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
from logger import append_file

QUICK = replace(
    Timing().scaled(0.01), silent_at_least=0.03, default_interval=0.02, backoff_most=0.05, close_deadline=2.0
)


class Unreliable:
    """A device that counts; now and then it is lost, falls silent, sends noise, or breaks in an odd way."""

    def __init__(self, name: str, readings: int, seed: int, rest_s: float) -> None:
        self.name, self._readings, self._rest_s = name, readings, rest_s
        self._rng = random.Random(seed)
        self._number = 0
        self.given: list[float] = []
        self.refused: Counter[str] = Counter()
        self.failed: Counter[str] = Counter()

    async def stream(self, clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        """Give batches until all readings are given; the count goes on over losses."""
        rng = self._rng
        yield ChannelsFound((Channel(f"{self.name}/n", Quantity.RATIO, "1", expected_interval_s=0.02),))
        if rng.random() < 0.1:
            self._fail("needs a person", NeedsPersonError("Somebody else holds the port."))
        yield LinkEvent(clock.monotonic_ns(), LinkState.LIVE)
        while self._number < self._readings:
            batch = []
            for _ in range(min(rng.randint(1, 9), self._readings - self._number)):
                self._number += 1
                self.given.append(float(self._number))
                batch.append(Reading(clock.monotonic_ns(), f"{self.name}/n", self.given[-1], Quality.OK))
            yield batch
            chance = rng.random()
            if chance < 0.03:
                self._fail("lost", LinkLostError("The link is gone."))
            elif chance < 0.04:
                self._fail("odd", ZeroDivisionError("a fault of the adapter"))
            elif chance < 0.045:
                self.failed["silent"] += 1
                await asyncio.sleep(1.0)
            elif chance < 0.10:
                kind = rng.choice(("truncated", "checksum"))
                self.refused[kind] += 1
                yield Rejected(clock.monotonic_ns(), {kind: 1}, b"\xff\x1b[2Jnoise")
            await asyncio.sleep(self._rest_s * rng.random())

    def _fail(self, kind: str, error: Exception) -> None:
        self.failed[kind] += 1
        raise error


class JumpingClock:
    """The computer's clock, whose wall clock is put forward and back at random."""

    def __init__(self, seed: int) -> None:
        self._rng = random.Random(seed)
        self._moved_ns = 0
        self.jumps = 0

    def monotonic_ns(self) -> int:
        return time.monotonic_ns()

    def utc_ns(self) -> int:
        if self._rng.random() < 0.002:
            self.jumps += 1
            self._moved_ns = self._rng.choice((-1, 1)) * self._rng.randint(3, 90_000) * 10**9
        return time.time_ns() + self._moved_ns


class FailingDisk:
    """Refuses a share of the writes, with the errors of full, read-only and unplugged disks."""

    def __init__(self, seed: int, share: float = 0.05) -> None:
        self._rng = random.Random(seed)
        self.share = share
        self.refused = 0
        self._put = append_file.AppendFile._put

    def put(self, file: append_file.AppendFile, handle: object, chunk: bytes) -> None:
        """Stand in for :meth:`AppendFile._put`."""
        if self._rng.random() < self.share:
            self.refused += 1
            error = self._rng.choice((errno.ENOSPC, errno.EROFS, errno.EIO, errno.ENODEV))
            raise OSError(error, os.strerror(error))
        self._put(file, handle, chunk)  # type: ignore[arg-type]
