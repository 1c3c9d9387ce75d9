"""The bands of a watch: learnt while the machine runs steadily, or given; each reading is held against them.

A band says only what was usual, never what is right: leaving it makes readings worth keeping, no verdict.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from analysis.analyser import Results
from analysis.elementwise import FloatArray
from analysis.machine_events import running
from analysis.measure import UNUSABLE, Channel
from analysis.points import POINTS
from analysis.presets import show, show_gauge
from analysis.rows import Rows
from analysis.settings import Settings
from analysis.units import Quantity
from analysis.verdict import State
from logger.watch_file import WatchOptions

SETTLE_US = 600_000_000
"""After a start nothing is judged for ten minutes, as for steadiness (common practice, no source)."""
BACK_US = 10_000_000
"""A point is back in its band when it has been inside for so long [us]."""
MARGIN_K = 1.5
MARGIN_OF_VALUE = 0.1
MARGIN_OF_PRESSURE = 0.05
"""How much wider than what was seen a learnt band is at least (common practice, no source)."""
DIP_MEMORY_US = 60_000_000
LEAST_VOLTAGE = 10.0


@dataclass(frozen=True, slots=True)
class Noticed:
    """Something that happened at a moment; ``fires`` opens a window at full rate."""

    t_us: int
    kind: str
    subject: str
    text: str
    fires: bool = True


@dataclass(slots=True)
class _Place:
    """How one measuring point stands."""

    low: float = -math.inf
    high: float = math.inf
    outside: bool = False
    inside_since_us: int | None = None
    usual: float = math.nan
    """Slow mean of a voltage."""
    usual_us: int = 0
    dipped: bool = False


@dataclass(slots=True)
class Bands:
    """Every point's band, and whether the machine runs."""

    options: WatchOptions
    places: dict[str, _Place] = field(default_factory=dict)
    runs: bool | None = None
    judged_from_us: int = 0
    steady_since_us: int | None = None
    learnt: bool = False
    seen: dict[str, tuple[float, float]] = field(default_factory=dict)

    def results(self, results: Sequence[Results]) -> list[Noticed]:
        """Notice starts and stops, and learn the bands from the first steady stretch."""
        noticed: list[Noticed] = []
        for result in results:
            runs = running(result.points)
            for row, t_us in enumerate(result.t_us.tolist()):
                if runs is not None:
                    noticed += self._machine(t_us, bool(runs[row]))
                if not self.learnt:
                    noticed += self._learn(result, row, t_us)
        return noticed

    def readings(self, rows: Rows, held: Settings, channels: Mapping[str, Channel]) -> list[Noticed]:
        """Hold readings against the bands, each at its own rate."""
        noticed: list[Noticed] = []
        usable = (rows.quality & int(UNUSABLE)) == 0
        index = {name: number for number, name in enumerate(rows.ids)}
        for name, channel_id in held.channel_of.items():
            channel = channels.get(channel_id)
            if channel is None or channel_id not in index:
                continue
            mine = usable & (rows.channel == index[channel_id])
            if not mine.any():
                continue
            values = _at_point(channel, name, held, rows.value[mine])
            for t_us, value in zip(rows.t_us[mine].tolist(), values.tolist(), strict=True):
                noticed += self._value(name, t_us, value, held.barometer_pa)
        return noticed

    def _machine(self, t_us: int, runs: bool) -> list[Noticed]:
        before, self.runs = self.runs, runs
        if before is None or before == runs:
            return []
        if runs:
            self.judged_from_us = t_us + SETTLE_US
        self.steady_since_us = None
        self.seen.clear()
        return [Noticed(t_us, "machine", "", "compressor starts" if runs else "compressor stops")]

    def _learn(self, result: Results, row: int, t_us: int) -> list[Noticed]:
        state = result.judgement.overall.state
        if State(int(state[row])) is not State.STEADY:
            self.steady_since_us = None
            self.seen.clear()
            return []
        if self.steady_since_us is None:
            self.steady_since_us = t_us
        for name, column in result.points.items():
            value = float(column.value[row])
            if math.isfinite(value):
                low, high = self.seen.get(name, (value, value))
                self.seen[name] = (min(low, value), max(high, value))
        if t_us - self.steady_since_us < self.options.learn_us:
            return []
        self.learnt = True
        noticed = []
        for name, (low, high) in self.seen.items():
            if name in self.options.bands:
                continue
            margin = max((high - low) / 2, _margin(POINTS[name].quantity, (low + high) / 2))
            self.places.setdefault(name, _Place()).low = low - margin
            self.places[name].high = high + margin
            text = self._words(name, result.settings.barometer_pa)
            noticed.append(Noticed(t_us, "watch", name, f"band learnt: {text}", fires=False))
        return noticed

    def _value(self, name: str, t_us: int, value: float, barometer_pa: float) -> list[Noticed]:
        place = self.places.setdefault(name, _Place())
        noticed = []
        if POINTS[name].quantity is Quantity.VOLTAGE:
            noticed += self._voltage(place, name, t_us, value)
        low, high = place.low, place.high
        if name in self.options.bands:
            low, high, quantity = self.options.bands[name]
            if quantity is Quantity.GAUGE_PRESSURE and POINTS[name].quantity is Quantity.ABSOLUTE_PRESSURE:
                low, high = low + barometer_pa, high + barometer_pa
            place.low, place.high = low, high
        if self.runs is False or t_us < self.judged_from_us:
            return noticed
        if not low <= value <= high:
            if not place.outside:
                place.outside = True
                shown = _shown(name, value, barometer_pa)
                text = f"leaves its band {self._words(name, barometer_pa)}: {shown}"
                noticed.append(Noticed(t_us, "watch", name, text))
            place.inside_since_us = None
        elif place.outside:
            place.inside_since_us = t_us if place.inside_since_us is None else place.inside_since_us
            if t_us - place.inside_since_us >= BACK_US:
                place.outside, place.inside_since_us = False, None
                text = f"is back in its band: {_shown(name, value, barometer_pa)}"
                noticed.append(Noticed(t_us, "watch", name, text, fires=False))
        return noticed

    def _voltage(self, place: _Place, name: str, t_us: int, value: float) -> list[Noticed]:
        if not math.isfinite(place.usual):
            place.usual, place.usual_us = value, t_us
        if value < self.options.dip * place.usual and place.usual > LEAST_VOLTAGE:
            if place.dipped:
                return []
            place.dipped = True
            return [Noticed(t_us, "watch", name, f"dips to {value:.1f} V from {place.usual:.1f} V")]
        noticed = []
        if place.dipped:
            place.dipped = False
            noticed.append(Noticed(t_us, "watch", name, f"is back from its dip: {value:.1f} V", fires=False))
        share = min(max(t_us - place.usual_us, 0) / DIP_MEMORY_US, 1.0)
        place.usual += share * (value - place.usual)
        place.usual_us = t_us
        return noticed

    def _words(self, name: str, barometer_pa: float) -> str:
        place = self.places[name]
        return f"{_shown(name, place.low, barometer_pa)} to {_shown(name, place.high, barometer_pa)}"


def _at_point(channel: Channel, name: str, held: Settings, indicated: FloatArray) -> FloatArray:
    """Bring indications to the measuring point, as the analyser does: scale, SI, offset, absolute."""
    unit = channel.si_unit
    scaled = indicated * held.scale.get(channel.id, 1.0)
    value = scaled * unit.factor + unit.offset + held.offset.get(channel.id, 0.0)
    if channel.quantity is Quantity.GAUGE_PRESSURE and POINTS[name].quantity is Quantity.ABSOLUTE_PRESSURE:
        value = value + held.barometer_pa
    return np.asarray(value, np.float64)


def _margin(quantity: Quantity, middle: float) -> float:
    if quantity in (Quantity.TEMPERATURE, Quantity.TEMPERATURE_DIFFERENCE):
        return MARGIN_K
    share = MARGIN_OF_PRESSURE if quantity is Quantity.ABSOLUTE_PRESSURE else MARGIN_OF_VALUE
    return share * abs(middle)


def _shown(name: str, value: float, barometer_pa: float) -> str:
    quantity = POINTS[name].quantity
    if quantity is Quantity.ABSOLUTE_PRESSURE and name != "barometric_pressure":
        return show_gauge(value, barometer_pa, "si")
    return show(quantity, value, "si")
