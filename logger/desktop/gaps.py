"""Which levels and gaps the levels view shows in each mode, and what the technician calls them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from analysis.analyser import Results
    from analysis.settings import Settings

LevelKind = Literal["water", "air", "line", "saturation", "freezing"]
Side = Literal["left", "right"]


@dataclass(frozen=True, slots=True)
class Level:
    """A temperature on the axis."""

    key: str
    """Measuring point or derived value; ``freezing_point`` for the fluid's own."""
    label: str
    kind: LevelKind
    side: Side
    pressure: str = ""
    """The measuring point whose pressure a saturation comes from."""


@dataclass(frozen=True, slots=True)
class Gap:
    """The distance between two levels, always counted positive in normal running."""

    key: str
    """Symbol of the unit card."""
    label: str
    symbol: str
    """Derived value that it is."""
    sign: float
    upper: str
    lower: str
    moving: str
    """The level whose allowed place is drawn."""
    place: Literal["left", "right", "rail", "freezing"]


def source_word(held: Settings | None) -> str:
    """Say what flows on the source side: brine where it is not plain water."""
    if held is None or held.source_liquid is None or held.source_liquid.name == "water":
        return "source"
    return "brine"


def on_air(newest: Results | None) -> bool:
    """Whether the load side is air."""
    return newest is not None and any(
        name in newest.points for name in ("return_air_temperature", "supply_air_temperature")
    )


def mode_of(newest: Results | None) -> str:
    """Give the declared mode; heating's layout where none is declared."""
    return newest.settings.mode if newest is not None and newest.settings.mode else "heating"


def levels_of(newest: Results | None) -> tuple[Level, ...]:
    """Name the levels of the present mode, whether fitted or not."""
    source = source_word(newest.settings if newest is not None else None)
    if on_air(newest):
        load = (
            Level("return_air_temperature", "return air", "air", "left"),
            Level("supply_air_temperature", "supply air", "air", "left"),
        )
    else:
        load = (
            Level("load_leaving_temperature", "load out", "water", "left"),
            Level("load_entering_temperature", "load in", "water", "left"),
        )
    high = "liquid_pressure" if newest and "liquid_pressure" in newest.points else "discharge_pressure"
    return (
        *load,
        Level("source_entering_temperature", f"{source} in", "water", "left"),
        Level("source_leaving_temperature", f"{source} out", "water", "left"),
        Level("freezing_point", "freeze point", "freezing", "left"),
        Level("discharge_temperature", "discharge", "line", "right"),
        Level("condensing_temperature", "condensing", "saturation", "right", high),
        Level("liquid_temperature", "liquid", "line", "right"),
        Level("suction_temperature", "suction", "line", "right"),
        Level("evaporating_temperature", "evaporating", "saturation", "right", "suction_pressure"),
    )


def gaps_of(newest: Results | None) -> tuple[Gap, ...]:
    """Name the six gaps of the present mode: three of the water's side, three of the refrigerant's."""
    source = source_word(newest.settings if newest is not None else None)
    source_in, source_out = "source_entering_temperature", "source_leaving_temperature"
    air = on_air(newest)
    load_in = "return_air_temperature" if air else "load_entering_temperature"
    load_out = "supply_air_temperature" if air else "load_leaving_temperature"
    load_symbol, load_word = ("air_delta_t", "air") if air else ("load_delta_t", "load")
    refrigerant = (
        Gap("subcooling", "subcooling", "subcooling", 1.0, "condensing_temperature",
            "liquid_temperature", "liquid_temperature", "right"),
        Gap("superheat", "superheat", "superheat", 1.0, "suction_temperature",
            "evaporating_temperature", "suction_temperature", "right"),
        Gap("freeze_margin", "freeze margin", "freeze_margin", 1.0, "evaporating_temperature",
            "freezing_point", "", "freezing"),
    )  # fmt: skip
    if mode_of(newest) == "cooling":
        water = (
            Gap("condensing_approach", "condensing approach", "condensing_approach", 1.0,
                "condensing_temperature", source_out, "condensing_temperature", "rail"),
            Gap("source_change", f"{source} rise", "source_delta_t", -1.0, source_out, source_in,
                source_out, "left"),
            Gap("load_change", f"{load_word} drop", load_symbol, 1.0, load_in, load_out,
                load_out, "left"),
        )  # fmt: skip
    else:
        water = (
            Gap("load_change", f"{load_word} rise", load_symbol, -1.0, load_out, load_in,
                load_out, "left"),
            Gap("source_change", f"{source} drop", "source_delta_t", 1.0, source_in, source_out,
                source_out, "left"),
            Gap("evaporating_approach", "approach", "evaporating_approach", 1.0, source_out,
                "evaporating_temperature", "evaporating_temperature", "rail"),
        )  # fmt: skip
    return (*water, *refrigerant)
