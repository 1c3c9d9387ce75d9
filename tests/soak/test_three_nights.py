"""A watch of three days with ten thousand reconnects, in compressed time: memory does not grow with it."""

from __future__ import annotations

import gc
import os
import random
from pathlib import Path

import pytest

from drivers.base import LinkEvent, LinkState
from logger.session import Session
from logger.watch import Watch
from tests.logger.watched import Bench

STATM = Path("/proc/self/statm")
HOUR = 3600
TICK_S = 10


def resident_mb() -> float:
    """Memory that this process holds now."""
    gc.collect()
    return int(STATM.read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


def watch_for(folder: Path, seconds: int, reconnects: int, measure_from: int) -> tuple[float, Bench, Watch]:
    """Watch a machine that stops now and then, over a link that is lost and comes back; gives MB grown."""
    rng = random.Random(5)
    watch = Watch()
    bench = Bench(folder, watch)
    lost_at = sorted(rng.sample(range(seconds), reconnects))
    begin = 0.0
    count = 0
    for second in range(seconds):
        bench.clock.on(1.0)
        if lost_at and second == lost_at[0]:
            lost_at.pop(0)
            count += 1
            now = bench.clock.mono
            for state, reason in (
                (LinkState.WAITING, "The link is gone."), (LinkState.CONNECTING, ""), (LinkState.LIVE, ""),
            ):  # fmt: skip
                bench.engine.take(bench.link, LinkEvent(now, state, reason, None, 0, count))
        stopped = second % (4 * HOUR) > 4 * HOUR - 900
        bench.give(
            ps=(9.0 if stopped else 5.86) + rng.gauss(0, 0.01),
            ts=(12.0 if stopped else 0.6) + rng.gauss(0, 0.05),
            power=0.0 if stopped else 2.96, v=229.0 + rng.gauss(0, 0.2),
        )  # fmt: skip
        bench.sent.clear()  # the test's own account must not be what grows
        if second % TICK_S == 0:
            bench.tick()
        if second == measure_from:
            bench.writer.flush()
            begin = resident_mb()
    bench.writer.flush()
    return resident_mb() - begin, bench, watch


def check(folder: Path, seconds: int, reconnects: int, bench: Bench, watch: Watch) -> None:
    bench.end()
    session = Session.open(folder)
    links = [event.text for event in session.events if event.kind == "link" and event.text == "live"]
    assert len(links) == reconnects + 1
    assert watch.received.total() == 4 * seconds == watch.stored.total() + watch.left_out.total()
    assert session.descriptor.rows == watch.stored.total()


@pytest.mark.skipif(not STATM.exists(), reason="the system does not tell a process's memory")
def test_forty_minutes_with_three_hundred_reconnects(tmp_path: Path) -> None:
    grown, bench, watch = watch_for(tmp_path / "s", 2400, 300, 1200)
    check(tmp_path / "s", 2400, 300, bench, watch)
    assert grown < 10.0, f"{grown:.1f} MB"


@pytest.mark.soak
@pytest.mark.skipif(not STATM.exists(), reason="the system does not tell a process's memory")
def test_three_days_with_ten_thousand_reconnects(tmp_path: Path) -> None:
    grown, bench, watch = watch_for(tmp_path / "s", 72 * HOUR, 10_000, HOUR)
    print(f"grown by {grown:.1f} MB after the first hour")
    assert grown < 10.0, f"{grown:.1f} MB"
    check(tmp_path / "s", 72 * HOUR, 10_000, bench, watch)
