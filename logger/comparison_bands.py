"""Values against the unit card's bands, for the compare table and the pages."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analysis.band_standing import CARD_NAME, Judged, Standing, judge
from analysis.compare import Change, Comparison, Verdict
from analysis.derived import BY_SYMBOL
from analysis.points import POINTS
from analysis.presets import PresetName
from analysis.settings import Settings
from analysis.unit_card import Band, UnitCard
from analysis.units import Quantity
from analysis.windows import Mean, Stretch
from logger.shown_values import plain, shown_value

THIRD = 1.0 / 3.0
"""The band fills the middle third of its track, so that in a column every healthy value stands alike."""


@dataclass(frozen=True, slots=True)
class Place:
    """A value on its track."""

    x: float
    """0 to 1, the band lying from one third to two thirds."""
    beyond: int = 0
    """-1 or 1 where it lies beyond the end of the track."""


@dataclass(frozen=True, slots=True)
class BandRow:
    """One quantity with a band."""

    symbol: str
    label: str
    values: tuple[str, ...]
    """As shown, as found and as left, or the one."""
    standings: tuple[Standing, ...]
    places: tuple[Place | None, ...]
    limits: str
    source: str
    open_low: bool
    open_high: bool
    """Where the band has no end on that side."""


def band_rows(stretches: Sequence[Stretch], card: UnitCard, preset: PresetName) -> list[BandRow]:
    """Hold what the stretches have against the card; quantities without a band are left out.

    Parameters
    ----------
    stretches
        As found and as left, or one alone.
    """
    rows = []
    mode = stretches[-1].settings.mode
    for symbol in (*BY_SYMBOL, *POINTS):
        means = [stretch.derived.get(symbol) or stretch.points.get(symbol) for stretch in stretches]
        band = card.band(CARD_NAME.get(symbol, symbol), mode)
        if band is None or not any(mean is not None and math.isfinite(mean.value) for mean in means):
            continue
        row = BY_SYMBOL[symbol] if symbol in BY_SYMBOL else POINTS[symbol]
        held = stretches[-1].settings
        values = [_value(symbol, mean) for mean in means]
        rows.append(
            BandRow(
                symbol,
                row.label,
                tuple(shown_value(symbol, row.quantity, value, held, preset) for value in values),
                tuple(
                    judge(card, symbol, mode, value, mean.u if mean else math.nan).standing
                    for value, mean in zip(values, means, strict=True)
                ),
                tuple(_place(value, band) for value in values),
                limits_text(symbol, row.quantity, band, held, preset),
                plain(band.source),
                not math.isfinite(band.low),
                not math.isfinite(band.high),
            )
        )
    return rows


def _value(symbol: str, mean: Mean | None) -> float:
    if mean is None:
        return math.nan
    return abs(mean.value) if symbol in CARD_NAME else mean.value


def _place(value: float, band: Band) -> Place | None:
    """Place a value, ``x = 1/3 + (v - lo) / (hi - lo) / 3``; a band with one end is as wide as that end."""
    if not math.isfinite(value):
        return None
    low = band.low if math.isfinite(band.low) else band.act_below
    high = band.high if math.isfinite(band.high) else band.act_above
    known = [end for end in (low, high) if math.isfinite(end)]
    if not known:
        return None
    width = high - low if len(known) == 2 else max(abs(known[0]), 1e-9)
    if math.isfinite(low):
        x = THIRD + (value - low) / width * THIRD
    else:
        x = 2.0 * THIRD + (value - high) / width * THIRD
    return Place(min(max(x, 0.04), 0.96), -1 if x < 0.04 else 1 if x > 0.96 else 0)


def limits_text(symbol: str, quantity: Quantity, band: Band, held: Settings, preset: PresetName) -> str:
    """Write the limits of a band with their unit."""

    def shown(value: float) -> str:
        return shown_value(symbol, quantity, value, held, preset)

    low, high = math.isfinite(band.low), math.isfinite(band.high)
    parts = []
    if low and high:
        parts.append(f"{shown(band.low)} to {shown(band.high)}")
    elif low or high:
        parts.append(f"{shown(band.low)} or more" if low else f"{shown(band.high)} or less")
    parts += [f"ACT below {shown(band.act_below)}"] if math.isfinite(band.act_below) else []
    parts += [f"ACT above {shown(band.act_above)}"] if math.isfinite(band.act_above) else []
    return ", ".join(parts)


def judged_changes(comparison: Comparison, card: UnitCard) -> Mapping[str, tuple[Judged, Judged]]:
    """Judge each compared quantity, as found and as left."""
    mode = comparison.mode
    return {
        change.symbol: (
            judge(card, change.symbol, mode, change.as_found.value, change.as_found.u),
            judge(card, change.symbol, mode, change.as_left.value, change.as_left.u),
        )
        for change in comparison.changes
    }


def as_left_is(change: Change, judged: Judged) -> str:
    """Say in a word how as left stands: to its band, or where there is none to as found."""
    if judged.standing is not Standing.NO_BAND:
        return judged.standing.value
    if change.verdict is Verdict.NOT_SHOWN:
        return "unchanged"
    if change.verdict is Verdict.NOT_COMPARABLE:
        return ""
    return "higher" if change.difference > 0.0 else "lower"


def band_facts(comparison: Comparison, card: UnitCard) -> dict[str, object]:
    """Give bands and standings as plain values (SI)."""
    facts: dict[str, object] = {}
    for symbol, (found, left) in judged_changes(comparison, card).items():
        band = left.band or found.band
        if band is not None:
            ends = {name: getattr(band, name) for name in ("low", "high", "act_below", "act_above")}
            facts[symbol] = {
                **{name: value if math.isfinite(value) else None for name, value in ends.items()},
                "source": band.source,
                "as_found": found.standing.value,
                "as_left": left.standing.value,
            }
    return facts
