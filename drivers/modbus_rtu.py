"""Stations on a Modbus RTU bus: power meters, flow meters, transmitters. Only functions 3 and 4 are sent."""

from __future__ import annotations

import asyncio
import struct
from collections.abc import AsyncGenerator, Sequence
from dataclasses import dataclass

from analysis.measure import Quality, Reading
from drivers.base import (
    ChannelsFound,
    Clock,
    LinkEvent,
    LinkState,
    NeedsPersonError,
    ProfileError,
    Rejected,
    StreamItem,
    Timing,
)
from drivers.modbus_bus import Answer, ModbusBus, SilentStationError, StationRefusedError
from drivers.profile import Profile
from drivers.profile_sections import ChannelProfile, Example, Register
from drivers.registry import Context, Kind, Outcome, Wanted, said

_CODES = {
    "int16": "h", "uint16": "H", "int32": "i", "uint32": "I", "int64": "q", "uint64": "Q",
    "float32": "f", "float64": "d",
}  # fmt: skip
_BLOCK_LIMIT = 100
_GIVE_UP_AFTER = 3
"""Polls without an answer, one after the other, before the supervisor's back-off spares the bus."""


def register_value(register: Register, words: Sequence[int]) -> float:
    """Join 16-bit words to a number.

    Examples
    --------
    >>> register_value(Register(address=0, type="float32"), (0x41AC, 0x0000))
    21.5
    >>> register_value(Register(address=0, type="float32", word_order="little"), (0x0000, 0x41AC))
    21.5
    """
    ordered = words if register.word_order == "big" else tuple(reversed(words))
    packed = struct.pack(f">{len(ordered)}H", *ordered)
    return float(struct.unpack(f">{_CODES[register.type]}", packed)[0])


@dataclass(frozen=True, slots=True)
class _Block:
    """Neighbouring registers that one request reads."""

    function: int
    address: int
    count: int
    parts: tuple[tuple[ChannelProfile, Register], ...]


def _blocks(profile: Profile) -> tuple[_Block, ...]:
    wanted = []
    for part in profile.channel:
        if part.register is None:
            raise ProfileError(
                f"Profile {profile.name}, channel '{part.name}': say its register, "
                'as register = { address = 0, type = "float32" }.'
            )
        wanted.append((part, part.register))
    blocks: list[_Block] = []
    for part, register in sorted(wanted, key=lambda pair: (pair[1].function, pair[1].address)):
        last = blocks[-1] if blocks else None
        end = register.address + register.count
        if (
            last is not None
            and last.function == register.function
            and register.address <= last.address + last.count
            and end - last.address <= _BLOCK_LIMIT
        ):
            count = max(last.count, end - last.address)
            blocks[-1] = _Block(last.function, last.address, count, (*last.parts, (part, register)))
        else:
            blocks.append(_Block(register.function, register.address, register.count, ((part, register),)))
    return tuple(blocks)


class ModbusStation:
    """Polls one station of a bus.

    Raises
    ------
    ProfileError
        If a channel has no register.
    """

    def __init__(self, name: str, profile: Profile, bus: ModbusBus, station: int | None = None) -> None:
        self.name, self.profile, self._bus = name, profile, bus
        self._station = station or profile.poll.station
        self._blocks = _blocks(profile)
        self._convert = {part.name: part.conversion() for part in profile.channel}

    async def stream(self, clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        """Poll every block in turn; a silent station is given up for a while, so that the others go on."""
        yield ChannelsFound(self.profile.channels(self.name))
        async with self._bus.used(self.profile.link):
            loop = asyncio.get_running_loop()
            due = loop.time()
            unanswered = 0
            while True:
                for block in self._blocks:
                    try:
                        answer = await self._bus.read(
                            self._station, block.function, block.address, block.count, clock, timing
                        )
                    except SilentStationError:
                        unanswered += 1
                        yield Rejected(clock.monotonic_ns(), {"timeout": 1})
                        if unanswered >= _GIVE_UP_AFTER:
                            raise
                        continue
                    except StationRefusedError as refused:
                        if refused.code in (1, 2, 3):
                            raise NeedsPersonError(
                                f"{refused} Look at the register addresses of profile {self.profile.name}."
                            ) from None
                        yield Rejected(clock.monotonic_ns(), {"refused": 1})
                        continue
                    unanswered = 0
                    yield LinkEvent(answer.received_ns, LinkState.LIVE)
                    yield self._readings(block, answer)
                due = max(due + self.profile.poll.interval_s, loop.time())
                await asyncio.sleep(due - loop.time())

    def _readings(self, block: _Block, answer: Answer) -> list[Reading]:
        moment = (answer.sent_ns + answer.received_ns) // 2
        slow = answer.received_ns - answer.sent_ns > 1_000_000_000
        flag = Quality.ESTIMATED_TIME if slow else Quality.OK
        batch = []
        for part, register in block.parts:
            start = register.address - block.address
            value, quality = self._convert[part.name](
                register_value(register, answer.registers[start : start + register.count])
            )
            batch.append(Reading(moment, f"{self.name}/{part.name}", value, quality | flag))
        return batch


def _make(wanted: Wanted, context: Context) -> ModbusStation:
    link = wanted.profile.link
    bus = context.shared(("modbus", wanted.address), lambda: ModbusBus(wanted.address, link))
    station = wanted.options.get("station")
    if station is not None and not (isinstance(station, int) and 1 <= station <= 247):
        raise ProfileError(f"{wanted.name}: station must be a whole number from 1 to 247.")
    return ModbusStation(wanted.name, wanted.profile, bus, station)


def _example(profile: Profile, example: Example) -> Outcome:
    """Decode the registers of the one channel that the example names."""
    name = next(iter(example.values), profile.channel[0].name)
    part = profile.channel_named(name)
    data = example.payload()
    if part.register is None or len(data) != 2 * part.register.count:
        return {}, "truncated"
    words = struct.unpack(f">{len(data) // 2}H", data)
    value, quality = part.conversion()(register_value(part.register, words))
    return {name: said(value, quality)}, ""


KIND = Kind("modbus_rtu", "stations on a Modbus RTU bus", _make, example=_example)
