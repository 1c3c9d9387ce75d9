"""The typed view: points on the left, keypad in the middle, and what the entry would mean on the right."""

from __future__ import annotations

from datetime import timedelta

from analysis.points import POINTS
from analysis.presets import PresetName, duration, number
from analysis.typed_channels import TypedRow
from analysis.typed_visit import Look
from analysis.units import Quantity, unit
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
)  # fmt: skip
from logger.desktop.shapes import rule
from logger.desktop.state_line import StateLine
from logger.desktop.typed_page import TypedPage, entry_unit, may_be_negative
from logger.desktop.typed_preview import preview
from logger.typed_form import FORM_POINTS

ON_PAGE = 6
_KEYS = ("7", "8", "9", "4", "5", "6", "1", "2", "3", "-", "0", ".")


def typed_scene(present: Present, page: TypedPage | None) -> Scene:
    """Draw the typed view; outside a typed visit it says how to begin one."""
    sheet = Sheet()
    if page is None:
        line = StateLine("reading", "NO TYPED VISIT", "rows typed by hand make a session of their own")
        top_line(sheet, present, line)
        told = "begin one with plain gauges on Devices, or: evenrun desktop --typed R410A"
        sheet.add(Text(16, 150, told, 18, role=Role.SECOND))
        bottom_bar(sheet, present, "typed")
        return sheet.scene("typed", present.preset)
    _top(sheet, present, page)
    _points(sheet, page)
    _pad(sheet, page, present.preset)
    preview(sheet, page, present)
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
