"""Recording goes on when the disk refuses and when the clock jumps: all stored, in order, told to seconds."""

from __future__ import annotations

import errno
import os
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.measure import Quality, Reading
from drivers.clock import ClockPair, SystemClock
from logger import append_file
from logger.live_table import live_table
from logger.morning import morning_facts, morning_text
from logger.plain_console import PlainConsole
from logger.replay import analyse_session
from logger.session import Session
from logger.verify import verify
from tests.logger.watched import NS, Bench


class Disk:
    """Lets writing fail with one error while it is told to."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.error = 0
        whole = append_file.AppendFile._put

        def put(file: append_file.AppendFile, handle: object, chunk: bytes) -> None:
            if self.error:
                raise OSError(self.error, os.strerror(self.error))
            whole(file, handle, chunk)  # type: ignore[arg-type]

        monkeypatch.setattr(append_file.AppendFile, "_put", put)


def stored(session: Session) -> list[tuple[int, float]]:
    return [
        pair for rows in session.rows() for pair in zip(rows.t_us.tolist(), rows.value.tolist(), strict=True)
    ]


def until(condition: object, seconds: float = 10.0) -> None:
    end = time.monotonic() + seconds
    while not condition():  # type: ignore[operator]
        assert time.monotonic() < end
        time.sleep(0.02)


@pytest.mark.parametrize("error", [errno.ENOSPC, errno.EROFS, errno.EIO, errno.ENODEV])
def test_a_disk_that_refuses_is_told_and_nothing_is_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: int, capsys: pytest.CaptureFixture[str]
) -> None:
    disk = Disk(monkeypatch)
    bench = Bench(tmp_path / "s")

    def seconds(count: int) -> None:
        for _ in range(count):
            bench.clock.on(1.0)
            bench.give(ts=float(len(bench.sent)))
            bench.tick()

    seconds(5)
    assert bench.writer.flush()
    disk.error = error
    seconds(1)
    until(lambda: bench.writer.status().trouble)
    seconds(30)
    PlainConsole(width=200).print(live_table(bench.engine.snapshot(), "si"))
    shown = capsys.readouterr().out
    assert "Not stored" in shown
    assert "held in memory" in shown
    disk.error = 0
    until(lambda: bench.writer.status().trouble is None and not bench.writer.status().held_rows)
    seconds(3)
    bench.end()
    session = Session.open(tmp_path / "s")
    assert stored(session) == [(t, v) for t, _, v in bench.sent]
    assert verify(tmp_path / "s") == []
    begun, back = [e for e in session.events if e.kind == "storage"]
    assert begun.t_us == back.t_us
    # Noticed at the tick of 7 s; how long the disk was silent by then runs on the computer's own clock.
    assert 0.0 <= begun.t_us / 1e6 <= 7.0
    assert begun.text.startswith("not stored from")
    assert "none is lost" in back.text
    length = float(back.text.split("after ")[1].split(" s")[0])
    assert length == pytest.approx(37.0 - begun.t_us / 1e6, abs=0.11)


def test_a_drive_that_is_pulled_and_put_back(tmp_path: Path) -> None:
    drive, away = tmp_path / "drive", tmp_path / "away"
    drive.mkdir()
    bench = Bench(drive / "s")
    for number in range(40):
        bench.clock.on(1.0)
        bench.give(ts=float(number))
        bench.tick()
        if number == 10:
            assert bench.writer.flush()
            drive.rename(away)
            until(lambda: bench.writer.status().trouble)
        if number == 30:
            away.rename(drive)
            until(lambda: bench.writer.status().trouble is None and not bench.writer.status().held_rows)
    bench.end()
    session = Session.open(drive / "s")
    assert stored(session) == [(t, v) for t, _, v in bench.sent]
    texts = [e.text for e in session.events if e.kind == "storage"]
    assert len(texts) == 2
    assert "still plugged in?" in texts[0]
    assert verify(drive / "s") == []


JUMPS = st.lists(
    st.tuples(st.integers(1, 40), st.sampled_from([-3600.0, 3600.0, -0.4, 0.9, 5.0, -86400.0, 28_800.0])),
    max_size=4,
)


@given(JUMPS)
@settings(derandomize=True, deadline=None, max_examples=15)
def test_jumps_of_the_wall_clock_never_reorder_or_lose(
    tmp_path_factory: pytest.TempPathFactory, jumps: list
) -> None:
    folder = tmp_path_factory.mktemp("clock") / "s"
    bench = Bench(folder)
    expected = []
    pending = 0.0
    for second in range(45):
        bench.clock.on(1.0)
        for at, jump in jumps:
            if at == second:
                bench.clock.utc += round(jump * NS)
                pending += jump
        bench.give(ts=float(second))
        bench.tick()
        if abs(pending) > 2.0:
            expected.append(pending)
            pending = 0.0
    bench.end()
    session = Session.open(folder)
    assert stored(session) == [(t, v) for t, _, v in bench.sent]
    assert not any(q & int(Quality.LATE) for rows in session.rows() for q in rows.quality.tolist())
    told = [e.text for e in session.events if e.kind == "clock" and "moved" in e.text]
    assert [f"{jump:+.1f}" for jump in expected] == [
        text.split("moved by ")[1].split(" s")[0] for text in told
    ]
    assert verify(folder) == []


def test_a_suspended_computer_is_told_and_no_dropout_is_hidden(tmp_path: Path) -> None:
    """Where monotonic time stands still in sleep, UTC runs ahead; where it goes on, channels drop out."""
    bench = Bench(tmp_path / "s")
    for second in range(120):
        bench.clock.on(1.0)
        if second == 40:
            bench.clock.utc += 8 * 3600 * NS  # slept; the monotonic clock stood
        if second == 80:
            bench.clock.on(8 * 3600.0)  # slept; the monotonic clock went on
        bench.give(ts=float(second))
        bench.tick()
    bench.end()
    session = Session.open(tmp_path / "s")
    assert stored(session) == [(t, v) for t, _, v in bench.sent]
    moved = [e for e in session.events if e.kind == "clock" and "or the computer slept" in e.text]
    assert [e.text.split(" s")[0] for e in moved] == ["the wall clock moved by +28800.0"]
    assert moved[0].t_us == 41_000_000
    (gap,) = [e for e in session.events if e.kind == "dropout" and "until" not in e.text]
    assert gap.text == "28801.0 s"
    pairs = [e for e in session.events if e.kind == "clock" and "moved" not in e.text]
    assert any(e.t_us == 41_000_000 for e in pairs), "UTC is stored anew at the jump"


def test_readings_of_a_past_moment_after_a_jump_stay_in_order_of_arrival(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "s")
    for second in range(10):
        bench.clock.on(1.0)
        bench.give(ts=float(second))
        bench.tick()
    bench.engine.take(bench.link, [Reading(bench.clock.mono - 5 * NS, "board/ts", 99.0, Quality.OK)])
    bench.end()
    session = Session.open(tmp_path / "s")
    assert [v for _, v in stored(session)] == [*map(float, range(10)), 99.0]
    assert verify(tmp_path / "s") == []


def test_a_sleep_of_the_computer_is_told_and_no_window_spans_it(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "s")
    for second in range(400):
        if second == 350:
            bench.clock.sleep(3600.0)
        bench.clock.on(1.0)
        bench.give(ps=8.0, ts=5.0)
        bench.tick()
    shown = bench.engine.snapshot().newest
    assert shown is not None
    window = shown.judgement.statistics["suction_temperature"]
    assert window.rows[-1] <= 50
    bench.end()
    session = Session.open(tmp_path / "s")
    (told,) = [event for event in session.events if event.kind == "suspended"]
    assert told.text == "3600.0 s: the computer slept, and nothing was read"
    assert told.t_us == 351_000_000
    assert not any("moved" in event.text for event in session.events if event.kind == "clock")
    again = list(analyse_session(session))[-1].judgement.statistics["suction_temperature"]
    assert again.rows[-1] <= 52
    facts = morning_facts(session)
    assert facts["suspended"] == [{"at": 351.0, "text": told.text}]
    assert "suspended at 5:51: 3600.0 s" in morning_text(facts)
    assert verify(tmp_path / "s") == []


def test_a_sleep_and_a_step_of_the_wall_clock_are_told_apart(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "s")
    bench.clock.on(1.0)
    bench.clock.sleep(100.0)
    bench.clock.utc -= 7 * NS
    bench.tick()
    bench.end()
    events = Session.open(tmp_path / "s").events
    assert [e.text.split(":")[0] for e in events if e.kind == "suspended"] == ["100.0 s"]
    assert [e.text.split(" s")[0] for e in events if e.kind == "clock" and "moved" in e.text] == [
        "the wall clock moved by -7.0"
    ]


def test_the_real_clock_has_not_slept_between_two_looks() -> None:
    clock = SystemClock()
    assert ClockPair.now(clock).slept_since(ClockPair.now(clock)) == 0
    assert clock.slept_ns() + 1_000_000 >= 0
