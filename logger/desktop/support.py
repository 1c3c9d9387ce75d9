"""The panel "What the readings support", with the acts that come next under their safe conditions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from logger.desktop.letters import text_width
from logger.desktop.present import Present
from logger.desktop.scene import Box, Path, Rect, Role, Sheet, Text, wrapped
from logger.desktop.shapes import dashed_square, rule
from logger.desktop.state_line import act_now

CONDITIONS = ("while running", "stopped", "isolated and proven dead", "pressure relieved")
"""Conditions in which an act is safe, in the fixed order in which they are shown; never mixed."""
_X, _W = 952.0, 312.0


@dataclass(frozen=True, slots=True)
class Entry:
    """One finding as the panel shows it."""

    strength: str
    statement: str
    evidence_for: tuple[str, ...] = ()
    against: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Support:
    """Everything the panel shows."""

    entries: tuple[Entry, ...]
    acts: tuple[tuple[str, str], ...] = ()
    """Condition, and the act that is safe in it."""

    def __post_init__(self) -> None:
        for condition, act in self.acts:
            if condition not in CONDITIONS:
                raise ValueError(f"the act '{act}' carries no safe condition")


NO_FINDINGS = Support(
    (Entry("not judged", "No findings yet", (), (), ("findings are not worked out in this view",)),)
)


def support_panel(sheet: Sheet, present: Present, support: Support | None) -> None:
    """Draw the panel with Next at its foot."""
    support = support or NO_FINDINGS
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
        needed = _height(entry)
        if y + needed > foot - 12:
            more = len(support.entries) - number
            sheet.add(
                Text(
                    _X, min(y, foot - 14), f"and {more} more: see Report", 16, role=Role.SECOND, on=Role.PANEL
                )
            )
            break
        if number:
            rule(sheet, _X, y - 18, _W)
        y = _entry(sheet, entry, y)


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
    return 24.0 * len(heading) + 20.0 * sum(len(lines) for *_, lines in _lines(entry)) + 36.0


def _entry(sheet: Sheet, entry: Entry, y: float) -> float:
    sheet.add(Text(_X, y, entry.strength, 16, role=Role.SECOND, on=Role.PANEL))
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
    height = sum(26.0 + 21.0 * len(found) for _, found in groups) + 14
    top = 702 - height
    sheet.add(Box(Rect(936, top, 344, height), Role.FOOT))
    rule(sheet, 936, top, 344, Role.TEXT)
    y = top + 24
    for number, (condition, found) in enumerate(groups):
        word = f"Next, {condition}" if not number else condition
        width = text_width(word, 16, bold=True) + 12
        sheet.add(Box(Rect(_X - 6, y - 17, width, 23), edge=Role.EDGE, px=1.5, radius=3, name="condition"))
        sheet.add(Text(_X, y, word, 16, True, on=Role.FOOT))
        y += 24
        for act in found:
            sheet.add(Box(Rect(_X + 2, y - 9, 5, 5), Role.TEXT))
            sheet.add(Text(_X + 14, y, wrapped(act, 16, _W - 14, lines=1)[0], 16, on=Role.FOOT))
            y += 21
        y += 2
    return top
