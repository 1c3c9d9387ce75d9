"""An engine that is fed by hand: own clock, own readings, no device; for tests of watching and storing."""

from __future__ import annotations

from pathlib import Path

from analysis.analyser import Analyser
from analysis.measure import Channel, Quality, Reading, Specification
from analysis.saturation import refrigerant
from analysis.settings import settings_over_time
from analysis.timeline import Event
from analysis.units import Quantity
from drivers.base import ChannelsFound, LinkEvent, LinkState, Timing
from drivers.registry import Context
from logger.descriptor import SessionHeader
from logger.engine import Engine, Link
from logger.session_writer import SessionWriter
from logger.watch import Watch

START_UTC_NS = 1_768_377_600_000_000_000
NS = 1_000_000_000
PROBE = Specification(fixed=0.1, distribution="rectangular")


class ByHand:
    """A clock whose two faces are moved by hand."""

    def __init__(self) -> None:
        self.mono, self.utc, self.slept = 0, START_UTC_NS, 0

    def monotonic_ns(self) -> int:
        return self.mono

    def utc_ns(self) -> int:
        return self.utc

    def slept_ns(self) -> int:
        return self.slept

    def sleep(self, seconds: float) -> None:
        """Let the computer sleep: only the wall clock goes on."""
        self.utc += round(seconds * NS)
        self.slept += round(seconds * NS)

    def on(self, seconds: float) -> None:
        """Let time pass on both."""
        self.mono += round(seconds * NS)
        self.utc += round(seconds * NS)


CHANNELS = (
    Channel("board/ps", Quantity.GAUGE_PRESSURE, "bar(g)", resolution=0.01, uncertainty=PROBE),
    Channel("board/ts", Quantity.TEMPERATURE, "degC", resolution=0.1, uncertainty=PROBE),
    Channel("board/power", Quantity.POWER, "kW", uncertainty=PROBE),
    Channel("board/v", Quantity.VOLTAGE, "V", uncertainty=PROBE),
)
DECLARED = (
    Event(0, 0, "refrigerant", "", "R410A"),
    Event(0, 0, "assign", "board/ps", "suction_pressure"),
    Event(0, 0, "assign", "board/ts", "suction_temperature"),
    Event(0, 0, "assign", "board/power", "compressor_power"),
    Event(0, 0, "assign", "board/v", "supply_voltage"),
)


class Bench:
    """A recording whose time and readings the test gives."""

    def __init__(self, folder: Path, watch: Watch | None = None) -> None:
        self.clock = ByHand()
        self.writer = SessionWriter.create(folder, SessionHeader(), self.clock)
        analyser = Analyser({}, settings_over_time((), {}), {"R410A": refrigerant("R410A")})
        self.engine = Engine((), self.writer, analyser, self.clock, Timing(), Context(self.clock))
        self.engine.watch = watch
        self.engine.declare(DECLARED)
        self.link = Link("board")
        self.engine.links["board"] = self.link
        self.engine.take(self.link, ChannelsFound(CHANNELS))
        self.engine.take(self.link, LinkEvent(0, LinkState.LIVE))
        self.sent: list[tuple[int, str, float]] = []

    def give(self, **values: float) -> None:
        """Let the board send one reading of each named channel, now."""
        now = self.clock.mono
        batch = [Reading(now, f"board/{name}", value, Quality.OK) for name, value in values.items()]
        self.sent += [(now // 1000, reading.channel, values[reading.channel[6:]]) for reading in batch]
        self.engine.take(self.link, batch)

    def tick(self) -> None:
        self.engine._tick()

    def end(self) -> None:
        """Close the session as the engine does."""
        self.engine.stop("done")
        self.engine._finish()
        assert self.engine._close() == ()
