"""A motor at the end of its circuit: main winding, and run capacitor in series with the start winding."""

from __future__ import annotations

import math

from analysis.presets import number
from logger.desktop.electrical_page import ElectricalPage
from logger.desktop.electrical_parts import flag, tag, typed_words
from logger.desktop.scene import Align, Box, Path, Rect, Role, Sheet, Target, Text
from logger.desktop.shapes import dashed_square
from logger.electrical_typing import motor_of

_LEFT, _RIGHT, _UPPER, _LOWER = 240.0, 900.0, 386.0, 452.0


def draw_motor(sheet: Sheet, page: ElectricalPage) -> None:
    """Draw the two branches with what was measured on them; a value at fault is coloured and named."""
    typed = motor_of(page.table, page.typed_circuit)
    verdict = page.motor
    supported = verdict.supported if verdict is not None else ()
    weak = "run capacitor" in supported
    sheet.add(Text(16, _UPPER + 4, "the motor", 16, True))
    for y in (_UPPER, _LOWER):
        sheet.add(Path(((_LEFT, y), (_RIGHT, y)), Role.TEXT, 4, name="wire"))
    for x in (_LEFT, _RIGHT):
        sheet.add(Path(((x, _UPPER), (x, _LOWER)), Role.TEXT, 4, name="wire"))
    middle = (_UPPER + _LOWER) / 2
    sheet.add(Path(((_LEFT - 70, middle), (_LEFT, middle)), Role.TEXT, 4, name="wire"))
    sheet.add(Path(((_RIGHT, middle), (_RIGHT + 60, middle)), Role.TEXT, 4, name="wire"))
    for x, y, words in ((520.0, _UPPER, "main winding"), (760.0, _LOWER, "start winding")):
        sheet.add(Box(Rect(x, y - 12, 84, 24), Role.GROUND, Role.TEXT, 3, name="winding"))
        sheet.add(Text(x + 42, y - 18, words, 16, align=Align.MIDDLE))
    role, symbol = (Role.OUT, "motor capacitor") if weak else (Role.TEXT, "")
    sheet.add(Box(Rect(322, _LOWER - 8, 12, 16), Role.GROUND))
    for x in (320.0, 336.0):
        sheet.add(Path(((x, _LOWER - 20), (x, _LOWER + 20)), role, 5, of=symbol, name="capacitor"))
    farad = next((m.capacitance for m in page.report.case.motors if m.name == typed.name), math.nan)
    if math.isfinite(farad):
        words = f"{number(1e6 * farad, 1 if farad < 1e-5 else 0)} µF"
        sheet.add(Text(350, _LOWER - 12, words, 22, True, role, of="motor capacitor"))
    else:
        dashed_square(sheet, 352, _LOWER - 28, 16, Role.EDGE)
    marked = f", marked {typed_words(typed.capacitor_marked)}" if typed.capacitor_marked else ""
    sheet.add(Text(350, _LOWER + 20, f"run capacitor{marked}", 16))
    running = math.isfinite(farad) and not typed.capacitor
    how = "while running, from its volts and amps" if running else "isolated and proven dead, leads off"
    right = tag(sheet, 350, _LOWER + 42, how)
    if weak:
        flag(sheet, 520, _LOWER - 36, "WEAK", "motor capacitor")
    _amps(sheet, typed.amps, typed.rated_amps, middle)
    sheet.targets.append(Target(Rect(300, _LOWER - 34, right - 300, 84), "electrical point motor capacitor"))
    sheet.targets.append(Target(Rect(_RIGHT + 60, _UPPER, 280, 84), "electrical point motor amps"))


def _amps(sheet: Sheet, amps: str, rated: str, y: float) -> None:
    x = _RIGHT + 76
    if amps:
        sheet.add(Text(x, y + 4, typed_words(amps), 24, True, of="motor amps"))
    else:
        dashed_square(sheet, x, y - 12, 16, Role.EDGE)
    told = f"card: {typed_words(rated)}" if rated else "amps on its card not entered"
    sheet.add(Text(x, y + 32, told if amps or rated else "amps not measured", 16, role=Role.SECOND))
