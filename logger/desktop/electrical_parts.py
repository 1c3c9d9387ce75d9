"""Shapes that the electrical view and the shorts view share: cautions, acts by condition, keys, amounts."""

from __future__ import annotations

import math
from collections.abc import Sequence

from analysis.electrical_safety import by_condition
from analysis.finding_acts import Act
from analysis.presets import number
from logger.desktop.electrical_page import ElectricalPage
from logger.desktop.letters import text_width
from logger.desktop.present import Present
from logger.desktop.scene import Align, Box, Flag, Path, Rect, Role, Sheet, Target, Text, fitting, wrapped
from logger.desktop.shapes import dashed_square
from logger.electrical_report import ElectricalReport
from logger.electrical_typing import shown_unit

LINE = 21.0
_CAUTIONS = (
    "Live work only by those licensed for it; local codes decide. Prove the meter before and after.",
    "Discharge capacitors. Look for second supplies before anything counts as dead.",
    "A USB or RS-485 lead that is not isolated must not touch a live circuit, ever.",
)
_SPARK = "The refrigerant may burn, or is not known: ventilate, use a detector, make no spark."


def right_words(present: Present, page: ElectricalPage) -> tuple[str, str]:
    """Say for the top line which machine it is, who typed, and where that is kept."""
    title = (page.table.title or present.title).split(":")[0]
    typed = bool(page.table.circuit or page.table.transformer or page.table.short_hunt or page.table.motor)
    who = f"by {page.table.technician}" if page.table.technician else "with a meter"
    return title, fitting(f"typed {who} · {page.kept}" if typed else page.kept, 18, 384)


def caution(sheet: Sheet, report: ElectricalReport, rect: Rect) -> None:
    """Draw the framed caution that stands before the first value on every page."""
    told = list(_CAUTIONS)
    if any(known.code == "ignition" for known in report.cautions):
        told.append(_SPARK)
    if rect.w > 900.0:
        sheet.add(Text(rect.x + 14, rect.y + 24, "Before the first value", 16, True))
        x, room = rect.x + 214, rect.w - 228
        lines = wrapped(" ".join(told), 16, room)
        y = rect.y + 24
    else:
        x, room = rect.x + 14, rect.w - 28
        sheet.add(Text(x, rect.y + 24, "Before the first value", 16, True))
        lines = wrapped(" ".join(told), 16, room)
        y = rect.y + 46
    tall = y + LINE * (len(lines) - 1) + 13 - rect.y
    sheet.add(Box(Rect(rect.x, rect.y, rect.w, tall), edge=Role.TEXT, px=4, name="caution"))
    for place, line in enumerate(lines):
        sheet.add(Text(x, y + LINE * place, line, 16))


def acts_by_condition(
    sheet: Sheet, acts: Sequence[Act], rect: Rect, more: str = "on the keypad page"
) -> None:
    """List acts under the one condition in which each is safe; what does not fit is counted.

    Parameters
    ----------
    more
        Where those are read that do not fit.
    """
    x, y = rect.x, rect.y + 16.0
    groups = by_condition(tuple(acts))
    widest = max((text_width(condition.value, 16) for condition in groups), default=0.0)
    indent = widest + 26.0
    if not groups:
        sheet.add(Text(x, y, "nothing further follows from these readings", 16, role=Role.SECOND))
        return
    left = sum(len(texts) for texts in groups.values())
    for condition, texts in groups.items():
        for place, text in enumerate(texts):
            lines = wrapped(text, 16, rect.w - indent)
            last = y + LINE * (len(lines) - 1 + (1 if left > 1 else 0))
            if last > rect.bottom + 1:
                told = f"and {left} more: {more}"
                sheet.add(Text(x + indent, y, fitting(told, 16, rect.w - indent), 16, role=Role.SECOND))
                return
            if not place:
                tag(sheet, x, y, condition.value)
            for line in lines:
                sheet.add(Text(x + indent, y, line, 16))
                y += LINE
            left -= 1
        y += 7.0


def tag(sheet: Sheet, x: float, y: float, words: str) -> float:
    """Draw the rounded outline of a condition; ``y`` is the baseline. Gives its right edge."""
    w = text_width(words, 16) + 16
    sheet.add(Box(Rect(x, y - 17, w, 24), edge=Role.EDGE, px=2, radius=6, name="condition"))
    sheet.add(Text(x + 8, y, words, 16, role=Role.SECOND))
    return x + w


