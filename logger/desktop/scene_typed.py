"""The typed view: points on the left, keypad in the middle, and what the entry would mean on the right."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta

from analysis.points import POINTS
from analysis.presets import PRESETS, PresetName, duration, number
from analysis.typed_channels import TypedError, TypedRow, typed_row
from analysis.typed_visit import Gap, Look, TypedVisit, work_out
from analysis.units import Quantity, unit
from logger.desktop.amounts import amount, difference
from logger.desktop.bands import Band, Judged, judge
from logger.desktop.frame_parts import bottom_bar, top_line
from logger.desktop.letters import text_width
from logger.desktop.present import Present
from logger.desktop.scene import (
    Align,
    Box,
    Hatch,
    Path,
    Rect,
    Role,
    Scene,
    Sheet,
    Target,
    Text,
    fitting,
    wrapped,
)  # fmt: skip
from logger.desktop.shapes import colour_of, indicator, rule, slab
from logger.desktop.state_line import StateLine
from logger.typed_form import FORM_POINTS
from logger.typed_sheet import TypedSheet

ON_PAGE = 6
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
_KEYS = ("7", "8", "9", "4", "5", "6", "1", "2", "3", "-", "0", ".")


@dataclass(frozen=True, slots=True)
class TypedPage:
    """Everything that the view is drawn from."""

    sheet: TypedSheet
    point: str = FORM_POINTS[0]
    digits: str = ""
    page: int = 0
    now_s: float = 0.0
    began: datetime = datetime(2026, 1, 1)  # noqa: DTZ001 a wall clock, shown as the person's own
    """Wall clock at t = 0."""


def entry_unit(point: str, preset: PresetName) -> str:
    """Name the unit in which a point is typed; a pressure as its gauge shows it."""
    quantity = POINTS[point].quantity
    quantity = Quantity.GAUGE_PRESSURE if quantity is Quantity.ABSOLUTE_PRESSURE else quantity
    return PRESETS[preset][quantity].unit


def may_be_negative(point: str) -> bool:
    """Whether the minus key makes sense."""
    return POINTS[point].quantity in (Quantity.TEMPERATURE, Quantity.ABSOLUTE_PRESSURE)


def typed_scene(present: Present, page: TypedPage | None) -> Scene:
    """Draw the typed view; outside a typed visit it says how to begin one."""
    sheet = Sheet()
    if page is None:
        line = StateLine("reading", "NO TYPED VISIT", "rows typed by hand make a session of their own")
        top_line(sheet, present, line)
        told = "begin one: evenrun desktop --typed R410A"
        sheet.add(Text(16, 150, told, 18, role=Role.SECOND))
        bottom_bar(sheet, present, "typed")
        return sheet.scene("typed", present.preset)
    _top(sheet, present, page)
    _points(sheet, page)
    _pad(sheet, page, present.preset)
    _preview(sheet, page, present)
    _rows(sheet, page)
    bottom_bar(sheet, present, "typed")
    return sheet.scene("typed", present.preset)


def _top(sheet: Sheet, present: Present, page: TypedPage) -> None:
    rows = len(page.sheet.rows)
    who = f"by {page.sheet.who}, " if page.sheet.who else ""
    line = StateLine(
        "reading", f"TYPED VISIT, {rows} row{'' if rows == 1 else 's'}",
        f"{who}plain gauges: no device, no file, no set-up",
    )  # fmt: skip
    mode = page.sheet.circumstances.mode.upper()
    heading = " · ".join(p for p in (mode, page.sheet.refrigerant or "refrigerant not declared") if p)
    site = "barometer declared" if page.sheet.barometer_text else "standard atmosphere assumed"
    if page.sheet.barometer_text:
        site = f"barometer {page.sheet.barometer_pa / 100:.0f} hPa"
        if present.preset == "us":
            site = f"barometer {page.sheet.barometer_pa / 6894.757:.2f} psia"
    now = page.began + timedelta(seconds=page.now_s)
    top_line(sheet, present, line, (heading, f"{now:%H:%M} · {site}"))


def _points(sheet: Sheet, page: TypedPage) -> None:
    sheet.add(Text(16, 118, "which point?", 18, True))
    pages = -(-len(FORM_POINTS) // ON_PAGE)
    shown = FORM_POINTS[page.page % pages * ON_PAGE :][:ON_PAGE]
    for place, name in enumerate(shown):
        rect = Rect(16, 130 + 82 * place, 268, 76)
        chosen = name == page.point
        sheet.add(Box(rect, Role.KEY, Role.TEXT if chosen else Role.EDGE, 4 if chosen else 2, 5))
        label = fitting(POINTS[name].label, 18, 224, bold=True)
        sheet.add(Text(32, rect.y + 33, label, 18, True, on=Role.KEY))
        last = next((row for row in reversed(page.sheet.rows) if row.point == name), None)
        told = f"last {_shown(last)}" if last is not None else "not typed yet"
        sheet.add(Text(32, rect.y + 60, told, 16, role=Role.SECOND, on=Role.KEY))
        if chosen:
            points = ((262, rect.y + 26), (272, rect.y + 38), (262, rect.y + 50))
            sheet.add(Path(points, Role.TEXT, 4))
        sheet.targets.append(Target(rect, f"typed {name}"))
    rect = Rect(16, 622, 268, 76)
    sheet.add(Box(rect, Role.KEY, Role.EDGE, 2, 5))
    sheet.add(Text(150, 666, "more points", 18, True, align=Align.MIDDLE, on=Role.KEY))
    sheet.targets.append(Target(rect, "typed-page"))


def _shown(row: TypedRow) -> str:
    decimals = len(f"{row.value:g}".partition(".")[2])
    if row.channel.quantity is Quantity.TEMPERATURE:
        decimals = max(decimals, 1)
    return f"{number(row.value, decimals)} {row.channel.si_unit.shown}"


def _pad(sheet: Sheet, page: TypedPage, preset: PresetName) -> None:
    label = fitting(POINTS[page.point].label, 18, 372, bold=True)
    sheet.add(Text(300, 118, label, 18, True))
    sheet.add(Box(Rect(300, 130, 372, 90), Role.GROUND, Role.TEXT, 4, 3))
    digits = page.digits.replace("-", "−")
    sheet.add(Text(320, 197, digits, 64, True))
    x = 320 + text_width(digits, 64, bold=True) + 3
    sheet.add(Path(((x, 150), (x, 204)), Role.TEXT, 3))
    quantity = POINTS[page.point].quantity
    quantity = Quantity.GAUGE_PRESSURE if quantity is Quantity.ABSOLUTE_PRESSURE else quantity
    sign = unit(entry_unit(page.point, preset), quantity).shown
    sheet.add(Text(654, 197, sign, 36 if len(digits) < 5 else 24, True, align=Align.RIGHT))
    for place, key in enumerate(_KEYS):
        rect = Rect(300 + 127 * (place % 3), 230 + 94 * (place // 3), 119, 88)
        sheet.add(Box(rect, Role.KEY, Role.EDGE, 2, 5))
        if key == "-" and not may_be_negative(page.point):
            sheet.add(Hatch(Rect(rect.x + 30, rect.y + 30, 59, 28), name="no value"))
            continue
        word = "−" if key == "-" else key
        sheet.add(Text(rect.x + 59, rect.y + 58, word, 38, True, align=Align.MIDDLE, on=Role.KEY))
        sheet.targets.append(Target(rect, f"key {key}"))
    for rect, word, act, px in (
        (Rect(300, 606, 119, 90), "clear", "key clear", 24),
        (Rect(427, 606, 246, 90), "KEEP", "key keep", 30),
    ):  # fmt: skip
        strong = word == "KEEP"
        sheet.add(Box(rect, Role.KEY, Role.TEXT if strong else Role.EDGE, 4 if strong else 2, 5))
        middle = rect.x + rect.w / 2
        sheet.add(Text(middle, rect.y + 56, word, px, True, align=Align.MIDDLE, on=Role.KEY))
        sheet.targets.append(Target(rect, act))


def _preview(sheet: Sheet, page: TypedPage, present: Present) -> None:
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


def _rows(sheet: Sheet, page: TypedPage) -> None:
    for x, word, align in (
        (700, "typed", Align.LEFT), (774, "point", Align.LEFT), (1060, "value", Align.RIGHT),
        (1137, "age", Align.RIGHT), (1264, "state", Align.RIGHT),
    ):  # fmt: skip
        sheet.add(Text(x, 342, word, 16, role=Role.SECOND, align=align))
    if not page.sheet.rows:
        sheet.add(Text(700, 380, "no rows", 16, role=Role.SECOND))
    looks = page.sheet.result(page.now_s).looks
    for place, (row, look) in enumerate(list(zip(page.sheet.rows, looks, strict=True))[::-1][:7]):
        y = 378.0 + 37.0 * place
        rule(sheet, 700, y - 26, 564)
        clock = page.began + timedelta(seconds=row.t_s)
        age = page.now_s - row.t_s
        sheet.add(Text(700, y, f"{clock:%H:%M}", 16, role=Role.SECOND))
        sheet.add(Text(774, y, fitting(POINTS[row.point].label, 16, 176, bold=True), 16, True))
        sheet.add(Text(1060, y, _shown(row), 16, True, align=Align.RIGHT))
        told = f"{age / 60:.0f} min" if age < 5940 else duration(age)
        sheet.add(Text(1137, y, told, 16, role=Role.SECOND, align=Align.RIGHT))
        repeats = look is Look.REPEATS
        words = look.words if age <= 1200.0 else "too old"
        sheet.add(Text(1264, y, words, 16, repeats, Role.TEXT if repeats else Role.SECOND, Align.RIGHT))
        left = 1264.0 - text_width(words, 16, bold=repeats) - 24.0
        for dy in (-3.0, 3.0) if repeats else (0.0,):
            sheet.add(Path(((left, y - 6 + dy), (left + 16, y - 6 + dy)), Role.TEXT, 3, name="sign"))
    note = "repeats: two rows at least 5 min apart that agree within ± u"
    sheet.add(Text(700, 660, note, 16, role=Role.SECOND))
