"""What an entry would mean if it were kept: its gap with uncertainty and band, between its two levels."""

from __future__ import annotations

import math

from analysis.points import POINTS
from analysis.presets import PresetName
from analysis.typed_channels import TypedError, TypedRow, typed_row
from analysis.typed_visit import Gap, TypedVisit, work_out
from analysis.units import Quantity
from logger.desktop.amounts import amount, difference
from logger.desktop.bands import Band, Judged, judge
from logger.desktop.letters import text_width
from logger.desktop.present import Present
from logger.desktop.scene import (
    Align,
    Hatch,
    Path,
    Rect,
    Role,
    Sheet,
    Text,
    fitting,
    wrapped,
)  # fmt: skip
from logger.desktop.shapes import colour_of, indicator, rule, slab
from logger.desktop.typed_page import TypedPage, entry_unit

_GAP_OF = {
    "suction_pressure": "superheat", "suction_temperature": "superheat", "discharge_pressure": "subcooling",
    "liquid_temperature": "subcooling", "source_entering_temperature": "source_delta_t",
    "source_leaving_temperature": "source_delta_t", "source_pressure_drop": "source_volume_flow",
    "source_flow": "source_volume_flow", "load_entering_temperature": "load_delta_t",
    "load_leaving_temperature": "load_delta_t",
}  # fmt: skip
_LEVELS = {
    "superheat": ("suction_temperature", "evaporating_temperature"),
    "subcooling": ("condensing_temperature", "liquid_temperature"),
    "source_delta_t": ("source_entering_temperature", "source_leaving_temperature"),
    "load_delta_t": ("load_entering_temperature", "load_leaving_temperature"),
}
_NAMES = {"evaporating_temperature": "evaporating", "condensing_temperature": "condensing"}


def preview(sheet: Sheet, page: TypedPage, present: Present) -> None:
    """Say what the entry would mean if it were kept."""
    sheet.add(Text(700, 118, "if kept" if page.digits else "as typed so far", 18, True))
    if page.sheet.refrigerant:
        told = f"{page.sheet.refrigerant}, dew and bubble lines"
        sheet.add(Text(1264, 118, told, 16, role=Role.SECOND, align=Align.RIGHT))
    found, refused, row = _if_kept(page, present.preset)
    symbol = _GAP_OF.get(page.point, "")
    gap = found.gap(symbol) if symbol else None
    if refused:
        for place, line in enumerate(wrapped(refused, 16, 560)[:4]):
            sheet.add(Text(700, 160 + 22 * place, line, 16))
    elif gap is None or not math.isfinite(gap.value):
        _nothing(sheet, found, symbol)
    else:
        _gap(sheet, found, gap, present)
    if row is not None and not refused:
        told = _promise(row, present.preset)
        sheet.add(Text(700, 300, fitting(told, 16, 564), 16, role=Role.SECOND))
    rule(sheet, 700, 318, 564)


def _promise(row: TypedRow, preset: PresetName) -> str:
    """Say what is taken as the instrument's error bound, and whether that is assumed."""
    how, _, what = row.channel.source.partition(": ")
    bound = 2.0 * row.channel.standard_uncertainty(row.value) * row.channel.si_unit.factor
    instrument = what.split(" ±")[0].split(",")[0].split(" of ")[0]
    shown = difference(row.channel.quantity, bound, preset, up=True)
    return f"{how}: {instrument} ± {shown.text}; evenrun typed takes other instruments"


def _if_kept(page: TypedPage, preset: PresetName) -> tuple[TypedVisit, str, TypedRow | None]:
    sheet = page.sheet
    rows, refused, row = list(sheet.rows), "", None
    if page.digits.strip("-."):
        text = f"{page.digits} {entry_unit(page.point, preset)}"
        try:
            row = typed_row(page.now_s, page.point, text, sheet.instruments, sheet.who)
            rows.append(row)
        except TypedError as error:
            refused = str(error)
            if preset == "us" and " is outside of " in refused:
                refused = f"{refused.split(' is outside of ')[0]} is outside of its range; type it again."
    found = work_out(rows, page.now_s, sheet.circumstances, barometer_pa=sheet.barometer_pa)
    return found, refused, row


