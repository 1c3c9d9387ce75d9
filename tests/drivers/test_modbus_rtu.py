"""Modbus RTU against a station of our own writing: late replies, dead stations, unplugging."""

from __future__ import annotations

import asyncio
import random
import struct
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from drivers.base import LinkState, ProfileError, Timing
from drivers.clock import SystemClock
from drivers.modbus_bus import ModbusBus, SilentStationError
from drivers.modbus_rtu import ModbusStation, register_value
from drivers.profile import load_profile
from drivers.profile_sections import Link, Register
from tests.drivers.peers.modbus import Stations, crc16_modbus, framed
from tests.drivers.peers.ports import null_modem
from tests.drivers.peers.results import keep
from tests.drivers.peers.watching import Supervised

PROFILE = """
title = "Power meter"
kind = "modbus_rtu"
[link]
baud = 19200
[poll]
interval_s = 0.02
station = 1
[[channel]]
name = "u"
quantity = "voltage"
unit = "V"
register = { address = 5, type = "uint16" }
[[channel]]
name = "i"
quantity = "current"
unit = "A"
scale = 0.01
register = { address = 6, type = "uint16" }
[[channel]]
name = "p"
quantity = "power"
unit = "W"
register = { function = 4, address = 40, type = "uint32" }
"""


@contextmanager
def bus(delay: object = lambda rng: 0.0) -> Iterator[tuple[ModbusBus, Stations]]:
    with null_modem() as (ours, theirs):
        stations = Stations(theirs, delay)  # type: ignore[arg-type]
        try:
            yield ModbusBus(ours, Link(baud=19200)), stations
        finally:
            stations.close()


def test_the_crc_of_the_peer_is_the_standards() -> None:
    """Modbus over Serial Line V1.02, 6.2.2 (the frame 02 07 has the CRC bytes 41 12)."""
    assert crc16_modbus(b"\x02\x07").to_bytes(2, "little") == b"\x41\x12"


