"""The panel "What the readings support", with the acts that come next under their safe conditions."""

from __future__ import annotations

from collections.abc import Sequence

from logger.desktop.letters import text_width
from logger.desktop.present import Present
from logger.desktop.scene import Box, Path, Rect, Role, Sheet, Text, fitting, wrapped
from logger.desktop.shapes import dashed_square, rule
from logger.desktop.state_line import act_now
from logger.desktop.support_words import CONDITIONS, NOT_JUDGED, Entry

_X, _W = 952.0, 312.0


def support_panel(sheet: Sheet, present: Present) -> None:
    """Draw the panel with Next at its foot."""
    support = present.support or NOT_JUDGED
    acts = list(support.acts)
    if act_now(present):
        acts.insert(0, ("while running", "be ready to stop the unit"))
    if present.newest is None:
        acts = [("while running", "open Devices, or type a value")]
    sheet.add(Box(Rect(936, 96, 344, 606), Role.PANEL))
    sheet.add(Text(_X, 122, "What the readings support", 18, True, on=Role.PANEL))
    rule(sheet, _X, 132, _W)
    foot = _next(sheet, acts)
    y = 154.0
    for number, entry in enumerate(support.entries):
        more = len(support.entries) - number
        limit = foot - (6 if more == 1 else 26)
        short = y + _height(entry) > limit
        if short and y + _short_height(entry) > limit:
            told = f"and {more} more: evenrun findings"
            sheet.add(Text(_X, min(y, foot - 10), told, 16, role=Role.SECOND, on=Role.PANEL))
            break
        if number:
            rule(sheet, _X, y - 18, _W)
        y = _short_entry(sheet, entry, y) if short else _entry(sheet, entry, y)


def _short_height(entry: Entry) -> float:
    return 20.0 + 18.0 * len(wrapped(entry.statement, 16, _W, bold=True, lines=2))


def _short_entry(sheet: Sheet, entry: Entry, y: float) -> float:
    """Name a finding without its evidence, where there is no room for that."""
    sheet.add(Text(_X, y, fitting(entry.strength, 16, _W), 16, role=Role.SECOND, on=Role.PANEL))
    y += 20
    for line in wrapped(entry.statement, 16, _W, bold=True, lines=2):
        sheet.add(Text(_X, y, line, 16, True, on=Role.PANEL))
        y += 18
    return y + 22


def _lines(entry: Entry) -> list[tuple[str, str, list[str]]]:
    """Give word, sign and broken lines of all evidence."""
    found = []
    for word, sign, texts in (
        ("for", "+", entry.evidence_for),
        ("against", "-", entry.against),
        ("missing", "?", entry.missing),
    ):
        for number, text in enumerate(texts):
            found.append(("" if number else word, sign, wrapped(text, 16, _X + _W - 1044, lines=2)))
    return found


def _height(entry: Entry) -> float:
    heading = wrapped(entry.statement, 20, _W, bold=True, lines=2)
    return 24.0 * len(heading) + 20.0 * sum(len(lines) for *_, lines in _lines(entry)) + 26.0


def _entry(sheet: Sheet, entry: Entry, y: float) -> float:
    sheet.add(Text(_X, y, fitting(entry.strength, 16, _W), 16, role=Role.SECOND, on=Role.PANEL))
    y += 24
    for line in wrapped(entry.statement, 20, _W, bold=True, lines=2):
        sheet.add(Text(_X, y, line, 20, True, on=Role.PANEL))
        y += 24
    for word, sign, lines in _lines(entry):
        if word:
            sheet.add(Text(_X, y, word, 16, role=Role.SECOND, on=Role.PANEL))
        _sign(sheet, sign, 1024, y - 6)
        for line in lines:
            sheet.add(Text(1044, y, line, 16, on=Role.PANEL))
            y += 20
    return y + 20


def _sign(sheet: Sheet, sign: str, x: float, y: float) -> None:
    if sign == "?":
        dashed_square(sheet, x + 1, y - 6, 11, Role.TEXT)
        return
    sheet.add(Path(((x, y), (x + 12, y)), Role.TEXT, 3, name="sign"))
    if sign == "+":
        sheet.add(Path(((x + 6, y - 6), (x + 6, y + 6)), Role.TEXT, 3, name="sign"))


def _next(sheet: Sheet, acts: Sequence[tuple[str, str]]) -> float:
    """Draw the acts at the foot; gives the foot's upper edge."""
    groups = [(c, [act for condition, act in acts if condition == c]) for c in CONDITIONS]
    groups = [(condition, found) for condition, found in groups if found]
    if not groups:
        height = 58.0
        top = 702 - height
        sheet.add(Box(Rect(936, top, 344, height), Role.FOOT))
        rule(sheet, 936, top, 344, Role.TEXT)
        sheet.add(Text(_X, top + 24, "Next", 16, True, on=Role.FOOT))
        sheet.add(Text(_X, top + 46, "nothing is advised", 16, role=Role.SECOND, on=Role.FOOT))
        return top
    broken = [(condition, [wrapped(act, 16, _W - 14) for act in found]) for condition, found in groups]
    height = 14.0 + sum(26.0 + sum(6.0 + 18.0 * len(lines) for lines in found) for _, found in broken)
    top = 702 - height
    sheet.add(Box(Rect(936, top, 344, height), Role.FOOT))
    rule(sheet, 936, top, 344, Role.TEXT)
    y = top + 24
    for number, (condition, found) in enumerate(broken):
        word = f"Next, {condition}" if not number else condition
        width = text_width(word, 16, bold=True) + 12
        sheet.add(Box(Rect(_X - 6, y - 17, width, 23), edge=Role.EDGE, px=1.5, radius=3, name="condition"))
        sheet.add(Text(_X, y, word, 16, True, on=Role.FOOT))
        y += 22
        for lines in found:
            sheet.add(Box(Rect(_X + 2, y - 9, 5, 5), Role.TEXT))
            for line in lines:
                sheet.add(Text(_X + 14, y, line, 16, on=Role.FOOT))
                y += 18
            y += 6
        y += 4
    return top
