"""The strip below the axis: flow with its route, heat on both sides, power, pump current."""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.derived import BY_SYMBOL
from analysis.points import POINTS
from analysis.units import Quantity
from analysis.verdict import State
from logger.desktop.amounts import amount, difference, shorter
from logger.desktop.bands import Band, Judged
from logger.desktop.gaps import on_air, source_word
from logger.desktop.letters import text_width
from logger.desktop.present import Present
from logger.desktop.scene import Hatch, Rect, Role, Sheet, Text, fitting
from logger.desktop.shapes import colour_of, rule, slab

_LEFT, _RIGHT = 16.0, 928.0
_GAP = 3.0
_HEAT_ROOM = 188.0
_ROOM = {
    "source_volume_flow": 249.0, "compressor_power": 112.0, "pump_current": 175.0,
    "source_pressure_drop": 186.0,
}  # fmt: skip
"""Room for each entry, whatever its value: nothing moves because a value has changed. Four figures, their
unit and the words "not judged" have room in each that is judged."""


@dataclass(frozen=True, slots=True)
class _Entry:
    symbol: str
    label: str
    judged_by_card: bool = False


def entries_of(present: Present) -> list[_Entry]:
    """Name what stands in the strip: only what is fitted, in an order that does not change."""
    newest = present.newest
    if newest is None:
        return []
    source = source_word(newest.settings)
    route = "from pressure drop"
    if newest.inputs.get("source_volume_flow", ("",))[0] == "source_flow":
        route = "by meter"
    load = "air" if on_air(newest) else "load"
    wanted = [
        _Entry("source_volume_flow", f"{source} flow, {route}", True),
        _Entry("heat_from_source", f"heat from {source}"),
        _Entry("heat_to_source", f"heat to {source}"),
        _Entry("heat_to_load", f"heat to {load}"),
        _Entry("heat_from_load", f"heat from {load}"),
        _Entry("compressor_power", "compressor"),
        _Entry("pump_current", f"{source} pump", True),
    ]
    if "pump_current" not in newest.points:
        wanted.append(_Entry("source_pressure_drop", "coil water drop", True))
    return [entry for entry in wanted if entry.symbol in newest.derived or entry.symbol in newest.points]


def strip(sheet: Sheet, present: Present) -> None:
    """Draw it, 912 px wide at y 646."""
    rule(sheet, _LEFT, 646, _RIGHT - _LEFT)
    entries = entries_of(present)
    if not entries:
        words = "flow, heat, power and pump current stand here once their points are fitted"
        sheet.add(Text(_LEFT, 676, words, 16, role=Role.SECOND))
        return
    widths = [_ROOM.get(entry.symbol, _HEAT_ROOM) for entry in entries]
    spare = max(_RIGHT - _LEFT - sum(widths), 0.0) / max(len(entries), 1)
    x = _LEFT
    for entry, width in zip(entries, widths, strict=True):
        _draw(sheet, present, entry, x, width + spare - _GAP)
        x += width + spare


def _quantity(symbol: str) -> Quantity:
    return BY_SYMBOL[symbol].quantity if symbol in BY_SYMBOL else POINTS[symbol].quantity


def _parts(present: Present, entry: _Entry) -> tuple[str, str, str]:
    """Give number, unit and what stands behind them."""
    value, u = present.value(entry.symbol), present.expanded(entry.symbol)
    if not math.isfinite(value):
        return "", "", present.why_missing(entry.symbol)
    quantity = _quantity(entry.symbol)
    shown = shorter(amount(quantity, value, present.preset, u), 4)
    judged = _judged(present, entry)
    if judged.abnormal:
        return shown.number, shown.unit, ""
    if entry.judged_by_card and present.bands.get(entry.symbol):
        return shown.number, shown.unit, judged.value
    if entry.symbol in BY_SYMBOL and _settling(present, entry.symbol):
        return shown.number, shown.unit, "not judged"
    told = f"± {difference(quantity, u, present.preset, up=True).number}" if math.isfinite(u) else ""
    return shown.number, shown.unit, told


def _settling(present: Present, symbol: str) -> bool:
    assert present.newest is not None, "an entry needs results"
    standing = present.newest.judgement.results.get(symbol)
    if standing is None or not standing.state.size:
        return False
    return State(int(standing.state[-1])) not in (State.STEADY, State.AT_ONCE)


def _judged(present: Present, entry: _Entry) -> Judged:
    return present.judged.get(entry.symbol, Judged.NOT_JUDGED) if entry.judged_by_card else Judged.NOT_JUDGED


def _draw(sheet: Sheet, present: Present, entry: _Entry, x: float, width: float) -> None:
    number, unit, behind = _parts(present, entry)
    judged = _judged(present, entry)
    role, end = colour_of(judged), x + width
    sheet.add(Text(x, 670, fitting(entry.label, 16, width), 16, role=Role.SECOND))
    if not number:
        sheet.add(Hatch(Rect(x, 680, min(width, 60), 22), step=8, name="no value"))
        sheet.add(Text(x + 66, 698, fitting(behind, 16, max(width - 66, 40)), 16, role=Role.SECOND))
        return
    sheet.add(Text(x, 700, number, 28, True, role, of=entry.symbol))
    x += text_width(number, 28, bold=True) + 5
    sheet.add(Text(x, 700, unit, 18, True, role, of=entry.symbol))
    x += text_width(unit, 18, bold=True) + 6
    if judged.abnormal:
        band: Band | None = present.bands.get(entry.symbol)
        under = judged is Judged.LOW or (band is not None and present.value(entry.symbol) < band.act_below)
        slab(sheet, x, 680, judged, entry.symbol, under=under, tall=False)
    elif behind and x + text_width(behind, 16) <= end:
        sheet.add(Text(x, 700, behind, 16, role=Role.SECOND, of=entry.symbol))
