"""Thermometers on a 1-Wire bus as Linux shows them: a tree of files, read in a thread."""

from __future__ import annotations

import asyncio
import re
import time
from collections.abc import AsyncGenerator
from dataclasses import replace
from pathlib import Path

from analysis.measure import Channel, Quality, Reading
from drivers.base import (
    ChannelsFound,
    Clock,
    Found,
    LinkEvent,
    LinkLostError,
    LinkState,
    NeedsPersonError,
    Rejected,
    StreamItem,
    Timing,
)
from drivers.framing import LineFramer
from drivers.port_reader import reading
from drivers.profile import Profile
from drivers.profile_sections import ChannelProfile, Example
from drivers.registry import Context, Kind, Outcome, Wanted, said

TREE = "/sys/bus/w1/devices"
_SENSOR = "[0-9a-f][0-9a-f]-*"
_SLAVE = re.compile(
    r"(?:[0-9a-f]{2} )+: crc=[0-9a-f]{2} (YES|NO)\n(?:[0-9a-f]{2} )+t=(-?\d{1,6})\s*", re.ASCII
)
POWER_ON = 85.0
"""What the usual sensor holds before its first conversion; exact, so a true 85.000 is rare."""
_NEAR = 5.0


def parse_slave(text: str) -> float | str:
    r"""Read a sensor's file: degrees Celsius, or the kind of fault.

    Examples
    --------
    >>> parse_slave("50 05 4b 46 7f ff 0c 10 1c : crc=1c YES\n50 05 4b 46 7f ff 0c 10 1c t=85000\n")
    85.0
    >>> parse_slave("50 05 4b 46 7f ff 0c 10 1d : crc=1c NO\n50 05 4b 46 7f ff 0c 10 1d t=85000\n")
    'checksum'
    """
    match = _SLAVE.fullmatch(text)
    if match is None:
        return "truncated"
    if match.group(1) != "YES":
        return "checksum"
    return int(match.group(2)) / 1000.0


class _Tree:
    """The tree as a stream of lines, one reading each, so that one kind of thread serves all links."""

    def __init__(self, tree: Path, only: frozenset[str], interval_s: float) -> None:
        self._tree, self._only, self._interval = tree, only, interval_s
        self._due = 0.0
        self._waiting: list[Path] = []

    def open(self) -> None:
        if not self._tree.is_dir():
            raise NeedsPersonError(
                f"There is no 1-Wire bus ({self._tree}); load the kernel's w1 modules (on small computers: "
                "enable 1-Wire in the boot set-up), then start again."
            )

    def read_some(self) -> bytes:
        if not self._waiting:
            time.sleep(min(max(self._due - time.monotonic(), 0.0), 0.1))
            if time.monotonic() < self._due:
                return b""
            self._due = time.monotonic() + self._interval
            self._waiting = self.sensors()
            if not self._waiting:
                raise LinkLostError("No thermometer is on the 1-Wire bus; look at its plug and pull-up.")
        file = self._waiting.pop(0)
        try:
            text = (file / "w1_slave").read_text(encoding="ascii", errors="replace")
        except OSError:
            return f"{file.name} vanished\n".encode()  # a sensor was pulled; the bus goes on
        return f"{file.name} {parse_slave(text)}\n".encode()

    def sensors(self) -> list[Path]:
        found = sorted(path for path in self._tree.glob(_SENSOR) if (path / "w1_slave").exists())
        return [path for path in found if not self._only or path.name in self._only]

    def write(self, data: bytes) -> None:
        raise AssertionError("nothing is ever sent")

    def close(self) -> None:
        pass

    def describe(self) -> str:
        return f"the 1-Wire bus at {self._tree}"


class OneWire:
    """Reads the thermometers of one bus.

    A channel of the profile with ``field`` set to a sensor's number reads that one; a channel without is the
    model for every sensor that is found, named by its number.
    """

    def __init__(self, name: str, profile: Profile, tree: str = TREE) -> None:
        self.name, self.profile = name, profile
        self._tree = Path(tree or TREE)
        self._named = {part.field: part for part in profile.channel if part.field}
        self._model = next((part for part in profile.channel if not part.field), None)

    async def stream(self, clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        """Read each sensor in turn; channels are told when a sensor first answers."""
        only = frozenset() if self._model is not None else frozenset(self._named)
        framer = LineFramer()
        known: dict[str, tuple[ChannelProfile, Channel]] = {}
        last: dict[str, float] = {}
        link = _Tree(self._tree, only, self.profile.poll.interval_s)
        async with reading(lambda: link, clock, timing, self.name) as reader:
            yield LinkEvent(clock.monotonic_ns(), LinkState.LIVE)
            while True:
                batch: list[Reading] = []
                for t_ns, data in await reader.next_chunks(timing):
                    for line in framer.feed(data):
                        sensor, _, said = line.decode("ascii").partition(" ")
                        try:
                            value = float(said)
                        except ValueError:
                            yield Rejected(t_ns, {said: 1}, line)
                            continue
                        if sensor not in known:
                            known[sensor] = self._channel(sensor)
                            yield ChannelsFound(tuple(channel for _, channel in known.values()))
                        part, channel = known[sensor]
                        batch.append(judge(t_ns, part, channel.id, value, last.get(sensor)))
                        if batch[-1].value is not None:
                            last[sensor] = value
                if batch:
                    yield batch

    def _channel(self, sensor: str) -> tuple[ChannelProfile, Channel]:
        part = self._named.get(sensor) or self._model
        assert part is not None, "only sensors with a channel are read"
        channel = part.channel(self.name)
        if part.field:
            return part, channel
        label = f"{channel.label} {sensor[-4:]}"
        return part, replace(channel, id=f"{self.name}/{sensor}", label=label)


def judge(t_ns: int, part: ChannelProfile, channel: str, value: float, previous: float | None) -> Reading:
    """Make a reading; the power-on value counts only where the previous one was near it."""
    # The file may hold the conversion before this one, up to a second old.
    if value == POWER_ON and (previous is None or abs(previous - POWER_ON) > _NEAR):
        return Reading(t_ns, channel, None, Quality.INVALID | Quality.ESTIMATED_TIME)
    indicated, quality = part.conversion()(value)
    return Reading(t_ns, channel, indicated, quality | Quality.ESTIMATED_TIME)


def _make(wanted: Wanted, context: Context) -> OneWire:
    return OneWire(wanted.name, wanted.profile, wanted.address)


def _example(profile: Profile, example: Example) -> Outcome:
    part = profile.channel[0]
    found = parse_slave(example.payload().decode("ascii", "replace"))
    if isinstance(found, str):
        return {}, found
    reading = judge(0, part, part.name, found, None)
    return {part.name: said(reading.value, reading.quality)}, ""


async def discover(context: Context, seconds: float, tree: str = TREE) -> AsyncGenerator[Found, None]:
    """List the thermometers on the bus; nothing where there is no bus."""
    for path in await asyncio.to_thread(_Tree(Path(tree), frozenset(), 1.0).sensors):
        label = f"thermometer {path.name}"
        yield Found("onewire", tree, label, "1-Wire bus", 0.95, ("onewire_thermometers",))


KIND = Kind("onewire", "thermometers on a 1-Wire bus (Linux)", _make, discover=discover, example=_example)
