"""Which call blew the fuse: the branches that all blowing calls energise, and no holding one, remain."""

from __future__ import annotations

from logger.desktop.electrical_page import ElectricalPage
from logger.desktop.electrical_parts import LINE, caution, key, paragraph, tag
from logger.desktop.electrical_visit import BRANCHES_ON_PAGE, CALLS_SHOWN
from logger.desktop.scene import Align, Box, Path, Rect, Role, Sheet, Target, Text, fitting, wrapped
from logger.desktop.shapes import dashed_square
from logger.electrical_keeping import calls_of
from logger.electrical_typing import hunt_of

_LEFT, _WIDE, _TOP, _PITCH = 16.0, 172.0, 262.0, 82.0


def calls_page(sheet: Sheet, page: ElectricalPage) -> None:
    """Draw a row for each call: what the fuse did, and which branches the call energises."""
    caution(sheet, page.report, Rect(16, 96, 1248, 76))
    hunt = hunt_of(page.table)
    first = page.branches_first * BRANCHES_ON_PAGE
    branches = hunt.branch[first:][:BRANCHES_ON_PAGE]
    sheet.add(Text(16, 206, "Fuse tries: which call blew it?", 18, True))
    told = "the wiring diagram says what a call energises; a trial is live work, and costs a right-sized fuse"
    sheet.add(Text(330, 206, fitting(told, 16, 934), 16, role=Role.SECOND))
    sheet.add(Text(_x(1) + 8, 248, "the fuse", 16, True))
    for place, branch in enumerate(branches):
        lines = wrapped(branch.name, 16, _WIDE - 16, bold=True, lines=2)
        for row, line in enumerate(lines):
            sheet.add(Text(_x(place + 2) + 8, 248 - 18 * (len(lines) - 1 - row), line, 16, True))
    tried = {call.name: call for call in hunt.call}
    for place, name in enumerate(calls_of(page.table)[:CALLS_SHOWN]):
        y, call = _TOP + _PITCH * place, tried.get(name)
        if place == page.call:
            sheet.add(Path(((16, y + 26), (24, y + 38), (16, y + 50)), Role.TEXT, 4, name="chosen"))
        sheet.add(Text(32, y + 45, fitting(name, 18, _WIDE - 28, bold=True), 18, True))
        did = "not tried" if call is None else "BLEW" if call.blew else "held"
        _cell(sheet, Rect(_x(1), y, _WIDE - 8, 76), did, f"calls {place}", strong=call is not None)
        for column, branch in enumerate(branches):
            rect = Rect(_x(column + 2), y, _WIDE - 8, 76)
            on = call is not None and branch.name in call.branches
            if call is None:
                sheet.add(Box(rect, edge=Role.EDGE, px=2, dashed=True, name="not tried"))
                continue
            word = "energised" if on else "not"
            _cell(sheet, rect, word, f"calls {place} {first + column}", strong=on)
    _remains(sheet, page)
    if len(hunt.branch) > BRANCHES_ON_PAGE:
        key(sheet, Rect(856, 626, 150, 76), "more", "branches", "branches")
    key(sheet, Rect(1014, 626, 250, 76), "BRANCHES", "show them", "show", strong=True)


def _x(column: int) -> float:
    return _LEFT + (_WIDE + 6.0) * column


def _cell(sheet: Sheet, rect: Rect, word: str, act: str, *, strong: bool) -> None:
    sheet.add(Box(rect, Role.KEY, Role.TEXT if strong else Role.EDGE, 4 if strong else 2, 5))
    role = Role.TEXT if strong else Role.SECOND
    middle = rect.x + rect.w / 2
    sheet.add(Text(middle, rect.y + 45, word, 18, strong, role, Align.MIDDLE, on=Role.KEY))
    sheet.targets.append(Target(rect, f"electrical {act}"))


def _remains(sheet: Sheet, page: ElectricalPage) -> None:
    """Say what remains suspect; nothing is told from a call of which nobody said what it energises."""
    calls, found = page.report.case.calls, page.report.elimination
    unsaid = [call.name for call in calls if not call.branches]
    y = 608.0
    if not calls or found is None:
        told = "no call was tried: nothing is told"
    elif unsaid:
        dashed_square(sheet, 16, y + 3, 14, Role.EDGE)
        sheet.add(Text(40, y + 16, fitting(f"not said: what {', '.join(unsaid)} energises", 16, 800), 16))
        return
    else:
        told = found.statement
    y = paragraph(sheet, Rect(16, y, 830, 2 * LINE), told[:1].upper() + told[1:], bold=True)
    if found is not None and found.cleared and calls:
        y = paragraph(sheet, Rect(16, y - 16, 830, LINE), f"cleared: {', '.join(found.cleared)}")
    if found is not None and found.suspects:
        right = tag(sheet, 16, y + 6, "isolated and proven dead")
        sheet.add(Text(right + 12, y + 6, "lift these branches at both ends and measure them first", 16))
