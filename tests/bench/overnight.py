"""Start-up at the command line, a reading's way to the disk, and what a kill loses; each against a peer.

python -m tests.bench --only overnight [--quick]
"""

from __future__ import annotations

import csv
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from analysis.measure import Channel, Quality, Reading
from analysis.units import Quantity
from drivers.base import ChannelsFound
from logger.readings_format import parts_in
from logger.session import Session
from tests.bench.table import Row
from tests.logger.watched import Bench

ROOT = Path(__file__).parents[2]
GROUP = "start, ingest, crash"
NAMES = tuple(f"board/c{number}" for number in range(20))


def _started(arguments: Sequence[str]) -> Callable[[], object]:
    return lambda: subprocess.run([sys.executable, *arguments], cwd=ROOT, check=True, capture_output=True)


def _shortest(call: Callable[[], object], repeats: int) -> float:
    """Give the shortest of several runs: what else the machine does can only lengthen one."""
    times = []
    for _ in range(repeats):
        begun = time.perf_counter()
        call()
        times.append(time.perf_counter() - begun)
    return min(times)


def start_rows(quick: bool) -> list[Row]:
    """Cold starts over the bare interpreter."""
    repeats = 5 if quick else 15
    bare = 1e3 * _shortest(_started(["-c", "pass"]), repeats)
    rows = []
    for what, arguments, goal in (
        ("evenrun --help over the bare interpreter", ["--help"], 3.0),
        ("evenrun sat R410A 118psig, cold, over the bare interpreter", ["sat", "R410A", "118psig"], 4.0),
    ):
        ours = 1e3 * _shortest(_started(["-m", "logger", *arguments]), repeats)
        rows.append(Row(GROUP, what, ours, bare, "ms", ours / bare, goal, at_most=True))
    return rows


def ingest_rows(quick: bool) -> list[Row]:
    """From the adapter's batch to the operating system: 20 readings at a time through the whole engine."""
    count = 300 if quick else 2000
    with tempfile.TemporaryDirectory() as place:
        bench = Bench(Path(place) / "s")
        channels = tuple(Channel(name, Quantity.TEMPERATURE, "degC") for name in NAMES)
        bench.engine.take(bench.link, ChannelsFound(channels))
        ours = []
        for number in range(count):
            bench.clock.on(0.1)
            now = bench.clock.mono
            batch = [Reading(now, name, 20.0 + number / 10, Quality.OK) for name in NAMES]
            begun = time.perf_counter()
            bench.engine.take(bench.link, batch)
            if not bench.writer.flush():
                raise RuntimeError("the disk refuses")
            ours.append(time.perf_counter() - begun)
            bench.tick()
        bench.end()
        stored = sum(len(rows) for rows in Session.open(Path(place) / "s").rows())
        peer = _csv_flushed(Path(place) / "peer.csv", count)
    ours_99 = 1e6 * float(np.percentile(ours, 99))
    ours_50, peer_50 = (1e6 * statistics.median(times) for times in (ours, peer))
    sent = count * len(NAMES)
    return [
        Row(GROUP, "20 readings from adapter to operating system, median, over the csv module with flush",
            ours_50, peer_50, "us", ours_50 / peer_50, 50.0, at_most=True),
        Row(GROUP, "the same, 99 of 100; 250 ms is promised",
            ours_99, 250_000.0, "us", ours_99 / 250_000.0, 1.0, at_most=True),
        Row(GROUP, f"readings stored of {sent} sent", stored, sent, "", stored / sent, 1.0),
    ]  # fmt: skip


def _csv_flushed(path: Path, count: int) -> list[float]:
    times = []
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        for number in range(count):
            begun = time.perf_counter()
            writer.writerows((f"{number / 10:.6f}", name, 20.0 + number / 10, "degC", "ok") for name in NAMES)
            file.flush()
            times.append(time.perf_counter() - begun)
    return times


_OURS = """
import sys, pathlib, time
sys.path.insert(0, {root!r})
from tests.logger.watched import Bench
bench = Bench(pathlib.Path({folder!r}))
number = 0
while True:
    bench.clock.on(0.1)
    bench.give(ps=5.0, ts=float(number))
    number += 2
    if bench.writer.flush():
        print(number, flush=True)
"""
_PEER = """
import csv, time
number = 0
with open({folder!r}, "w", newline="") as file:
    writer = csv.writer(file)
    while True:
        writer.writerow((number / 10, "board/ps", 5.0, "bar(g)", "ok"))
        writer.writerow((number / 10, "board/ts", float(number), "degC", "ok"))
        number += 2
        print(number, flush=True)
"""


def crash_rows(quick: bool) -> list[Row]:
    """Kill -9 in the middle of writing: acknowledged rows that are not on the disk."""
    kills = 3 if quick else 20
    lost_ours = lost_peer = 0
    with tempfile.TemporaryDirectory() as place:
        for number in range(kills):
            folder, peer = Path(place) / f"s{number}", Path(place) / f"p{number}.csv"
            told = _killed(_OURS.format(root=str(ROOT), folder=str(folder)), 0.2 + 0.05 * number)
            whole = sum(part.read_bytes().count(b"\n") - 1 for part in parts_in(folder))
            lost_ours += max(told - whole, 0)
            told = _killed(_PEER.format(folder=str(peer)), 0.1)
            lost_peer += max(told - peer.read_bytes().count(b"\n"), 0)
    ratio = lost_ours / max(lost_peer, 1)
    what = f"acknowledged rows lost in {kills} kills, against the csv module as it comes"
    return [Row(GROUP, what, lost_ours, lost_peer, "rows", ratio, 0.0, at_most=True)]


def _killed(code: str, after_s: float) -> int:
    """Run code until some time after its first word, kill it; gives the last number that it told."""
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True, cwd=ROOT) as child:
        assert child.stdout is not None
        told = [child.stdout.readline()]
        time.sleep(after_s)
        child.send_signal(signal.SIGKILL)
        told += child.stdout.readlines()
    whole = [int(word) for word in told if word.endswith("\n")]
    return whole[-1] if whole else 0


def run(quick: bool) -> list[Row]:
    """Measure all of it."""
    return [*start_rows(quick), *ingest_rows(quick), *crash_rows(quick)]
