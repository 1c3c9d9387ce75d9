"""Which series a lane of the trends shows, its range and figures, and the spans without readings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.derived import BY_SYMBOL
from analysis.points import POINTS
from analysis.presets import PRESETS, duration, number
from analysis.timeline import Event
from analysis.units import Quantity, from_si, to_si, unit
from logger.desktop.bands import Band
from logger.desktop.gaps import gaps_of, source_word
from logger.desktop.history import History
from logger.desktop.present import Present
from logger.desktop.pyramid import Pyramid

_WANTED = (
    ("pump_current", "compressor_power", "compressor_current", "supply_voltage"),
    ("source_volume_flow", "source_delta_t", "source_pressure_drop", "suction_pressure"),
    (
        "evaporating_temperature",
        "source_leaving_temperature",
        "suction_temperature",
        "condensing_temperature",
    ),
    ("superheat", "subcooling", "discharge_temperature", "load_leaving_temperature"),
)
"""For each lane what is shown if it is there, the first that is."""
LEAST_GAP_ROWS = 3
_LEAST_SPAN = {
    Quantity.TEMPERATURE: 4.0, Quantity.TEMPERATURE_DIFFERENCE: 4.0, Quantity.ABSOLUTE_PRESSURE: 1e5,
}  # fmt: skip
"""A lane stands for at least so much (SI), so that noise does not look like a change."""


@dataclass(frozen=True, slots=True)
class Lane:
    """One lane."""

    symbol: str
    label: str
    quantity: Quantity
    band: Band | None = None
    sign: float = 1.0
    """-1 where the lane shows the quantity turned round, as a rise for an entering-less-leaving value."""
    freezing: bool = False


@dataclass(frozen=True, slots=True)
class Range:
    """What a lane's height stands for (SI)."""

    low: float
    high: float

    def figures(self, quantity: Quantity, present: Present, count: int) -> list[tuple[float, str]]:
        """Give about ``count`` round values with their texts, in the unit shown."""
        name, offset = shown_unit(quantity, present)
        if offset:
            quantity = Quantity.GAUGE_PRESSURE
        low, high = (from_si(quantity, name, v - offset) for v in (self.low, self.high))
        first, last, step = 0, 0, 1.0
        for more in range(count, count + 8):  # one figure alone gives no scale
            step = _round_step((high - low) / max(more, 1))
            first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
            if last > first:
                break
        decimals = max(0, -math.floor(math.log10(step) + 1e-9))
        return [
            (
                to_si(quantity, name, n * step) + offset,
                f"{number(n * step, decimals)} {unit(name, quantity).shown}".rstrip(),
            )
            for n in range(first, last + 1)
        ]


def shown_unit(quantity: Quantity, present: Present) -> tuple[str, float]:
    """Give the unit in which a series is shown, and what is taken off an absolute pressure."""
    if quantity is Quantity.ABSOLUTE_PRESSURE and present.newest is not None:
        return PRESETS[present.preset][Quantity.GAUGE_PRESSURE].unit, present.newest.settings.barometer_pa
    return PRESETS[present.preset][quantity].unit, 0.0


def _round_step(raw: float) -> float:
    """Round a step up to 1, 2 or 5 times a power of ten."""
    if not (raw > 0.0 and math.isfinite(raw)):
        return 1.0
    power = 10.0 ** math.floor(math.log10(raw))
    return next(power * times for times in (1.0, 2.0, 5.0, 10.0) if power * times >= raw * (1 - 1e-9))


def lanes_of(present: Present, history: History, chosen: Sequence[str] = ()) -> list[Lane]:
    """Choose four lanes from what has been recorded."""
    found: list[Lane] = []
    for place, wanted in enumerate(_WANTED):
        names = [chosen[place]] if place < len(chosen) and chosen[place] else list(wanted)
        name = next(
            (n for n in names if n in history.series and n not in {lane.symbol for lane in found}), None
        )
        if name is not None:
            found.append(_lane(name, present))
    return found


