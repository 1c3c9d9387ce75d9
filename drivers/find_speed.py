"""Find the speed of an unknown instrument's port by listening."""

from __future__ import annotations

import asyncio
import functools
from collections.abc import Callable, Sequence

from drivers.base import Clock, Timing
from drivers.framing import LineFramer
from drivers.port_reader import reading
from drivers.serial_link import ByteLink

SPEEDS = (9600, 115200, 19200, 38400, 57600, 4800, 2400)
"""Speeds to try, the commonest first: common practice, no source."""


async def find_speed(
    make: Callable[[int], ByteLink],
    clock: Clock,
    timing: Timing,
    *,
    seconds: float = 2.0,
    speeds: Sequence[int] = SPEEDS,
) -> int | None:
    """Listen at one speed after the other, without sending anything, and give the one at which text comes.

    Opening a port anew restarts some small boards, so that this is done only at a person's request.

    Parameters
    ----------
    make
        Gives the link at a speed.
    clock, timing
        As for an adapter.
    seconds
        How long to listen at each speed.
    speeds
        In the order to try.

    Returns
    -------
    int or None
        The first speed at which at least three lines come and nine in ten are text; None if there is none.

    Raises
    ------
    LinkLostError, NeedsPersonError
        If the port cannot be opened.
    """
    loop = asyncio.get_running_loop()
    for speed in speeds:
        framer = LineFramer()
        lines: list[bytes] = []
        async with reading(functools.partial(make, speed), clock, timing, f"{speed} baud") as reader:
            until = loop.time() + seconds
            while loop.time() < until:
                for _, data in reader.collect():
                    lines += framer.feed(data)
                await asyncio.sleep(timing.drain_interval)
        whole = lines[1:]  # the first may be cut
        text = sum(line.isascii() and line.decode("ascii").isprintable() for line in whole)
        if len(whole) >= 3 and text >= 0.9 * len(whole):
            return speed
    return None
