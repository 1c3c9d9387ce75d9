"""Everything fails at random: at the end received is stored plus left out plus refused, once, in order.

The ordinary run takes seconds; ``pytest -m soak tests/soak`` the long one.
"""

from __future__ import annotations

import asyncio
import os
import random
import signal
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest

from analysis.analyser import Analyser
from analysis.settings import settings_over_time
from drivers.registry import Context
from logger import append_file
from logger.descriptor import SessionHeader
from logger.engine import Engine
from logger.journal import Journal
from logger.recover import recover
from logger.ring import Ring
from logger.session import Session
from logger.session_writer import SessionWriter
from logger.verify import verify
from logger.watch import Watch
from tests.soak.unreliable import QUICK, FailingDisk, JumpingClock, Unreliable

ROOT = Path(__file__).parents[2]


async def record(folder: Path, devices: list[Unreliable], seed: int, watch: Watch | None) -> dict[str, int]:
    """Record until all devices have given everything; a slow and a quick reader look on."""
    clock = JumpingClock(seed)
    journal = Journal(folder, sync_every_s=0.05, retry_s=0.01)
    writer = SessionWriter.create(folder, SessionHeader(), clock, journal=journal)
    analyser = Analyser({}, settings_over_time((), {}), {})
    engine = Engine(devices, writer, analyser, clock, QUICK, Context(clock, QUICK))
    engine.watch = watch
    engine.ring = Ring(256)  # so small that a slow reader must lose some, and be told how many
    engine._cursor = engine.ring.cursor()
    slow = engine.ring.cursor()
    read = 0

    async def look() -> None:
        nonlocal read
        while True:
            read += len(engine.ring.read(slow))
            await asyncio.sleep(0.5)

    looking = asyncio.create_task(look())
    warnings = await engine.run()
    looking.cancel()
    read += len(engine.ring.read(slow))
    assert warnings == ()
    return {"read": read, "lost": slow.lost, "written": engine.ring.written, "jumps": clock.jumps}


def check(folder: Path, devices: list[Unreliable], watch: Watch | None) -> None:
    """Hold the session against what the devices know they gave."""
    session = Session.open(folder)
    stored: dict[str, list[float]] = {}
    moments: dict[str, list[int]] = {}
    for rows in session.rows():
        for t_us, place, value in zip(
            rows.t_us.tolist(), rows.channel.tolist(), rows.value.tolist(), strict=True
        ):
            stored.setdefault(rows.ids[place], []).append(value)
            moments.setdefault(rows.ids[place], []).append(t_us)
    refused: dict[str, Counter[str]] = {}
    left_out: Counter[str] = Counter()
    for event in session.events:
        if event.kind == "rejected":
            for part in event.text.split("; first:")[0].split(", "):
                kind, count = part.rsplit(" ", 1)
                refused.setdefault(event.subject, Counter())[kind] += int(count)
        if event.kind == "thinned":
            for part in event.text.split(": ")[1].split(", "):
                name, count = part.rsplit(" ", 1)
                left_out[name] += int(count)
    for device in devices:
        name = f"{device.name}/n"
        assert stored[name] == sorted(set(stored[name])), "once, in order"
        assert moments[name] == sorted(moments[name])
        assert set(stored[name]) <= set(device.given)
        assert len(stored[name]) + left_out[name] == len(device.given)
        assert refused.get(device.name, Counter()) == device.refused
    if watch is None:
        assert not left_out
    assert verify(folder) == []
    text = (folder / "events.csv").read_text(encoding="utf-8")
    assert "\x1b" not in text


def soak(
    folder: Path, seed: int, count: int, readings: int, watched: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    disk = FailingDisk(seed)

    def put(file: append_file.AppendFile, handle: object, chunk: bytes) -> None:
        disk.put(file, handle, chunk)

    monkeypatch.setattr(append_file.AppendFile, "_put", put)
    devices = [Unreliable(f"d{n}", readings, seed * 100 + n, 0.002 * (1 + n % 3)) for n in range(count)]
    watch = Watch() if watched else None
    seen = asyncio.run(record(folder, devices, seed, watch))
    check(folder, devices, watch)
    assert disk.refused > 3, "the disk did refuse"
    failed = sum((device.failed for device in devices), Counter[str]())
    assert failed["lost"] > 3
    assert failed["odd"] + failed["needs a person"] > 0
    assert seen["read"] + seen["lost"] == seen["written"]


@pytest.mark.parametrize("watched", [False, True])
def test_everything_fails_for_some_seconds(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, watched: bool
) -> None:
    soak(tmp_path / "s", 3 + watched, 6, 900, watched, monkeypatch)


@pytest.mark.soak
@pytest.mark.parametrize("seed", range(20))
def test_everything_fails_for_long(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seed: int) -> None:
    soak(tmp_path / "s", seed, 12, 20_000, seed % 2 == 1, monkeypatch)


CHILD = """
import asyncio, sys
from pathlib import Path
from drivers.registry import Context
from analysis.analyser import Analyser
from analysis.settings import settings_over_time
from logger.descriptor import SessionHeader
from logger.engine import Engine
from logger.session_writer import SessionWriter
from tests.soak.unreliable import QUICK, JumpingClock, Unreliable

async def main(folder, seed):
    clock = JumpingClock(seed)
    writer = SessionWriter.create(folder, SessionHeader(), clock)
    devices = [Unreliable(f"d{n}", 10**9, seed * 100 + n, 0.002) for n in range(4)]
    analyser = Analyser({}, settings_over_time((), {}), {})
    engine = Engine(devices, writer, analyser, clock, QUICK, Context(clock, QUICK))
    running = asyncio.create_task(engine.run())
    while not running.done():
        await asyncio.sleep(0.02)
        taken = [engine.links[d.name].counts.readings for d in devices]
        if writer.flush(0.5):
            print(*taken, flush=True)

asyncio.run(main(Path(sys.argv[1]), int(sys.argv[2])))
"""


def kill_and_check(folder: Path, seed: int) -> int:
    """Kill a recording of failing devices; gives how many readings it had acknowledged."""
    command = [sys.executable, "-c", CHILD, str(folder), str(seed)]
    with subprocess.Popen(
        command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    ) as child:
        assert child.stdout is not None
        said = [child.stdout.readline()]
        time.sleep(random.Random(seed).uniform(0.2, 1.5))
        os.kill(child.pid, signal.SIGKILL)
        said += child.stdout.readlines()
    taken = [int(word) for word in [line for line in said if line.endswith("\n")][-1].split()]
    recover(folder)
    stored: dict[str, list[float]] = {}
    for rows in Session.open(folder).rows():
        for place, value in zip(rows.channel.tolist(), rows.value.tolist(), strict=True):
            stored.setdefault(rows.ids[place], []).append(value)
    for number, count in enumerate(taken):
        values = stored.get(f"d{number}/n", [])
        assert values == [float(n) for n in range(1, len(values) + 1)], "from the first on, once, in order"
        assert len(values) >= count, "all that was acknowledged"
    assert verify(folder) == []
    return sum(taken)


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="the system cannot kill without warning")
def test_a_kill_in_the_middle_of_failures_loses_nothing_that_was_acknowledged(tmp_path: Path) -> None:
    assert kill_and_check(tmp_path / "s", 1) > 0


@pytest.mark.soak
def test_forty_kills_in_the_middle_of_failures(tmp_path: Path) -> None:
    assert sum(kill_and_check(tmp_path / f"s{seed}", seed) for seed in range(40)) > 1000
