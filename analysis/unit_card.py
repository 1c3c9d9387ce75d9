"""The unit card: plate data, limits and tables of one machine, each with its source.

Built from :class:`analysis.card_file.CardFile`; a value that cannot be read is refused by its key path.
What can be read and is doubtful all the same is found by :mod:`analysis.card_checks`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from analysis.card_file import CardFile, LimitTable, PerformanceTable
from analysis.card_file import PressureDropTable as WrittenDrops
from analysis.card_quantities import CARD_QUANTITIES
from analysis.liquids import Liquid, LiquidError, parse_liquid
from analysis.pressure_drop import PressureDropError, PressureDropTable
from analysis.refrigerants import RefusedRefrigerant, UnknownRefrigerant, canonical_name
from analysis.units import Quantity, UnitError, parse_amount

_Parsed = TypeVar("_Parsed")
VALVE, ORIFICE, NOT_KNOWN = "expansion valve", "fixed orifice", "not known"


class CardError(ValueError):
    """A value of the card cannot be read; the text is one sentence with the key path and the way out."""


@dataclass(frozen=True, slots=True)
class Band:
    """Where one quantity belongs (SI); NaN where there is no limit on that side."""

    symbol: str
    low: float = math.nan
    high: float = math.nan
    act_below: float = math.nan
    act_above: float = math.nan
    mode: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Performance:
    """Stated capacity and power over the entering source temperature (SI)."""

    mode: str
    flow: float
    load_entering: float
    source_entering: tuple[float, ...]
    capacity: tuple[float, ...]
    power: tuple[float, ...]
    cop: tuple[float, ...]
    source: str


@dataclass(frozen=True, slots=True)
class CutOut:
    """The low-temperature cut-out."""

    setting: float
    """[K]"""
    at: str
    source: str


@dataclass(frozen=True, slots=True)
class UnitCard:
    """One machine (SI)."""

    title: str
    kind: str
    refrigerant: str
    """Canonical name, or as written where its curve is loaded from a table."""
    charge: float
    """[kg]; NaN where the plate is silent."""
    metering: dict[str, str]
    """Mode to ``expansion valve``, ``fixed orifice`` or ``not known``."""
    receiver: bool
    loop: str
    source_liquid: Liquid
    load_liquid: Liquid | None
    water_regulating_valve: bool
    variable_speed_pump: bool
    variable_speed_compressor: bool
    circuits: int
    pump_capacitor: float
    """[F]; NaN where not stated."""
    cut_out: CutOut | None
    bands: tuple[Band, ...]
    drops: PressureDropTable | None
    performance: tuple[Performance, ...]
    supply: float
    """Rated voltage [V]; NaN where the plate is silent."""

    def band(self, symbol: str, mode: str = "") -> Band | None:
        """Give the band of a quantity in a mode; one stated for the mode goes before one for both.

        Examples
        --------
        >>> unit_card(EXAMPLE).band("superheat", "heating").high
        9.0
        """
        fitting = [band for band in self.bands if band.symbol == symbol and band.mode in ("", mode)]
        return max(fitting, key=lambda band: bool(band.mode), default=None)


def unit_card(written: CardFile) -> UnitCard:
    """Read every value of a written card.

    Parameters
    ----------
    written
        The card's TOML, already checked for its keys.

    Raises
    ------
    CardError
        At the first value that cannot be read.
    """
    side, source = written.source_side, "source_side"
    cut_out = written.low_temperature_cut_out
    return UnitCard(
        title=written.unit.title,
        kind=written.unit.kind,
        refrigerant=_refrigerant(written.refrigerant.name),
        charge=_amount(written.refrigerant.charge, "refrigerant.charge", Quantity.MASS),
        metering={"heating": written.metering.heating, "cooling": written.metering.cooling},
        receiver=written.metering.receiver,
        loop=side.loop,
        source_liquid=_at(f"{source}.fluid", parse_liquid, side.fluid),
        load_liquid=None
        if written.load_side is None
        else _at("load_side.fluid", parse_liquid, written.load_side.fluid),
        water_regulating_valve=side.water_regulating_valve,
        variable_speed_pump=side.variable_speed_pump,
        variable_speed_compressor=written.unit.variable_speed_compressor,
        circuits=written.unit.circuits,
        pump_capacitor=_amount(side.pump_capacitor, f"{source}.pump_capacitor", Quantity.CAPACITANCE),
        cut_out=None
        if cut_out is None
        else CutOut(
            _amount(cut_out.setting, "low_temperature_cut_out.setting", Quantity.TEMPERATURE),
            cut_out.at,
            cut_out.source,
        ),
        bands=tuple(_band(limit, f"limit[{n}]") for n, limit in enumerate(written.limit, 1)),
        drops=None if written.pressure_drop is None else _drops(written.pressure_drop),
        performance=tuple(
            _performance(table, f"performance[{n}]") for n, table in enumerate(written.performance, 1)
        ),
        supply=_amount(written.unit.supply, "unit.supply", Quantity.VOLTAGE),
    )


def _at(path: str, parse: Callable[[str], _Parsed], text: str) -> _Parsed:
    try:
        return parse(text)
    except (UnitError, LiquidError) as refused:
        raise CardError(f"'{path}': {refused}") from None


def _amount(text: str, path: str, quantity: Quantity) -> float:
    return _at(path, lambda given: parse_amount(given, quantity).si, text) if text else math.nan


def _amounts(texts: Sequence[str], path: str, quantity: Quantity) -> tuple[float, ...]:
    return tuple(_amount(text or "?", f"{path}[{n}]", quantity) for n, text in enumerate(texts, 1))


def _refrigerant(name: str) -> str:
    try:
        return canonical_name(name)
    except RefusedRefrigerant:
        return name  # judged with the person's own pressure-temperature table
    except UnknownRefrigerant as unknown:
        raise CardError(f"'refrigerant.name': {unknown}") from None


def _band(limit: LimitTable, path: str) -> Band:
    known = CARD_QUANTITIES.get(limit.symbol)
    if known is None:
        raise CardError(
            f"'{path}.symbol': '{limit.symbol}' has no band; known are {', '.join(CARD_QUANTITIES)}."
        )
    ends = {name: getattr(limit, name) for name in ("low", "high", "act_below", "act_above")}
    if not any(ends.values()):
        raise CardError(f"'{path}': give at least one of low, high, act_below and act_above.")
    values = {name: _amount(text, f"{path}.{name}", known.quantity) for name, text in ends.items()}
    return Band(limit.symbol, mode=limit.mode, source=limit.source, **values)


def _drops(written: WrittenDrops) -> PressureDropTable:
    path = "pressure_drop"
    try:
        return PressureDropTable(
            _amounts(written.flows, f"{path}.flows", Quantity.VOLUME_FLOW),
            _amounts(written.temperatures, f"{path}.temperatures", Quantity.TEMPERATURE),
            tuple(
                _amounts(row, f"{path}.drops[{n}]", Quantity.PRESSURE_DIFFERENCE)
                for n, row in enumerate(written.drops, 1)
            ),
            _at(f"{path}.fluid", parse_liquid, written.fluid),
            source=written.source,
        )
    except PressureDropError as refused:
        raise CardError(f"'{path}': {refused}") from None


def _performance(table: PerformanceTable, path: str) -> Performance:
    columns = (table.source_entering, table.capacity, table.power)
    if len({len(column) for column in columns}) != 1 or not table.source_entering:
        raise CardError(f"'{path}': source_entering, capacity and power need one value per column each.")
    if table.cop and len(table.cop) != len(table.power):
        raise CardError(f"'{path}.cop': give one value per column, or leave it out.")
    return Performance(
        table.mode,
        _amount(table.flow, f"{path}.flow", Quantity.VOLUME_FLOW),
        _amount(table.load_entering, f"{path}.load_entering", Quantity.TEMPERATURE),
        _amounts(table.source_entering, f"{path}.source_entering", Quantity.TEMPERATURE),
        _amounts(table.capacity, f"{path}.capacity", Quantity.HEAT_RATE),
        _amounts(table.power, f"{path}.power", Quantity.POWER),
        table.cop,
        table.source,
    )


def _example() -> CardFile:
    from analysis import card_file as write

    return write.CardFile(
        unit=write.UnitTable(title="example", kind="water to water", source="plate"),
        refrigerant=write.RefrigerantTable(name="R410A", source="plate"),
        metering=write.MeteringTable(heating="expansion valve", source="seen"),
        source_side=write.SourceSideTable(loop="open", fluid="water", source="seen"),
        limit=(write.LimitTable(symbol="superheat", low="4 K", high="9 K", source="example"),),
    )


EXAMPLE = _example()
"""The smallest card, for examples."""
