"""The panel beside the trends: values at the moment shown, how to read, flags, and the window's length."""

from __future__ import annotations

import math
from collections.abc import Sequence

from analysis.points import POINTS
from analysis.presets import duration
from logger.desktop.amounts import amount, point_amount
from logger.desktop.lanes import Lane
from logger.desktop.letters import text_width
from logger.desktop.present import Present
from logger.desktop.scene import Align, Box, Hatch, Path, Rect, Role, Sheet, Target, Text, fitting
from logger.desktop.shapes import rule

_X, _W = 952.0, 312.0
SPANS = ((0.0, "whole"), (3600.0, "1 h"), (900.0, "15 min"))


def side_panel(sheet: Sheet, present: Present, lanes: Sequence[Lane], span_s: float) -> None:
    """Draw it."""
    sheet.add(Box(Rect(936, 96, 344, 606), Role.PANEL))
    sheet.add(Text(_X, 122, f"At {duration(present.elapsed_us / 1e6)}", 20, True, on=Role.PANEL))
    rule(sheet, _X, 136, _W)
    y = 162.0
    for lane in lanes:
        _value(sheet, present, lane, y)
        y += 28
    rule(sheet, _X, y - 12, _W)
    y = _legend(sheet, y + 14)
    rule(sheet, _X, y - 10, _W)
    _marks(sheet, present, y + 16, 604.0)
    x = _X - 8
    for seconds, word in SPANS:
        rect = Rect(x, 618, 104, 76)
        chosen = seconds == span_s
        sheet.add(Box(rect, Role.KEY, Role.TEXT if chosen else Role.EDGE, 4 if chosen else 2, 5))
        sheet.add(Text(x + 52, 662, word, 20, True, align=Align.MIDDLE, on=Role.KEY))
        sheet.targets.append(Target(rect, f"zoom {seconds:g}"))
        x += 112


def _value(sheet: Sheet, present: Present, lane: Lane, y: float) -> None:
    value = present.value(lane.symbol)
    sheet.add(Text(_X, y, fitting(lane.label, 16, 190), 16, on=Role.PANEL))
    if not math.isfinite(value):
        sheet.add(Hatch(Rect(_X + _W - 90, y - 13, 90, 16), step=7, name="no value"))
        return
    if lane.symbol in POINTS and present.newest is not None:
        held = present.newest.settings
        shown = point_amount(lane.symbol, value, held.barometer_pa, present.preset)
    else:
        shown = amount(lane.quantity, lane.sign * value, present.preset)
    sheet.add(Text(_X + _W, y, shown.text, 18, True, align=Align.RIGHT, on=Role.PANEL, of=lane.symbol))


def _legend(sheet: Sheet, y: float) -> float:
    sheet.add(Text(_X, y, "How to read", 16, True, on=Role.PANEL))
    x, w = _X, 44.0
    y += 28
    sheet.add(Box(Rect(x, y - 12, w, 13), Role.MARK))
    sheet.add(Path(((x, y - 5.5), (x + w, y - 5.5)), Role.TEXT, 3))
    sheet.add(Text(x + 58, y, "mean, lowest to highest", 16, on=Role.PANEL))
    y += 26
    sheet.add(Box(Rect(x, y - 12, w, 13), Role.BAND))
    for edge in (y - 12, y + 1):
        sheet.add(Path(((x, edge), (x + w, edge)), Role.EDGE, 1, dashed=True))
    sheet.add(Text(x + 58, y, "allowed band", 16, on=Role.PANEL))
    y += 26
    sheet.add(Hatch(Rect(x, y - 13, w, 15), step=8))
    sheet.add(Text(x + 58, y, "no readings", 16, on=Role.PANEL))
    return y + 24


def _marks(sheet: Sheet, present: Present, y: float, bottom: float) -> None:
    if not present.marks:
        sheet.add(Text(_X, y, "no flags yet: MARK NOW sets one", 16, role=Role.SECOND, on=Role.PANEL))
        return
    room = int((bottom - y) // 26) + 1
    for mark in present.marks[-room:]:
        w = max(text_width(str(mark.number), 16, bold=True) + 12, 24)
        sheet.add(Box(Rect(_X, y - 16, w, 21), Role.TEXT, name="flag"))
        sheet.add(Text(_X + w / 2, y, str(mark.number), 16, True, Role.GROUND, Align.MIDDLE, Role.TEXT))
        words = f"{duration(mark.t_us / 1e6)} {mark.text}".strip()
        sheet.add(Text(_X + w + 10, y, fitting(words, 16, _W - w - 10), 16, on=Role.PANEL))
        y += 26
