"""How near the source water came to freezing: levels on one temperature axis, before and after."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.presets import PRESETS, PresetName, number
from analysis.units import Quantity, from_si, unit
from analysis.windows import Stretch

HEIGHT, TOP, FOOT = 196.0, 20.0, 16.0
"""Of the drawing, its axis from ``TOP`` to ``HEIGHT - FOOT`` [px]."""
LABEL_STEP = 14.0


@dataclass(frozen=True, slots=True)
class Level:
    """One temperature as drawn."""

    y: float
    label_y: float
    text: str
    double: bool = False
    """A saturation temperature, which comes from a pressure."""


@dataclass(frozen=True, slots=True)
class Side:
    """One axis as drawn."""

    title: str
    levels: tuple[Level, ...]
    freezes_y: float
    coldest_y: float


@dataclass(frozen=True, slots=True)
class Freezing:
    """The drawing."""

    ticks: tuple[tuple[float, str], ...]
    sides: tuple[Side, ...]
    alt: str
    height: float = HEIGHT
    top: float = TOP


def freezing(sides: Sequence[tuple[str, Stretch]], liquid: str, preset: PresetName) -> Freezing | None:
    """Draw it; None where no side has a freeze margin.

    Parameters
    ----------
    sides
        Title and stretch, before and after or one alone.
    liquid
        What the owner calls the liquid: water or brine.
    """
    found = [(title, temperatures) for title, stretch in sides if (temperatures := _levels(stretch, liquid))]
    if not found:
        return None
    chosen = PRESETS[preset][Quantity.TEMPERATURE].unit
    sign = unit(chosen, Quantity.TEMPERATURE).shown

    def shown(kelvin: float) -> float:
        return float(from_si(Quantity.TEMPERATURE, chosen, kelvin))

    every = [shown(value) for _, levels in found for value, _, _ in levels]
    step = 5.0 if preset == "si" else 10.0
    low, high = min(every) - 0.25 * step, max(every) + 0.25 * step
    scale = (HEIGHT - FOOT - TOP) / (high - low)

    def y_of(value: float) -> float:
        return TOP + (high - value) * scale

    ticks = [n * step for n in range(math.ceil(low / step), math.floor(high / step) + 1)]
    return Freezing(
        tuple((y_of(tick), f"{number(tick, 0)} {sign}") for tick in ticks),
        tuple(_side(title, levels, lambda kelvin: y_of(shown(kelvin))) for title, levels in found),
        "; ".join(
            f"{title}: " + ", ".join(f"{name} at {number(shown(v), 1)} {sign}" for v, name, _ in levels)
            for title, levels in found
        ),
    )


def _levels(stretch: Stretch, liquid: str) -> list[tuple[float, str, bool]]:
    """Give temperature [K], name and whether it comes from a pressure, the warmest first."""
    margin, coldest = (stretch.derived.get(name) for name in ("freeze_margin", "evaporating_temperature"))
    if margin is None or coldest is None or not math.isfinite(margin.value + coldest.value):
        return []
    levels = [
        (mean.value, name, False)
        for point, name in (
            ("source_entering_temperature", f"{liquid} in"),
            ("source_leaving_temperature", f"{liquid} out"),
        )
        if (mean := stretch.points.get(point)) is not None and math.isfinite(mean.value)
    ]
    levels += [(coldest.value, "unit's coldest", True), (coldest.value - margin.value, "freezes", False)]
    return levels


def _side(title: str, levels: Sequence[tuple[float, str, bool]], y_of: object) -> Side:
    assert callable(y_of)
    placed = sorted(((float(y_of(value)), name, double) for value, name, double in levels))
    label_y: list[float] = []
    for y, _, _ in placed:
        label_y.append(max(y, label_y[-1] + LABEL_STEP) if label_y else y)
    # What was pushed below the foot goes up again, and pushes its neighbours.
    room = HEIGHT - 4.0
    for n in range(len(label_y) - 1, -1, -1):
        label_y[n] = min(label_y[n], room)
        room = label_y[n] - LABEL_STEP
    at = {name: y for y, name, _ in placed}
    return Side(
        title,
        tuple(
            Level(y, label, name, double) for (y, name, double), label in zip(placed, label_y, strict=True)
        ),
        at["freezes"],
        at["unit's coldest"],
    )
