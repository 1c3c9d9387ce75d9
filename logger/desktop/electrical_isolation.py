"""The person's own entry that the machine is isolated and proven dead; never derived from readings."""

from __future__ import annotations

from analysis.electrical_safety import Isolation
from logger.desktop.electrical_page import ElectricalPage
from logger.desktop.electrical_parts import LINE, caution, key, paragraph
from logger.desktop.scene import Align, Box, Path, Rect, Role, Sheet, Target, Text, fitting
from logger.desktop.shapes import dashed_square
from logger.electrical_tables import IsolationTable, SupplyTable


def isolation_page(sheet: Sheet, page: ElectricalPage) -> None:
    """Draw the statements that a person makes, each by one touch, and what is still lacking."""
    caution(sheet, page.report, Rect(16, 96, 1248, 76))
    held = page.table.isolation or IsolationTable()
    sheet.add(Text(16, 204, "Isolated and proven dead: what you did yourself, one touch each", 18, True))
    when = f"{held.when} by {held.who}" if held.when else "not stated"
    for place, (which, words, told, done) in enumerate(
        (
            ("who", "isolated and locked", when, bool(held.when)),
            ("before", "meter proved before, on a live point", "", held.meter_proved_before),
            ("dead", "no volts at any point to be touched", "", held.proven_dead),
            ("after", "meter proved again after", "", held.meter_proved_after),
            ("supplies", "second supplies", _supplies(held.second_supplies), _safe(held.second_supplies)),
        )
    ):
        rect = Rect(16, 218 + 82 * place, 640, 76)
        sheet.add(Box(rect, Role.KEY, Role.TEXT if done else Role.EDGE, 4 if done else 2, 5))
        x, y = rect.x + 24, rect.y + 26
        if done:
            sheet.add(Path(((x, y + 12), (x + 9, y + 22), (x + 26, y)), Role.TEXT, 5, name="done"))
        else:
            dashed_square(sheet, x, y, 24, Role.EDGE)
        sheet.add(Text(rect.x + 70, rect.y + 45, words, 18, True, on=Role.KEY))
        told = fitting(told or ("yes" if done else "not stated"), 16, 330)
        right = rect.right - 20
        sheet.add(Text(right, rect.y + 45, told, 16, role=Role.SECOND, align=Align.RIGHT, on=Role.KEY))
        sheet.targets.append(Target(rect, f"electrical isolation {which}"))
    isolation = page.report.case.isolation
    lacks = (isolation or Isolation()).lacks()
    title = "Complete: ohms count" if not lacks else "Not complete: no ohms count, everything is live"
    sheet.add(Text(690, 246, title, 18, True))
    y = 270.0
    for words in lacks:
        dashed_square(sheet, 692, y + 2, 14, Role.EDGE)
        y = paragraph(sheet, Rect(718, y, 546, 2 * LINE), words) - 8
    note = (
        "Who locked it keeps the key. Lock and label every supply; a machine without volts at one point may "
        "be live at the next. Capacitors and a pump's own supply keep volts after the disconnect is open."
    )
    paragraph(sheet, Rect(690, 500, 574, 5 * LINE), note, role=Role.SECOND)
    key(sheet, Rect(1014, 626, 250, 76), "BRANCHES", "show them", "show", strong=True)


def _supplies(held: tuple[SupplyTable, ...] | None) -> str:
    if held is None:
        return "not looked for"
    if not held:
        return "looked for: none"
    live = [supply.name for supply in held if not supply.isolated]
    return f"STILL LIVE: {len(live)}" if live else f"isolated: {len(held)}"


def _safe(held: tuple[SupplyTable, ...] | None) -> bool:
    return held is not None and all(supply.isolated for supply in held)
