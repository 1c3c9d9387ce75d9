"""All kinds look at once; what is found streams in; the trouble of one is a sentence and stops no other."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncGenerator

import pytest

from drivers import serial_lines
from drivers.base import Found, LinkLostError, Timing
from drivers.discover import Trouble, discover
from drivers.ports import PortFound
from drivers.registry import Context, Kind, Kinds, load_kinds


def kind(name: str, look: object) -> Kind:
    return Kind(name, f"{name} devices", lambda wanted, context: None, discover=look)  # type: ignore[arg-type,return-value]


async def quick(context: Context, seconds: float) -> AsyncGenerator[Found, None]:
    yield Found("quick", "a", "first", "seen")
    yield Found("quick", "a", "first", "seen again")


async def slow(context: Context, seconds: float) -> AsyncGenerator[Found, None]:
    await asyncio.sleep(0.1)
    yield Found("slow", "b", "second", "seen")


async def off(context: Context, seconds: float) -> AsyncGenerator[Found, None]:
    raise LinkLostError("Bluetooth is off; switch it on.")
    yield Found("off", "", "", "")


async def broken(context: Context, seconds: float) -> AsyncGenerator[Found, None]:
    raise ZeroDivisionError("oh")
    yield Found("broken", "", "", "")


async def hanging(context: Context, seconds: float) -> AsyncGenerator[Found, None]:
    await asyncio.sleep(60)
    yield Found("hanging", "", "", "")


def test_results_stream_and_troubles_are_sentences() -> None:
    async def main() -> list[tuple[float, Found | Trouble]]:
        looks = {"quick": quick, "slow": slow, "off": off, "broken": broken, "hanging": hanging}
        known = {name: kind(name, look) for name, look in looks.items()}
        kinds = Kinds(known, {"plugin": "The adapter 'plugin' cannot be loaded."})
        context = Context(timing=Timing(connect_deadline=0.2))
        begun = time.monotonic()
        return [(time.monotonic() - begun, item) async for item in discover(context, 0.1, kinds=kinds)]

    got = asyncio.run(main())
    items = [item for _, item in got]
    assert items[0] == Trouble("plugin", "The adapter 'plugin' cannot be loaded.")
    found = [item.label for item in items if isinstance(item, Found)]
    assert found == ["first", "second"]
    troubles = {item.kind: item.sentence for item in items if isinstance(item, Trouble)}
    assert troubles["off"] == "Bluetooth is off; switch it on."
    assert "ZeroDivisionError: oh" in troubles["broken"]
    assert "given up" in troubles["hanging"]
    assert items.index(next(i for i in items if isinstance(i, Found))) < len(items) - 2


def test_leaving_early_stops_every_search() -> None:
    async def main() -> None:
        kinds = Kinds({"quick": kind("quick", quick), "hanging": kind("hanging", hanging)}, {})
        stream = discover(Context(), 30.0, kinds=kinds)
        assert isinstance(await anext(stream), Found)
        await stream.aclose()
        assert len(asyncio.all_tasks()) == 1

    asyncio.run(main())


def test_serial_ports_are_listed_but_not_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    ports = [
        PortFound("/dev/ttyUSB7", 0x1209, 0x00CD, "A5", "1-2", "USB serial"),
        PortFound("/dev/ttyS0"),
    ]
    monkeypatch.setattr(serial_lines, "list_ports", lambda: ports)

    async def main() -> list[Found]:
        return [item async for item in serial_lines.discover(Context(), 1.0)]

    usb, plain = asyncio.run(main())
    assert usb.address == "usb:1209:00cd:A5"
    assert "/dev/ttyUSB7" in usb.label
    assert usb.confidence > plain.confidence
    assert plain.address == "/dev/ttyS0"


def test_all_kinds_of_ours_load() -> None:
    kinds = load_kinds(installed=[])
    ours = {"serial_lines", "nmea0183", "scpi", "modbus_rtu", "onewire", "typed"}
    assert ours <= set(kinds.known)
