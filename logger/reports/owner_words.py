"""What the owner's page calls a quantity, and which of them it shows."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.band_standing import Standing, judge
from analysis.derived import BY_SYMBOL
from analysis.points import POINTS
from analysis.presets import PresetName, show
from analysis.unit_card import Band, UnitCard
from analysis.units import Quantity
from analysis.windows import Mean, Stretch
from logger.shown_values import shown_change, shown_uncertainty, shown_value

MOST_ROWS = 7
_UNSIGNED = frozenset({"source_delta_t", "load_delta_t", "air_delta_t"})
_ROWS: dict[str, tuple[tuple[str, str], ...]] = {
    "heating": (
        ("source_volume_flow", "{liquid} through the unit"),
        ("source_delta_t", "{liquid} cools by"),
        ("heat_to_load", "heat to your {load}"),
        ("cop", "heat per unit of electricity"),
        ("subcooling", "refrigerant, as subcooling"),
        ("compressor_power", "electricity, compressor"),
        ("pump_current", "pump current"),
        ("superheat", "superheat"),
    ),
    "cooling": (
        ("source_volume_flow", "{liquid} through the unit"),
        ("source_delta_t", "{liquid} warms by"),
        ("air_delta_t", "your air cools by"),
        ("heat_from_load", "heat from your {load}"),
        ("condensing_approach", "coil hotter than the {liquid} by"),
        ("subcooling", "refrigerant, as subcooling"),
        ("compressor_power", "electricity, compressor"),
        ("pump_current", "pump current"),
        ("superheat", "superheat"),
    ),
}


@dataclass(frozen=True, slots=True)
class Cell:
    """One value for the owner."""

    text: str
    out: str = ""
    """``up`` or ``down`` where it lies above or below its band."""
    said: str = ""
    """The same in words, for those who do not see the sign."""


@dataclass(frozen=True, slots=True)
class Row:
    """One quantity, before and after."""

    label: str
    cells: tuple[Cell, ...]


def liquid_word(stretch: Stretch) -> str:
    """Call the source liquid what the owner calls it."""
    liquid = stretch.settings.source_liquid
    return "water" if liquid is None or liquid.name == "water" else "brine"


def quantity_of(symbol: str) -> Quantity:
    """Give the quantity of a derived value or measuring point."""
    return BY_SYMBOL[symbol].quantity if symbol in BY_SYMBOL else POINTS[symbol].quantity


def mean_of(stretch: Stretch, symbol: str) -> Mean | None:
    """Give a derived value or measuring point of a stretch; None where it has no value."""
    mean = stretch.derived.get(symbol) or stretch.points.get(symbol)
    return mean if mean is not None and mean.value == mean.value else None


def owner_rows(stretches: Sequence[Stretch], card: UnitCard | None, preset: PresetName) -> list[Row]:
    """Choose up to seven quantities that the sessions have, and write them."""
    mode = stretches[-1].settings.mode
    words = {"liquid": liquid_word(stretches[-1]), "load": "floor or tank" if _wet(stretches[-1]) else "air"}
    rows = [
        Row(label.format(**words), tuple(_cell(symbol, stretch, card, preset) for stretch in stretches))
        for symbol, label in _ROWS.get(mode, ())
        if any(mean_of(stretch, symbol) is not None for stretch in stretches)
    ]
    return rows[:MOST_ROWS]


def _wet(stretch: Stretch) -> bool:
    return "load_entering_temperature" in stretch.points


def _cell(symbol: str, stretch: Stretch, card: UnitCard | None, preset: PresetName) -> Cell:
    mean = mean_of(stretch, symbol)
    if mean is None:
        return Cell("not measured")
    value = abs(mean.value) if symbol in _UNSIGNED else mean.value
    judged = judge(card, symbol, stretch.settings.mode, value, mean.u)
    out, said = "", ""
    if stretch.steady and judged.standing.out:
        out, said = ("down", "below its limit") if judged.below else ("up", "above its limit")
    return Cell(_value_and_u(symbol, value, mean, stretch, preset)[0], out, said)


def _value_and_u(
    symbol: str, value: float, mean: Mean, stretch: Stretch, preset: PresetName
) -> tuple[str, str]:
    """Write value and expanded uncertainty; heat no finer than a twentieth of that uncertainty."""
    quantity = quantity_of(symbol)
    if quantity is Quantity.HEAT_RATE and math.isfinite(mean.u) and mean.u > 0.0:
        text, _, u = shown_change(quantity, value, 2.0 * mean.u, preset).removeprefix("+").partition(" ± ")
        return f"{text} {u.partition(' ')[2]}", u
    shown = shown_value(symbol, quantity, value, stretch.settings, preset)
    return shown, shown_uncertainty(symbol, quantity, mean, preset).removeprefix("± ")


def with_uncertainty(symbol: str, stretch: Stretch, preset: PresetName) -> str:
    """Write a value with its expanded uncertainty; blank where there is none."""
    mean = mean_of(stretch, symbol)
    if mean is None:
        return ""
    return " ± ".join(_value_and_u(symbol, mean.value, mean, stretch, preset))


@dataclass(frozen=True, slots=True)
class Margin:
    """The freeze margin under its axis."""

    text: str
    u: str
    word: str
    """``TOO LOW`` where it lies below the card's limit."""


def margin_of(stretch: Stretch, card: UnitCard | None, preset: PresetName) -> Margin | None:
    """Write the freeze margin of a stretch; None where it has none."""
    mean = mean_of(stretch, "freeze_margin")
    if mean is None:
        return None
    quantity = quantity_of("freeze_margin")
    judged = judge(card, "freeze_margin", stretch.settings.mode, mean.value, mean.u)
    word = {Standing.LOW: "TOO LOW", Standing.ACT: "TOO LOW", Standing.NEAR_LIMIT: "near limit"}
    return Margin(
        show(quantity, mean.value, preset),
        shown_uncertainty("freeze_margin", quantity, mean, preset),
        word.get(judged.standing, "") if stretch.steady else "not judged",
    )


def good_margin(card: UnitCard | None, mode: str, preset: PresetName) -> str:
    """Say from when on a freeze margin is good, where the card says so."""
    band: Band | None = card.band("freeze_margin", mode) if card is not None else None
    if band is None or band.low != band.low:
        return "no limit on a unit card"
    return f"good: {show(Quantity.TEMPERATURE_DIFFERENCE, band.low, preset)} or more"
