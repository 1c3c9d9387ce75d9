"""The reader thread: order, overrun, and a clean stop whatever the device does."""

from __future__ import annotations

import asyncio
import threading
import time
from pathlib import Path

import pytest

from drivers import port_reader, serial_link
from drivers.base import LinkLostError, LinkState, NeedsPersonError, Timing
from drivers.clock import SystemClock
from drivers.daemon_call import daemon_call
from drivers.port_reader import reading
from drivers.ports import PortFound
from drivers.profile import load_profile
from drivers.profile_sections import Link
from drivers.scpi import ask_identity
from drivers.serial_lines import SerialLines
from drivers.serial_link import ByteLink, PortLink
from tests.drivers.peers.lines import PROFILE, line
from tests.drivers.peers.meter import FakeMeter
from tests.drivers.peers.ports import FakePort
from tests.drivers.peers.watching import Supervised


class FakeLink:
    """A link that behaves as badly as it is told."""

    def __init__(self, chunks: list[bytes], *, hang: str = "", error: Exception | None = None) -> None:
        self.chunks, self.hang, self.error = list(chunks), hang, error
        self.released = threading.Event()
        self.written = b""
        self.closed = 0
        self.threads: set[str] = set()

    def _do(self, what: str) -> None:
        self.threads.add(threading.current_thread().name)
        if self.hang == what:
            self.released.wait(20)

    def open(self) -> None:
        self._do("open")

    def read_some(self) -> bytes:
        self._do("read")
        if self.chunks:
            return self.chunks.pop(0)
        if self.error is not None:
            raise self.error
        time.sleep(0.005)
        return b""

    def write(self, data: bytes) -> None:
        self._do("write")
        self.written += data

    def close(self) -> None:
        self._do("close")
        self.closed += 1

    def describe(self) -> str:
        return "the fake"


def lines_from(link: FakeLink) -> SerialLines:
    return SerialLines("board", load_profile(PROFILE, "b"), "", make_link=lambda timing: link)


QUICK = Timing(close_deadline=0.3, open_deadline=0.3, drain_interval=0.01, backoff_first=30.0)


@pytest.mark.parametrize("what", ["open", "read", "close"])
def test_stopping_returns_in_time_though_the_device_hangs(what: str) -> None:
    link = FakeLink([line(1) + b"\n"], hang=what)

    async def main() -> float:
        async with Supervised(lines_from(link), QUICK) as run:
            await asyncio.sleep(0.1)
            begun = time.monotonic()
            run.task.cancel()
            await asyncio.wait({run.task}, timeout=5.0)
            assert run.task.done()
        return time.monotonic() - begun

    assert asyncio.run(main()) < 3.0
    link.released.set()


def test_opening_that_takes_too_long_is_told() -> None:
    link = FakeLink([], hang="open")

    async def main() -> None:
        async with Supervised(lines_from(link), QUICK) as run:
            await run.until(lambda: LinkState.WAITING in run.seen.states)
            assert "did not open within 0.3 s" in run.seen.reason(LinkState.WAITING)

    asyncio.run(main())
    link.released.set()


def test_what_was_read_before_the_loss_comes_out_first_and_one_thread_does_all() -> None:
    link = FakeLink([line(i) + b"\n" for i in range(200)], error=LinkLostError("It was unplugged."))

    async def main() -> None:
        async with Supervised(lines_from(link), QUICK) as run:
            await run.until(lambda: LinkState.WAITING in run.seen.states)
            assert run.counts.readings == 400
            assert run.seen.reason(LinkState.WAITING) == "It was unplugged."

    asyncio.run(main())
    assert link.closed == 1
    assert link.threads == {"port board"}


def test_an_unforeseen_failure_is_a_loss_in_words() -> None:
    link = FakeLink([], error=RuntimeError("driver went mad"))

    async def main() -> None:
        async with Supervised(lines_from(link), QUICK) as run:
            await run.until(lambda: LinkState.WAITING in run.seen.states)
            assert "the fake failed: RuntimeError: driver went mad" in run.seen.reason(LinkState.WAITING)

    asyncio.run(main())


def test_a_stalled_loop_costs_bounded_memory_and_is_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(port_reader, "PENDING_LIMIT", 1000)
    link = FakeLink([line(i) + b"\n" for i in range(500)])
    total = sum(map(len, link.chunks))

    async def main() -> tuple[int, int]:
        async with reading(lambda: link, SystemClock(), QUICK, "board") as reader:
            time.sleep(0.3)  # noqa: ASYNC251  the loop is stalled on purpose
            kept = sum(len(data) for _, data in reader.collect())
            return kept, reader.overrun_bytes

    kept, dropped = asyncio.run(main())
    assert kept + dropped == total
    assert kept < 1100


def test_another_instrument_at_the_port_is_not_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The set-up says which instrument it was; another one is at that port now."""
    port = FakePort(tmp_path / "p")
    there = PortFound(port.name, 0x1209, 0x00EF, "OTHER")
    monkeypatch.setattr(serial_link, "list_ports", lambda: [there])
    link: ByteLink = PortLink(f"{port.name}|usb:1209:00cd:MINE", Link(), 0.1)
    with pytest.raises(NeedsPersonError, match="Another instrument"):
        link.open()
    same: ByteLink = PortLink("/dev/elsewhere|usb:1209:00ef:OTHER", Link(), 0.1)
    same.open()
    assert same.describe() == port.name
    same.close()


def test_an_unknown_instrument_is_asked_only_when_told_to(tmp_path: Path) -> None:
    port = FakePort(tmp_path / "p")
    fake = FakeMeter(port, lambda query: b"EXAMPLE,METER,0,1" if query == "*IDN?" else None)
    timing = Timing(request_timeout=1.0)
    answer = asyncio.run(ask_identity(str(port.link), Link(), SystemClock(), timing))
    assert answer == "EXAMPLE,METER,0,1"
    assert fake.asked == ["*IDN?"]
    fake.close()
    silent = FakePort(tmp_path / "q")
    quick = Timing(request_timeout=0.1)
    assert asyncio.run(ask_identity(str(silent.link), Link(), SystemClock(), quick)) is None


def test_a_blocking_call_beside_the_loop() -> None:
    async def main() -> None:
        assert await daemon_call(lambda: 5, 1.0, "counting") == 5
        with pytest.raises(NeedsPersonError, match="taken"):
            await daemon_call(_taken, 1.0, "opening")
        release = threading.Event()
        with pytest.raises(LinkLostError, match=r"Opening /dev/x took longer than 0.05 s"):
            await daemon_call(lambda: release.wait(10), 0.05, "opening /dev/x")
        release.set()

    begun = time.monotonic()
    asyncio.run(main())
    assert time.monotonic() - begun < 5, "the end of the loop waited for the hung call"


def _taken() -> None:
    raise NeedsPersonError("The port is taken.")
