"""Lines over a pseudo-terminal: damage, floods, unplugging, wrong speed; nothing false, nothing uncounted."""

from __future__ import annotations

import asyncio
import threading
from pathlib import Path

import pytest

from analysis.measure import Quality, Reading
from drivers.base import LinkState, Timing
from drivers.clock import FollowedClock, SystemClock
from drivers.profile import load_profile
from drivers.serial_lines import SerialLines
from tests.drivers.peers.lines import PROFILE, DamagedStream, line, true_values
from tests.drivers.peers.ports import FakePort
from tests.drivers.peers.results import keep
from tests.drivers.peers.watching import Supervised

QUICK = Timing(backoff_first=0.05, port_poll=0.05, read_timeout=0.02)


@pytest.fixture
def port(tmp_path: Path) -> FakePort:
    return FakePort(tmp_path / "probe")


def probe(port: FakePort, text: str = PROFILE) -> SerialLines:
    return SerialLines("board", load_profile(text, "board"), str(port.link))


def sending(port: FakePort, chunks: list[bytes]) -> threading.Thread:
    def run() -> None:
        for chunk in chunks:
            port.send(chunk)

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    return thread


def check_values(readings: list[Reading], good: list[int]) -> None:
    """Every reading is the true value of its line, and every good line is there, in order."""
    pairs = zip(readings[0::2], readings[1::2], strict=True)
    got = []
    for pressure, temperature in pairs:
        i = round(pressure.t_mono_ns / 1e6)
        assert (pressure.value, temperature.value) == true_values(i), f"a false value at line {i}"
        got.append(i)
    assert got == good