def key(sheet: Sheet, rect: Rect, word: str, told: str, act: str, *, strong: bool = False) -> None:
    """Draw a key with a word and what it stands at."""
    edge, px = (Role.TEXT, 4.0) if strong else (Role.EDGE, 2.0)
    sheet.add(Box(rect, Role.KEY, edge, px, 5))
    middle, room = rect.x + rect.w / 2, rect.w - 20
    y = rect.y + rect.h / 2 - (4 if told else -7)
    word = fitting(word, 20, room, bold=True)
    sheet.add(Text(middle, y, word, 20, True, align=Align.MIDDLE, on=Role.KEY))
    if told:
        told = fitting(told, 16, room)
        sheet.add(Text(middle, y + 26, told, 16, role=Role.SECOND, align=Align.MIDDLE, on=Role.KEY))
    sheet.targets.append(Target(rect, f"electrical {act}"))


def flag(sheet: Sheet, x: float, y: float, word: str, symbol: str) -> Rect:
    """Draw a flat slab with a word and an arrow down; ``x`` is its middle. Gives where it stands."""
    w = text_width(word, 16, bold=True) + 38
    x = min(max(x, 16 + w / 2), 1264 - w / 2)
    rect = Rect(x - w / 2, y, w, 24)
    sheet.add(Box(rect, Role.OUT, radius=3, of=symbol, name="slab"))
    sheet.add(Text(rect.x + 8, y + 18, word, 16, True, Role.SLAB_TEXT, on=Role.OUT, of=symbol))
    right = rect.right - 18
    points = ((right - 7, y + 7), (right + 7, y + 7), (right, y + 18))
    sheet.add(Path(points, Role.SLAB_TEXT, filled=True, of=symbol, name="arrow"))
    sheet.flags.append(Flag(symbol, word, "under"))
    return rect


def paragraph(
    sheet: Sheet, rect: Rect, text: str, *, bold: bool = False, role: Role = Role.TEXT, px: float = 16
) -> float:
    """Write a text in lines, the last one shortened where it is too long; gives the next baseline."""
    most = max(int((rect.h + 4.0) // LINE), 1)
    y = rect.y + 16.0
    for line in wrapped(text, px, rect.w, bold=bold, lines=most):
        sheet.add(Text(rect.x, y, line, px, bold, role))
        y += LINE
    return y


def missing(sheet: Sheet, rect: Rect, words: Sequence[str]) -> None:
    """List what is not measured behind a dashed square."""
    if words:
        dashed_square(sheet, rect.x, rect.y + 3, 14, Role.EDGE)
        told = f"not measured: {', '.join(words)}"
        paragraph(sheet, Rect(rect.x + 24, rect.y, rect.w - 24, rect.h), told, role=Role.SECOND)


def circle(sheet: Sheet, x: float, y: float, r: float, role: Role, *, filled: bool, symbol: str = "") -> None:
    """Draw a point of a circuit: full where it has its volts, hollow where it has not."""
    points = tuple(
        (x + r * math.cos(math.tau * n / 24), y + r * math.sin(math.tau * n / 24)) for n in range(25)
    )
    sheet.add(Path(points, role, 3, filled=filled, of=symbol, name="point"))


def volts_words(volts: float) -> str:
    """Write volts as a meter shows them."""
    return f"{number(volts, 0 if volts >= 60.0 else 1)} V"


def ohms_words(ohm: float) -> str:
    """Write ohms, or that the meter says open.

    Examples
    --------
    >>> ohms_words(0.6), ohms_words(14.0), ohms_words(float("inf")), ohms_words(47_000.0)
    ('0.6 Ω', '14 Ω', 'open', '47 kΩ')
    """
    if math.isinf(ohm):
        return "open"
    for factor, unit in ((1e6, "MΩ"), (1e3, "kΩ")):
        if ohm >= 0.9995 * factor:
            return f"{number(ohm / factor, 0 if ohm >= 10 * factor else 1)} {unit}"
    return f"{number(ohm, 1 if ohm < 10.0 else 0)} Ω"


def typed_words(text: str) -> str:
    """Write a typed amount with its unit as it is shown.

    Examples
    --------
    >>> typed_words("1.9 uF"), typed_words("31.2 ohm"), typed_words("open")
    ('1.9 µF', '31.2 Ω', 'open')
    """
    value, _, unit = text.partition(" ")
    return f"{value} {shown_unit(unit)}".strip()
