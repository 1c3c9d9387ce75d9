"""A gap's block: name, large numeral with unit and slab, words, and the band indicator below."""

from __future__ import annotations

import math

from analysis.presets import number, show_among
from analysis.units import Quantity
from logger.desktop.amounts import Amount, difference, shorter
from logger.desktop.bands import Band, Judged
from logger.desktop.gaps import Gap
from logger.desktop.letters import text_width
from logger.desktop.present import Present
from logger.desktop.scene import Align, Hatch, Rect, Role, Sheet, Target, Text, fitting
from logger.desktop.shapes import colour_of, indicator, slab

WIDTH = 200.0
_DT = Quantity.TEMPERATURE_DIFFERENCE


def gap_block(sheet: Sheet, present: Present, gap: Gap, x: float, top: float) -> None:
    """Draw one gap at (x, top), 200 px wide."""
    value = gap.sign * present.value(gap.symbol)
    u = present.expanded(gap.symbol)
    band = present.bands.get(gap.key)
    judged = present.judged.get(gap.key, Judged.NOT_JUDGED)
    if not math.isfinite(value):
        judged = Judged.NO_VALUE
    sheet.add(Text(x, top + 2, gap.label, 18, True))
    if judged is Judged.NO_VALUE:
        _no_value(sheet, present, gap, x, top)
    else:
        _numeral(sheet, gap, value, u, present, judged, band, x, top)
        words = words_for(value, band, judged, present)
        limit = WIDTH
        if math.isfinite(u):
            told = f"± {difference(_DT, u, present.preset, up=True).text}"
            sheet.add(Text(x + WIDTH, top + 76, told, 16, role=Role.SECOND, align=Align.RIGHT, of=gap.symbol))
            limit -= text_width(told, 16) + 8
        sheet.add(Text(x, top + 76, fitting(words, 16, limit), 16, role=Role.SECOND, of=gap.symbol))
    indicator(sheet, Rect(x, top + 102, WIDTH, 26), value, u, band, judged, gap.symbol)
    _limits(sheet, band, present, x, top + 130)
    sheet.targets.append(Target(Rect(x, top - 14, WIDTH, 150), f"source {gap.key}"))


def _numeral(
    sheet: Sheet, gap: Gap, value: float, u: float, present: Present, judged: Judged, band: Band | None,
    x: float, top: float,
) -> None:  # fmt: skip
    shown = shorter(difference(_DT, value, present.preset), 4)
    if math.isfinite(u) and u / (5 / 9 if present.preset == "us" else 1.0) >= 2.0:
        shown = Amount(number(float(shown.number.replace("−", "-")), 0), shown.unit)
    if judged.abnormal and band is not None:
        shown = _beside_limit(shown, value, band, present)
    role, px = colour_of(judged), 56 if len(shown.number) <= 4 else 44
    sheet.add(Text(x, top + 54, shown.number, px, True, role, of=gap.symbol))
    after = x + text_width(shown.number, px, bold=True) + 5
    sheet.add(Text(after, top + 54, shown.unit, 20, True, role, of=gap.symbol))
    after += text_width(shown.unit, 20, bold=True) + 3
    if judged.abnormal:
        under = judged is Judged.LOW or (band is not None and judged is Judged.ACT and value < band.act_below)
        slab(sheet, after, top + 11, judged, gap.symbol, under=under)


def _beside_limit(shown: Amount, value: float, band: Band, present: Present) -> Amount:
    """Give a value that is out of its band enough decimals to be seen there."""
    beyond = [
        limit
        for limit, low in (
            (band.act_below, True),
            (band.low, True),
            (band.act_above, False),
            (band.high, False),
        )
        if math.isfinite(limit) and (value < limit if low else value > limit)
    ]
    rounded = float(shown.number.replace("−", "-"))
    for limit in beyond:
        if (rounded - float(difference(_DT, limit, present.preset).number.replace("−", "-"))) * (
            value - limit
        ) <= 0.0:
            return Amount(show_among(_DT, value, beyond, present.preset)[0].split(" ")[0], shown.unit)
    return shown


def words_for(value: float, band: Band | None, judged: Judged, present: Present) -> str:
    """Say how a gap stands, and by how much it is out."""
    if band is None:
        return judged.value
    if judged in (Judged.HIGH, Judged.LOW):
        over = judged is Judged.HIGH
        out = difference(_DT, max(value - band.high if over else band.low - value, 0.0), present.preset)
        if float(out.number) == 0.0:
            return "at its limit"
        return f"{out.text} {'over' if over else 'under'}"
    if judged is Judged.ACT:
        below = value < band.act_below
        limit = difference(_DT, band.act_below if below else band.act_above, present.preset)
        return f"act {'below' if below else 'above'} {_short(limit)}"
    return str(judged.value)


def _no_value(sheet: Sheet, present: Present, gap: Gap, x: float, top: float) -> None:
    sheet.add(Hatch(Rect(x, top + 12, 110, 42), step=10, name="no value"))
    sheet.add(Text(x + 120, top + 30, "NO", 16, True))
    sheet.add(Text(x + 120, top + 50, "VALUE", 16, True))
    words = present.why_missing(gap.symbol)
    sheet.add(Text(x, top + 76, fitting(words, 16, WIDTH), 16, role=Role.SECOND))


def _limits(sheet: Sheet, band: Band | None, present: Present, x: float, y: float) -> None:
    if band is None:
        return
    for limit, place in ((band.low, x + WIDTH / 3), (band.high, x + 2 * WIDTH / 3)):
        if math.isfinite(limit):
            text = _short(difference(_DT, limit, present.preset))
            sheet.add(Text(place, y, text, 16, role=Role.SECOND, align=Align.MIDDLE))


def _short(limit: Amount) -> str:
    """Write a limit without a decimal that is zero."""
    return Amount(limit.number.removesuffix(".0"), limit.unit).text
