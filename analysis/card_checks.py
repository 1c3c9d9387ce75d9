"""What is doubtful on a unit card though it can be read: order, range, printed arithmetic, freezing."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from analysis.card_fault import CardFault
from analysis.card_quantities import CARD_QUANTITIES
from analysis.card_tables import between_tables, power_doubts
from analysis.presets import show
from analysis.unit_card import Band, Performance, UnitCard
from analysis.units import Quantity

ARITHMETIC = 0.03
"""A printed COP further than this from capacity over power is a slip; tables round to 1 or 2 % (our choice,
after eight makers' tables whose COP agrees within 0.4 %)."""
MOST_COP = 12.0
CUT_OUT_MARGIN = 0.0
"""A cut-out below the freezing point of the liquid lets ice form before it opens [K]."""


def check_card(card: UnitCard) -> list[CardFault]:
    """Find everything that is doubtful on a card.

    Examples
    --------
    >>> from analysis.unit_card import EXAMPLE, unit_card
    >>> check_card(unit_card(EXAMPLE))
    []
    """
    faults: list[CardFault] = []
    for number, band in enumerate(card.bands, 1):
        faults += [CardFault(f"limit[{number}]", sentence) for sentence in _of_band(band)]
    faults += _twice(card)
    if card.drops is not None:
        faults += [
            CardFault("pressure_drop", f"{doubt}: look for a misread figure.")
            for doubt in card.drops.doubts()
        ]
        faults += _flow_outside(card)
    for number, table in enumerate(card.performance, 1):
        faults += [CardFault(f"performance[{number}]", sentence) for sentence in _of_performance(table)]
    faults += between_tables(card.performance)
    faults += _cut_out(card)
    if not 1 <= card.circuits <= 8:
        faults.append(CardFault("unit.circuits", f"{card.circuits} circuits: give 1 to 8."))
    if not (math.isnan(card.charge) or 0.05 <= card.charge <= 500.0):
        faults.append(CardFault("refrigerant.charge", f"{card.charge:g} kg is no charge: see the plate."))
    return faults


def _of_band(band: Band) -> Iterator[str]:
    known = CARD_QUANTITIES[band.symbol]
    ordered = [
        ("act_below", band.act_below), ("low", band.low), ("high", band.high), ("act_above", band.act_above),
    ]  # fmt: skip
    stated = [(name, value) for name, value in ordered if math.isfinite(value)]
    for (one, lower), (other, upper) in pairwise(stated):
        if lower > upper or (lower == upper and {one, other} == {"low", "high"}):
            yield (
                f"{known.label}: {one} {show(known.quantity, lower)} is not below {other} "
                f"{show(known.quantity, upper)}: were they exchanged?"
            )
    for name, value in stated:
        if not known.least <= value <= known.most:
            yield (
                f"{known.label}: {name} {show(known.quantity, value)} lies outside "
                f"{show(known.quantity, known.least)} to {show(known.quantity, known.most)}: wrong unit?"
            )


def _twice(card: UnitCard) -> Iterator[CardFault]:
    seen: set[tuple[str, str]] = set()
    for number, band in enumerate(card.bands, 1):
        if (band.symbol, band.mode) in seen:
            yield CardFault(
                f"limit[{number}]", f"{band.symbol} has two bands for the same mode: keep one of them."
            )
        seen.add((band.symbol, band.mode))


def _flow_outside(card: UnitCard) -> Iterator[CardFault]:
    band = card.band("source_volume_flow")
    assert card.drops is not None
    lowest, highest = card.drops.flows[0], card.drops.flows[-1]
    for value in () if band is None else (band.low, band.high):
        if math.isfinite(value) and not lowest <= value <= highest:
            yield CardFault(
                "pressure_drop.flows",
                f"the band's {show(Quantity.VOLUME_FLOW, value)} lies outside the table, so a flow there "
                "cannot be read from it: add the row or correct the unit.",
            )


def _of_performance(table: Performance) -> Iterator[str]:
    for earlier, later in pairwise(table.source_entering):
        if later <= earlier:
            yield "the entering temperatures must rise: look for a misread one."
    better = 1.0 if table.mode == "heating" else -1.0  # warm source: more heat delivered, less heat rejected
    for place, (earlier, later) in enumerate(pairwise(table.capacity), 1):
        if better * (later - earlier) <= 0.0:
            yield (
                f"capacity goes from {earlier / 1e3:.2f} to {later / 1e3:.2f} kW between columns {place} and "
                f"{place + 1}, against the sense of {table.mode}: look for a misread figure."
            )
    yield from power_doubts(table)
    for place, (capacity, power) in enumerate(zip(table.capacity, table.power, strict=True), 1):
        if not (capacity > 0.0 and power > 0.0):
            yield f"column {place}: capacity and power must be above zero."
            continue
        cop = capacity / power
        if not 1.0 < cop <= MOST_COP:
            yield f"column {place}: capacity over power is {cop:.2f}, which no machine shows: wrong unit?"
        if table.cop and abs(table.cop[place - 1] / cop - 1.0) > ARITHMETIC:
            yield (
                f"column {place}: COP is printed as {table.cop[place - 1]:g}, "
                f"but capacity over power is {cop:.2f}: one of the three is a slip."
            )


def _cut_out(card: UnitCard) -> Iterator[CardFault]:
    """Hold the cut-out against the liquid's freezing point (safety: a frozen coil bursts)."""
    if card.cut_out is None:
        return
    freezing = card.source_liquid.freezing_point
    if card.cut_out.setting < freezing - CUT_OUT_MARGIN:
        yield CardFault(
            "low_temperature_cut_out.setting",
            f"it opens at {show(Quantity.TEMPERATURE, card.cut_out.setting)}, below "
            f"{show(Quantity.TEMPERATURE, freezing)} where {card.source_liquid.text} begins to freeze: "
            "the coil can burst before it opens; ask the maker for the setting that belongs to this liquid.",
        )
    coldest = _coldest_healthy(card)
    if card.cut_out.setting > coldest:
        opens, down = (show(Quantity.TEMPERATURE, t) for t in (card.cut_out.setting, coldest))
        yield CardFault(
            "low_temperature_cut_out.setting",
            f"it opens at {opens}, and by this card the machine in good order comes down to {down} there: it "
            "would stop for nothing; is it still set for another liquid?",
        )


def _coldest_healthy(card: UnitCard) -> float:
    """Give how cold it becomes where the cut-out feels, in good order; endless if the card does not say [K].

    The coldest source water of the performance tables, less the middle of the band of its change, less (at
    the refrigerant) the middle of the band of the approach.
    """
    assert card.cut_out is not None
    entering = [t for table in card.performance if table.mode == "heating" for t in table.source_entering]
    steps = ["source_change"]
    if card.cut_out.at == "evaporating temperature":
        steps.append("evaporating_approach")
    bands = [card.band(name, "heating") for name in steps]
    if not entering:
        return math.inf
    down = sum(math.nan if band is None else (band.low + band.high) / 2.0 for band in bands)
    return min(entering) - down if math.isfinite(down) else math.inf