def test_damaged_lines_give_no_false_value_and_are_counted_by_kind(port: FakePort) -> None:
    async def main() -> None:
        stream = DamagedStream(seed=7)
        chunks = stream.chunks(3000)
        async with Supervised(probe(port), QUICK, FollowedClock(0)) as run:
            await run.live()
            sending(port, chunks)
            await run.until(lambda: run.counts.readings // 2 + run.counts.faults == len(chunks))
            assert len(stream.refused) == 4
            assert dict(run.counts.rejected) == dict(stream.refused)
            check_values(run.seen.readings, stream.good)

    asyncio.run(main())


def test_unplug_is_told_at_once_and_replug_under_another_name_goes_on(port: FakePort) -> None:
    async def main() -> None:
        async with Supervised(probe(port), QUICK, FollowedClock(0)) as run:
            await run.live()
            sending(port, [line(i) + b"\r\n" for i in range(50)] + [line(50)[:12]])
            await run.until(lambda: run.counts.readings == 100)
            await asyncio.sleep(0.1)
            first = port.name
            port.unplug()
            await run.until(lambda: LinkState.WAITING in run.seen.states, 1.0)
            assert "unplugged" in run.seen.reason(LinkState.WAITING)
            assert run.counts.rejected == {"truncated": 1}
            await run.until(lambda: LinkState.SEARCHING in run.seen.states, 1.0)
            assert "is not there; there is" in run.seen.reason(LinkState.SEARCHING)
            FakePort(port.link.with_name("other"))  # takes the freed name
            port.plug()
            assert port.name != first
            await run.until(lambda: run.seen.states[-1] is LinkState.LIVE, 5.0)
            sending(port, [line(i) + b"\r\n" for i in range(60, 100)])
            await run.until(lambda: run.counts.readings == 180, 5.0)
            assert {r.epoch for r in run.seen.readings[:100]} == {1}
            assert {r.epoch for r in run.seen.readings[100:]} == {2}
            check_values(run.seen.readings, [*range(50), *range(60, 100)])

    asyncio.run(main())


def test_a_thousand_lines_a_second_without_loss(port: FakePort) -> None:
    thousand_a_second(port, seconds=3)


@pytest.mark.campaign
def test_a_thousand_lines_a_second_for_a_minute(port: FakePort) -> None:
    thousand_a_second(port, seconds=60)
    keep("thousand-lines-a-second", lines=60_000, lost=0, refused=0)


def thousand_a_second(port: FakePort, seconds: int) -> None:
    async def main() -> None:
        async with Supervised(probe(port), Timing(), FollowedClock(0)) as run:
            await run.live()
            loop = asyncio.get_running_loop()
            begun = loop.time()
            sent = 0
            while sent < 1000 * seconds:
                due = min(int((loop.time() - begun) * 1000), 1000 * seconds)
                port.send(b"".join(line(i) + b"\r\n" for i in range(sent, due)))
                sent = due
                await asyncio.sleep(0.001)
            await run.until(lambda: run.counts.readings == 2 * sent)
            assert not run.counts.rejected
            check_values(run.seen.readings, list(range(sent)))

    asyncio.run(main())


def test_wrong_speed_is_named(port: FakePort) -> None:
    """What a wrong speed gives is noise with a line end now and then; no value comes of it."""

    async def main() -> None:
        noise = bytes(range(128, 250)) + b"\n"
        timing = Timing(banner=0.05, backoff_most=0.2, backoff_first=0.05, read_timeout=0.02)
        async with Supervised(probe(port), timing) as run:
            await run.live()
            sending(port, [noise] * 40)
            await run.until(lambda: LinkState.FAILED in run.seen.states)
            reason = run.seen.reason(LinkState.FAILED)
            assert "Fewer than half of 20 lines can be read (0): wrong speed?" in reason
            assert "115200 baud" in reason
            assert run.seen.readings == []

    asyncio.run(main())


def test_noise_without_any_line_end_is_named_too(port: FakePort) -> None:
    async def main() -> None:
        async with Supervised(probe(port), Timing(banner=0.05, read_timeout=0.02)) as run:
            await run.live()
            sending(port, [b"\x00\xf8" * 300])
            await run.until(lambda: LinkState.FAILED in run.seen.states)
            assert "without one line end: wrong speed?" in run.seen.reason(LinkState.FAILED)

    asyncio.run(main())


def test_noise_after_good_lines_is_told_but_does_not_stop_the_good_ones(port: FakePort) -> None:
    async def main() -> None:
        async with Supervised(probe(port), Timing(banner=0.01, read_timeout=0.02), FollowedClock(0)) as run:
            mixed = [line(i) + b"\r\n" if i % 5 == 0 else b"\xff\xfe\n" for i in range(100)]
            await run.live()
            sending(port, mixed)
            await run.until(lambda: run.counts.readings == 40)
            await run.until(lambda: any("wrong speed?" in event.reason for event in run.seen.events))
            assert run.counts.rejected == {"non_ascii": 80}
            assert LinkState.FAILED not in run.seen.states
            assert sum("wrong speed?" in event.reason for event in run.seen.events) == 1

    asyncio.run(main())


def test_a_greeting_and_a_cut_first_line_are_no_faults(port: FakePort) -> None:
    async def main() -> None:
        async with Supervised(probe(port), QUICK, FollowedClock(0)) as run:
            await run.live()
            sending(port, [b".21;ts=3.00*0000\r\n", b"Booting v1.2\r\n", line(1) + b"\r\n", b"oops\r\n"])
            await run.until(lambda: run.counts.rejected.total() == 3)
            assert run.counts.rejected == {"lead_in": 2, "truncated": 1}
            assert run.counts.faults == 1
            assert run.counts.readings == 2

    asyncio.run(main())


def test_without_a_checksum_readings_say_so_and_the_first_line_is_left_out(port: FakePort) -> None:
    text = """
title = "Bare numbers"
[line]
pattern = '(?P<t>[+-]?\\d+(?:\\.\\d+)?)'
[[channel]]
name = "t"
quantity = "temperature"
unit = "degC"
"""

    async def main() -> None:
        async with Supervised(probe(port, text), QUICK) as run:
            await run.live()
            sending(port, [b"1.5\n", b"21.5\n", b"21.6\n"])  # the first was 21.5 before it was cut
            await run.until(lambda: run.counts.readings == 2)
            assert [r.value for r in run.seen.readings] == [21.5, 21.6]
            assert {r.quality for r in run.seen.readings} == {Quality.UNVERIFIED}
            assert run.counts.rejected == {"lead_in": 1}

    asyncio.run(main())


def test_a_port_taken_by_another_program_needs_a_person(port: FakePort) -> None:
    import serial

    async def main() -> None:
        other = serial.Serial(str(port.link), exclusive=True)
        try:
            async with Supervised(probe(port), QUICK) as run:
                await run.until(lambda: LinkState.FAILED in run.seen.states)
                assert "in use by another program" in run.seen.reason(LinkState.FAILED)
        finally:
            other.close()

    asyncio.run(main())


def test_readings_carry_the_moment_of_reading_with_the_computers_clock(port: FakePort) -> None:
    async def main() -> None:
        clock = SystemClock()
        async with Supervised(probe(port), QUICK, clock) as run:
            before = clock.monotonic_ns()
            await run.live()
            sending(port, [line(5) + b"\r\n"])
            await run.until(lambda: run.counts.readings == 2)
            assert all(before < r.t_mono_ns <= clock.monotonic_ns() for r in run.seen.readings)

    asyncio.run(main())


def test_network_connection(tmp_path: Path) -> None:
    async def main() -> None:
        async def serve(_: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            for i in range(100):
                writer.write(line(i) + b"\r\n")
            await writer.drain()
            writer.close()
            await writer.wait_closed()

        server = await asyncio.start_server(serve, "127.0.0.1", 0)
        number = server.sockets[0].getsockname()[1]
        adapter = SerialLines("plant", load_profile(PROFILE, "board"), f"socket://127.0.0.1:{number}")
        slow = Timing(backoff_first=30.0)
        async with Supervised(adapter, slow, FollowedClock(0)) as run:
            await run.until(lambda: LinkState.WAITING in run.seen.states)
            check_values(run.seen.readings, list(range(100)))
            assert "closed the connection" in run.seen.reason(LinkState.WAITING)
        server.close()
        await server.wait_closed()

    asyncio.run(main())