def test_stations_are_polled_in_blocks() -> None:
    async def main() -> None:
        with bus() as (line, stations):
            adapter = ModbusStation("meter", load_profile(PROFILE, "meter"), line)
            async with Supervised(adapter, Timing(request_timeout=0.5)) as run:
                await run.until(lambda: run.counts.readings >= 9)
            values = {reading.channel: reading.value for reading in run.seen.readings}
            assert values == {"meter/u": 1005.0, "meter/i": 10.06, "meter/p": float((1040 << 16) + 1041)}
            assert stations.requests <= 2 * (run.counts.readings // 3 + 2)  # neighbours in one request
            assert stations.other_functions == 0

    asyncio.run(main())


def late_replies(polls: int, timeout: float) -> tuple[int, int]:
    """Ask for random registers of a station that is often late; give answered and silent polls."""

    def delay(rng: random.Random) -> float:
        return 0.0 if rng.random() < 0.7 else rng.uniform(0.5, 2.5) * timeout

    async def main() -> tuple[int, int]:
        rng = random.Random(3)
        clock, timing = SystemClock(), Timing(request_timeout=timeout)
        answered = silent = 0
        with bus(delay) as (line, _):
            async with line.used(Link(baud=19200)):
                for _ in range(polls):
                    register = rng.randrange(0, 200)
                    try:
                        answer = await line.read(1, 3, register, 1, clock, timing)
                    except SilentStationError:
                        silent += 1
                        continue
                    assert answer.registers == (1000 + register,), "another register's value"
                    answered += 1
        return answered, silent

    return asyncio.run(main())


def test_a_late_reply_is_never_another_registers_value() -> None:
    answered, silent = late_replies(300, timeout=0.02)
    assert answered + silent == 300
    assert silent >= 30, "the station must have been late, else this shows nothing"
    assert answered >= 150


@pytest.mark.campaign
def test_a_late_reply_is_never_another_registers_value_in_ten_thousand_polls() -> None:
    answered, silent = late_replies(10_000, timeout=0.02)
    assert answered + silent == 10_000
    assert silent >= 1000
    keep("modbus-late-replies", polls=10_000, answered=answered, silent=silent, wrong=0)


def test_a_dead_station_does_not_stop_its_neighbour() -> None:
    async def main() -> None:
        with bus() as (line, stations):
            timing = Timing(request_timeout=0.05, backoff_first=0.1)
            profile = load_profile(PROFILE, "meter")
            alive = ModbusStation("alive", profile, line)
            dead = ModbusStation("dead", profile, line, station=9)
            async with Supervised(alive, timing) as run, Supervised(dead, timing) as other:
                await other.until(lambda: LinkState.WAITING in other.seen.states)
                assert "Station 9 does not answer" in other.seen.reason(LinkState.WAITING)
                before = run.counts.readings
                await run.until(lambda: run.counts.readings > before + 30)
                assert other.counts.rejected["timeout"] >= 3
                stations.present.add(9)
                await other.until(lambda: other.counts.readings > 3)

    asyncio.run(main())


def test_a_refused_address_needs_a_person() -> None:
    async def main() -> None:
        with bus() as (line, _):
            text = PROFILE.replace("address = 5,", "address = 9005,")
            adapter = ModbusStation("meter", load_profile(text, "meter"), line)
            async with Supervised(adapter, Timing(request_timeout=0.5)) as run:
                await run.until(lambda: LinkState.FAILED in run.seen.states)
                assert "illegal address" in run.seen.reason(LinkState.FAILED)

    asyncio.run(main())


def test_a_missing_port_is_a_sentence() -> None:
    async def main() -> None:
        adapter = ModbusStation(
            "meter", load_profile(PROFILE, "meter"), ModbusBus("/dev/none", Link(baud=19200))
        )
        async with Supervised(adapter, Timing()) as run:
            await run.until(lambda: LinkState.WAITING in run.seen.states)
            assert "/dev/none is not there; there is" in run.seen.reason(LinkState.WAITING)

    asyncio.run(main())


def test_word_order_and_types() -> None:
    """21.5 as IEEE 754 single precision is 41AC0000h."""
    assert register_value(Register(address=0, type="float32"), (0x41AC, 0)) == 21.5
    assert register_value(Register(address=0, type="float32", word_order="little"), (0, 0x41AC)) == 21.5
    assert register_value(Register(address=0, type="int16"), (0xFFFE,)) == -2
    assert register_value(Register(address=0, type="int32"), (0xFFFF, 0xFFFE)) == -2


def test_a_profile_without_registers_is_refused() -> None:
    text = PROFILE.replace('register = { address = 5, type = "uint16" }', "")
    with pytest.raises(ProfileError, match="say its register"):
        ModbusStation("m", load_profile(text, "m"), ModbusBus("x", Link()))


def test_unplugging_the_bus_is_told_and_plugging_in_goes_on(tmp_path: Path) -> None:
    """The port comes back under another name behind the same by-id link."""

    async def main() -> None:
        link = tmp_path / "bus"
        adapter = ModbusStation(
            "meter", load_profile(PROFILE, "meter"), ModbusBus(str(link), Link(baud=19200))
        )
        timing = Timing(request_timeout=0.2, backoff_first=0.05, backoff_most=0.2)
        with null_modem() as (ours, theirs):
            link.symlink_to(ours)
            stations = Stations(theirs, lambda rng: 0.0)
            run = Supervised(adapter, timing)
            await run.__aenter__()
            await run.until(lambda: run.counts.readings >= 6)
            stations.close()
            link.unlink()
        await run.until(lambda: "is not there" in run.seen.reason(LinkState.WAITING), 20.0)
        with null_modem() as (ours, theirs):
            link.symlink_to(ours)
            stations = Stations(theirs, lambda rng: 0.0)
            before = run.counts.readings
            await run.until(lambda: run.counts.readings >= before + 6, 20.0)
            await run.__aexit__()
            stations.close()

    asyncio.run(main())


def test_over_a_network_serial_server() -> None:
    """RTU frames through a plain connection, as serial servers carry them."""

    async def main() -> None:
        async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            try:
                while True:
                    frame = await reader.readexactly(8)
                    station, function, address, count = struct.unpack(">BBHH", frame[:6])
                    words = struct.pack(f">{count}H", *(1000 + address + i for i in range(count)))
                    writer.write(framed(bytes([station, function, 2 * count]) + words))
            except (asyncio.IncompleteReadError, ConnectionError):
                writer.close()

        server = await asyncio.start_server(serve, "127.0.0.1", 0)
        address = f"socket://127.0.0.1:{server.sockets[0].getsockname()[1]}"
        adapter = ModbusStation("meter", load_profile(PROFILE, "meter"), ModbusBus(address, Link(baud=19200)))
        async with Supervised(adapter, Timing(request_timeout=0.5)) as run:
            await run.until(lambda: run.counts.readings >= 6)
            assert {r.value for r in run.seen.readings if r.channel == "meter/i"} == {10.06}
        server.close()
        await server.wait_closed()

    asyncio.run(main())
