"""The transformer of the shorts view: its volts with leads on and lifted tell it from a short after it."""

from __future__ import annotations

import math

from analysis.electrical_transformer import TransformerReadings, TransformerState, TransformerVerdict
from logger.desktop.electrical_page import ElectricalPage
from logger.desktop.electrical_parts import circle, flag, volts_words
from logger.desktop.scene import Align, Path, Rect, Role, Sheet, Target, Text, fitting
from logger.desktop.shapes import dashed_square


def draw_transformer(sheet: Sheet, page: ElectricalPage) -> None:
    """Draw its windings with the three volts, each where it is read."""
    read = page.report.case.transformer or TransformerReadings()
    verdict = page.report.transformer
    sheet.add(Text(16, 200, "Transformer", 18, True))
    sheet.add(Text(150, 200, "read live, if licensed", 16, role=Role.SECOND))
    found = page.report.hunt
    proven = found is not None and found.repair.startswith("proven")
    pulled = verdict is not None and verdict.shorted_downstream and not proven
    dead = verdict is not None and verdict.condemned
    y = 262.0
    sheet.add(Path(((75, y), (168, y)), Role.TEXT, 5, name="wire"))
    for x, way in ((168.0, 1.0), (204.0, -1.0)):
        for place in range(4):
            points = tuple(
                (
                    x + way * 9 * math.sin(math.pi * n / 8),
                    y - 32 + 16 * place + 16 * (n / 8),
                )
                for n in range(9)
            )
            sheet.add(Path(points, Role.TEXT, 3, name="winding"))
    sheet.add(Path(((186, y - 36), (186, y + 36)), Role.TEXT, 2, name="core"))
    sheet.add(Path(((204, y), (330, y)), Role.TEXT, 5, name="wire"))
    sheet.add(Path(((236, y), (236, y + 84), (330, y + 84)), Role.MARK, 2, dashed=True, name="wire"))
    for x, at, volts, label, name, bad in (
        (64.0, y, read.primary, "primary", "primary", False),
        (340.0, y, read.lifted, "leads lifted", "lifted", dead),
        (340.0, y + 84, read.secondary, "leads on", "secondary", pulled),
    ):
        symbol, role = f"transformer {name}", Role.OUT if bad else Role.TEXT
        if math.isnan(volts):
            dashed_square(sheet, x - 9, at - 9, 18, Role.EDGE)
            sheet.add(Text(x, at - 18, "enter", 16, True, align=Align.MIDDLE))
        else:
            words = fitting(volts_words(volts), 24, 118, bold=True)
            sheet.add(Text(x, at - 18, words, 24, True, role, Align.MIDDLE, of=symbol))
            circle(sheet, x, at, 9, role, filled=volts >= 5.0 and not bad, symbol=symbol if bad else "")
        sheet.add(Text(x, at + 27, label, 16, bad, align=Align.MIDDLE))
        rect = Rect(x - 60, at - 42, 120, 76)
        sheet.targets.append(Target(rect, f"electrical point {symbol}"))
    if pulled:
        flag(sheet, 120, y + 72, "PULLED DOWN", "transformer secondary")
    elif dead:
        flag(sheet, 120, y + 72, "GIVES TOO FEW", "transformer lifted")


def transformer_words(verdict: TransformerVerdict | None) -> str:
    """Say in short what its volts mean."""
    if verdict is None:
        return "Its volts tell a dead transformer from one that is pulled down: enter all three."
    if verdict.state is TransformerState.NOT_CONDEMNED:
        return (
            "It gives its volts once its leads are lifted: not condemned. Something after it pulls it down."
        )
    return verdict.statement