def _nothing(sheet: Sheet, found: TypedVisit, symbol: str) -> None:
    words = "this point makes no gap"
    if symbol:
        lacks = [
            POINTS[n.split(" or ")[0]].label
            for n in found.missing.get(symbol, ())
            if n.split(" or ")[0] in POINTS
        ]
        undeclared = [
            n.replace("_", " ")
            for n in found.missing.get(symbol, ())
            if n in ("refrigerant", "source_liquid")
        ]
        name = symbol.replace("_", " ")
        words = f"{name} needs: {', '.join(lacks + undeclared)}" if lacks or undeclared else f"no {name} yet"
    sheet.add(Hatch(Rect(700, 150, 190, 100), step=14, name="no value"))
    sheet.add(Text(902, 190, "NO VALUE", 18, True))
    for place, line in enumerate(wrapped(words, 16, 350)[:3]):
        sheet.add(Text(902, 216 + 20 * place, line, 16, role=Role.SECOND))


def _gap(sheet: Sheet, found: TypedVisit, gap: Gap, present: Present) -> None:
    pair = _LEVELS.get(gap.symbol)
    preset, expanded = present.preset, 2.0 * gap.u
    key = {"source_delta_t": "source_change", "load_delta_t": "load_change"}.get(gap.symbol, gap.symbol)
    band: Band | None = present.bands.get(key)
    judged = judge(gap.value, expanded, band, may_be_judged=gap.judged)
    difference_of = gap.quantity is Quantity.TEMPERATURE_DIFFERENCE
    shown = (difference if difference_of else amount)(gap.quantity, gap.value, preset)
    if pair is not None:
        for name, y in zip(pair, (152.0, 262.0), strict=True):
            _level(sheet, found, name, y, preset)
        sheet.add(Path(((716, 158), (716, 256)), colour_of(judged, Role.EDGE), 3, name="bracket"))
    role = colour_of(judged)
    px = 64 if text_width(shown.number, 64, bold=True) <= 124 else 44
    sheet.add(Text(734, 230, shown.number, px, True, role, of=gap.symbol))
    after = 734 + text_width(shown.number, px, bold=True) + 5
    sheet.add(Text(after, 230, shown.unit, 20, True, role, of=gap.symbol))
    name = gap.label.split(" (")[0]
    sheet.add(Text(902, 190, fitting(name, 18, 180, bold=True), 18, True))
    u = f"± {(difference(gap.quantity, expanded, preset, up=True)).text}"
    words = fitting(gap.words if judged in (Judged.NO_BAND, Judged.NOT_JUDGED) else judged.value, 16, 260)
    if not judged.abnormal:
        sheet.add(Text(902, 214, words, 16, role=Role.SECOND, of=gap.symbol))
    sheet.add(Text(902, 238, u, 16, True, of=gap.symbol))
    indicator(sheet, Rect(1090, 200, 170, 26), gap.value, expanded, band, judged, gap.symbol)
    if judged.abnormal:
        slab(sheet, 1090, 226, judged, gap.symbol, under=judged is Judged.LOW, tall=False)


def _level(sheet: Sheet, found: TypedVisit, name: str, y: float, preset: PresetName) -> None:
    known = found.present.get(name)
    derived = found.gap(name)
    t = known.value if known is not None else derived.value if derived is not None else math.nan
    if name in _NAMES:
        for dy in (-4.0, 4.0):
            sheet.add(Path(((700, y + dy), (890, y + dy)), Role.TEXT, 3, name="level"))
    else:
        sheet.add(Path(((700, y), (890, y)), Role.TEXT, 5, name="level"))
    label = _NAMES.get(name) or POINTS[name].label
    shown = amount(Quantity.TEMPERATURE, t, preset).text if math.isfinite(t) else "no value"
    sheet.add(Text(902, y + 6, f"{label} {shown}", 16, role=Role.SECOND))
