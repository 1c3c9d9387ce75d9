"""Cost of our serial reader against a bare one, on the same bytes over a pseudo-terminal in the same run.

python -m tests.bench.serial [--lines 100000] [--repeats 3]
"""

from __future__ import annotations

import argparse
import asyncio
import binascii
import multiprocessing
import os
import pty
import statistics
import tempfile
import threading
import time
import tty
from collections.abc import Callable
from pathlib import Path

import serial

from drivers.base import LinkState, Timing
from drivers.clock import FollowedClock, SystemClock
from drivers.framing import LineFramer
from drivers.port_reader import reading
from drivers.profile import load_profile
from drivers.profile_sections import Link
from drivers.serial_lines import SerialLines
from drivers.serial_link import PortLink
from tests.drivers.peers.lines import PROFILE, line
from tests.drivers.peers.ports import FakePort
from tests.drivers.peers.watching import Supervised


def _write(handle: int, lines: int, start: object) -> None:
    start.wait()  # type: ignore[attr-defined]
    data = b"".join(line(i % 5000) + b"\r\n" for i in range(5000))
    whole, rest = divmod(lines, 5000)
    parts = [data] * whole + [b"".join(line(i) + b"\r\n" for i in range(rest))]
    for part in parts:
        view = memoryview(part)
        while view:
            view = view[os.write(handle, view[:4000]) :]


class _Feed:
    """A process of its own that writes so many lines once it is told to."""

    def __init__(self, lines: int) -> None:
        context = multiprocessing.get_context("fork")
        instrument, computer = pty.openpty()
        tty.setraw(instrument)
        tty.setraw(computer)
        self.port = os.ttyname(computer)
        self._handles = (instrument, computer)
        self._start = context.Event()
        self._process = context.Process(target=_write, args=(instrument, lines, self._start))
        self._process.start()

    def go(self) -> tuple[float, float]:
        self._start.set()
        return time.perf_counter(), time.process_time()

    def close(self) -> None:
        self._process.join(30)
        for handle in self._handles:
            os.close(handle)


Cost = tuple[float, float]
"""Wall and processor time for all lines [s]."""


def bare_split(lines: int) -> Cost:
    """Read what is waiting in a thread, split, count; nothing else."""
    return _bare(lines, lambda text: None)


def bare_parse(lines: int) -> Cost:
    """Do the same, and check and split each line by hand into floats."""
    kept: list[tuple[int, float, float, float]] = []

    def parse(text: bytes) -> None:
        payload, _, tail = text.partition(b"*")
        if binascii.crc_hqx(payload, 0xFFFF) == int(tail, 16):
            values = [float(pair.partition(b"=")[2]) for pair in payload.split(b";")]
            kept.append((time.monotonic_ns(), values[0], values[1], values[2]))

    return _bare(lines, parse)


def _bare(lines: int, each: Callable[[bytes], None]) -> Cost:
    feed = _Feed(lines)
    done = threading.Event()

    def read() -> None:
        rest, count = b"", 0
        while count < lines:
            data = port.read(port.in_waiting or 1)
            time.monotonic_ns()
            *whole, rest = (rest + data).split(b"\r\n")
            for text in whole:
                each(text)
            count += len(whole)
        done.set()

    with serial.Serial(feed.port, timeout=0.1, exclusive=True) as port:
        thread = threading.Thread(target=read)
        thread.start()
        wall, cpu = feed.go()
        done.wait()
        cost = time.perf_counter() - wall, time.process_time() - cpu
        thread.join()
    feed.close()
    return cost


def our_split(lines: int) -> Cost:
    """Our reader thread and framer."""

    async def main() -> Cost:
        feed = _Feed(lines)
        timing = Timing()
        framer, count = LineFramer(), 0
        async with reading(
            lambda: PortLink(feed.port, Link(), 0.1), SystemClock(), timing, "bench"
        ) as reader:
            wall, cpu = feed.go()
            while count < lines:
                for _, data in reader.collect():
                    count += len(framer.feed(data))
                await asyncio.sleep(timing.drain_interval)
            cost = time.perf_counter() - wall, time.process_time() - cpu
        feed.close()
        return cost

    return asyncio.run(main())


def our_whole(lines: int) -> Cost:
    """Everything: thread, framer, checksum, decoder, readings, supervisor."""

    async def main() -> Cost:
        feed = _Feed(lines)
        adapter = SerialLines("bench", load_profile(PROFILE, "bench"), feed.port)
        async with Supervised(adapter, Timing(), SystemClock()) as run:
            await run.live()
            wall, cpu = feed.go()
            while run.counts.readings < 2 * lines:  # noqa: ASYNC110
                await asyncio.sleep(0.01)
            cost = time.perf_counter() - wall, time.process_time() - cpu
            assert not run.counts.rejected
        feed.close()
        return cost

    return asyncio.run(main())


def unplug_and_replug(folder: Path) -> tuple[float, float]:
    """Give the time until a pulled plug is told, and from plugging in until live again [s]."""

    async def main() -> tuple[float, float]:
        port = FakePort(folder / "probe")
        adapter = SerialLines("bench", load_profile(PROFILE, "bench"), str(port.link))
        async with Supervised(adapter, Timing(), FollowedClock(0)) as run:
            await run.live()
            port.send(line(1) + b"\r\n")
            await run.until(lambda: run.counts.readings == 2)
            pulled = time.monotonic()
            port.unplug()
            await run.until(lambda: LinkState.WAITING in run.seen.states)
            told = run.seen.event_times[run.seen.states.index(LinkState.WAITING)] - pulled
            await asyncio.sleep(1.0)
            (folder / "taken").touch()
            keep = os.open("/dev/ptmx", os.O_RDWR | os.O_NOCTTY)  # so that the name is another one
            plugged = time.monotonic()
            port.plug()
            while run.counts.readings == 2:
                if run.seen.states[-1] is LinkState.LIVE:
                    port.send(line(2) + b"\r\n")
                await asyncio.sleep(0.005)
            os.close(keep)
            return told, time.monotonic() - plugged

    return asyncio.run(main())


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lines", type=int, default=100_000)
    parser.add_argument("--repeats", type=int, default=3)
    arguments = parser.parse_args()
    lines = arguments.lines
    rows = {"bare read and split": bare_split, "our read and split": our_split, "bare parse": bare_parse,
            "our whole path": our_whole}  # fmt: skip
    costs: dict[str, list[Cost]] = {name: [] for name in rows}
    for _ in range(arguments.repeats):
        for name, run in rows.items():
            costs[name].append(run(lines))
    print(
        f"{lines} lines of {len(line(1)) + 2} bytes; median of {arguments.repeats}; the writer is a process"
    )
    median = {}
    for name, found in costs.items():
        wall, cpu = statistics.median(c[0] for c in found), statistics.median(c[1] for c in found)
        median[name] = cpu
        print(f"{name:22} {lines / wall:10.0f} lines/s   {cpu / lines * 1e6:6.2f} us of processor per line")
    split = median["our read and split"] / median["bare read and split"]
    print(f"read and split: ours / bare = {split:.2f} (goal 2)")
    print(f"whole path: ours / bare parse = {median['our whole path'] / median['bare parse']:.2f}")
    with tempfile.TemporaryDirectory() as folder:
        told, back = unplug_and_replug(Path(folder))
    print(f"unplugging told after {told * 1e3:.0f} ms (goal 50)")
    print(f"live again {back:.2f} s after plugging in under another name (goal 2)")


if __name__ == "__main__":
    main()
