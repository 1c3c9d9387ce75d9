"""The conditions of a fair comparison, above the table and on a page of their own."""

from __future__ import annotations

from analysis.compare import Comparison
from analysis.fairness import Alike, Condition
from analysis.presets import PresetName
from logger.comparison import ShownCondition, shown_conditions
from logger.desktop.letters import text_width
from logger.desktop.scene import Box, Path, Rect, Role, Sheet, Target, Text, fitting
from logger.desktop.shapes import dashed_square, rule

_FAIR_TOP, _FAIR_STEP, _FAIR_WIDTH = 95.0, 29.0, 416.0
_FAIR_LINES = 3
"""Conditions stand in three columns of three lines; a page of their own tells them in full."""


def _conditions(comparison: Comparison, preset: PresetName) -> list[tuple[Condition, ShownCondition]]:
    """Give all conditions, those first that stand in the way."""
    conditions = list(zip(comparison.fairness.conditions, shown_conditions(comparison, preset), strict=True))
    return sorted(conditions, key=lambda pair: (not pair[0].blocks, pair[0].alike is Alike.ALIKE))


def fairness(sheet: Sheet, comparison: Comparison, preset: PresetName) -> None:
    """Draw every condition on one line; a touch tells them in full."""
    conditions = _conditions(comparison, preset)
    columns = max(-(-len(conditions) // _FAIR_LINES), 3)
    width = _FAIR_WIDTH * 3 / columns
    more = False
    for number, (condition, words) in enumerate(conditions):
        column, line = divmod(number, _FAIR_LINES)
        x, y = 16 + width * column, _FAIR_TOP + _FAIR_STEP * line
        _equal(sheet, condition, x, y)
        label = fitting(words.label, 16, width - 60, bold=True)
        sheet.add(Text(x + 36, y + 19, label, 16, True))
        begin = x + 36 + text_width(label, 16, bold=True) + 10
        # Where both are alike the sign says so, and the value need not.
        told = words.text.removesuffix(" both times")
        told, whole = fitting(told, 16, x + width - 20 - begin), told
        more = more or told != whole or bool(words.remark)
        sheet.add(Text(begin, y + 19, told, 16, condition.blocks))
    if more:
        sheet.add(Text(16, 206, "touch for more", 16, role=Role.SECOND))
    sheet.targets.append(Target(Rect(16, 92, 1248, 98), "page"))


def fairness_in_full(sheet: Sheet, comparison: Comparison, preset: PresetName) -> None:
    """Tell every condition with both values, its limit and remark; a touch leads back to the table."""
    conditions = _conditions(comparison, preset)
    sheet.add(Text(16, 122, "fairness: what came to the machine from outside", 20, True))
    step = min(52.0, 540.0 / max(len(conditions), 1))
    for number, (condition, words) in enumerate(conditions):
        y = 140.0 + step * number
        _equal(sheet, condition, 16, y + 6)
        sheet.add(Text(56, y + 24, fitting(words.label, 16, 190, bold=True), 16, True))
        told = fitting(words.text, 16, 1008, bold=condition.blocks)
        sheet.add(Text(256, y + 24, told, 16, condition.blocks))
        if words.remark and step > 44:
            sheet.add(Text(256, y + 44, fitting(words.remark, 16, 1008), 16, role=Role.SECOND))
        rule(sheet, 16, y + step, 1248)
    sheet.add(Text(16, 694, "touch to go back to the table", 16, role=Role.SECOND))
    sheet.targets.append(Target(Rect(16, 96, 1248, 606), "page"))


def _equal(sheet: Sheet, condition: Condition, x: float, y: float) -> None:
    sheet.add(Box(Rect(x, y, 26, 26), Role.GROUND, Role.TEXT, 2))
    if condition.alike is Alike.NOT_KNOWN:
        dashed_square(sheet, x + 7, y + 7, 12, Role.TEXT)
        return
    for dy in (9.0, 17.0):
        sheet.add(Path(((x + 6, y + dy), (x + 20, y + dy)), Role.TEXT, 3, name="sign"))
    if condition.alike is Alike.UNLIKE:
        sheet.add(Path(((x + 7, y + 23), (x + 19, y + 3)), Role.TEXT, 3, name="sign"))