def next_lane(present: Present, history: History, chosen: Sequence[str], place: int) -> tuple[str, ...]:
    """Give the lanes' series with the next one in one place; none stands in two lanes."""
    shown = [lane.symbol for lane in lanes_of(present, history, chosen)]
    if place >= len(shown):
        return tuple(shown)
    names = list(history.series)
    begin = names.index(shown[place])
    free = [name for name in names[begin + 1 :] + names[:begin] if name not in shown]
    shown[place] = free[0] if free else shown[place]
    return tuple(shown)


def _lane(name: str, present: Present) -> Lane:
    row = POINTS[name] if name in POINTS else BY_SYMBOL[name]
    label, sign, key = row.label.split(" (")[0], 1.0, name
    source = source_word(present.newest.settings if present.newest is not None else None)
    label = {"pump_current": f"{source} pump", "source_volume_flow": f"{source} flow"}.get(name, label)
    for gap in gaps_of(present.newest):
        if gap.symbol == name:
            label, sign, key = gap.label, gap.sign, gap.key
    return Lane(name, label, row.quantity, present.bands.get(key), sign, name == "evaporating_temperature")


def range_of(
    series: Pyramid, quantity: Quantity, band: Band | None, sign: float = 1.0, freezing: float = math.nan
) -> Range:
    """Give the range of a lane: all that has been recorded, the band and the freezing point."""
    whole = series.view(0, len(series), 64)
    known = [v for v in (*whole.low.tolist(), *whole.high.tolist()) if math.isfinite(v)]
    known = [sign * v for v in known]
    if band is not None:
        known += [limit for limit in (band.low, band.high) if math.isfinite(limit)]
    if math.isfinite(freezing):
        known.append(freezing)
    if not known:
        return Range(0.0, 1.0)
    low, high = min(known), max(known)
    if quantity not in (Quantity.TEMPERATURE, Quantity.ABSOLUTE_PRESSURE) and low >= 0.0:
        low = 0.0
    least = _LEAST_SPAN.get(quantity, 0.1 * abs(high))
    if high - low < least:
        middle = (high + low) / 2.0
        low, high = (0.0, least) if low == 0.0 else (middle - least / 2.0, middle + least / 2.0)
    room = max((high - low) * 0.06, abs(high) * 1e-6, 1e-12)
    return Range(low - (room if low else 0.0), high + room)


def spans_without(
    present: Present, series: Pyramid, name: str, events: Sequence[Event], begin: float, end: float
) -> list[tuple[float, float, str]]:
    """Give the spans of a window in which a series has no readings: begin, end [s] and words.

    Dropouts that the session states are exact; beyond them, rows without a value count once the series has
    begun.
    """
    found: list[tuple[float, float, str]] = []
    newest = present.newest
    if newest is not None:
        points = newest.inputs.get(name, (name,))
        channels = {newest.settings.channel_of.get(point, "") for point in points}
        for event in events:
            if event.kind == "dropout" and event.subject in channels:
                seconds = float(event.text.split(" ")[0])
                at = event.t_us / 1e6
                if at < end and at + seconds > begin:
                    found.append((at, at + seconds, f"no readings for {duration(seconds)}"))
    first, last = max(int(begin), 0), min(math.ceil(end) + 1, len(series))
    blank = ~np.isfinite(series.samples[first:last])
    edges = np.flatnonzero(np.diff(np.concatenate([[False], blank, [False]]).astype(np.int8)))
    started = np.flatnonzero(np.isfinite(series.samples))
    for a, b in zip((edges[::2] + first).tolist(), (edges[1::2] + first).tolist(), strict=True):
        if b - a < LEAST_GAP_ROWS or not started.size or a < started[0]:
            continue
        if not any(left < b and a < right for left, right, _ in found):
            found.append((float(a), float(b), f"no value for {duration(b - a)}"))
    return sorted(found)
