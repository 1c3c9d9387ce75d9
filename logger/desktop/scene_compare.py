"""The compare view: as found beside as left, under the line that says whether that is fair."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from analysis.compare import Change, Comparison, Verdict
from analysis.fairness import Alike, Condition
from analysis.presets import PresetName, duration
from analysis.units import Quantity
from analysis.windows import Mean
from logger.comparison import ShownCondition, shown_conditions
from logger.desktop.amounts import amount, difference
from logger.desktop.bands import Band, Judged, judge
from logger.desktop.frame_parts import bottom_bar, top_line
from logger.desktop.gaps import source_word
from logger.desktop.letters import text_width
from logger.desktop.present import Present
from logger.desktop.scene import (
    Align,
    Box,
    Path,
    Rect,
    Role,
    Scene,
    Sheet,
    Target,
    Text,
    fitting,
    wrapped,
)  # fmt: skip
from logger.desktop.shapes import colour_of, dashed_square, rule
from logger.desktop.state_line import StateLine
from logger.shown_values import shown_change

_FOUND, _LEFT, _CHANGE, _CHART, _CHART_END, _LIMITS, _VERDICT = (
    258.0,
    416.0,
    640.0,
    680.0,
    1000.0,
    1012.0,
    1264.0,
)
_STRIPE = (_CHART + (_CHART_END - _CHART) / 3, _CHART + 2 * (_CHART_END - _CHART) / 3)
_TOP, _ROW = 220.0, 42.0
MOST_ROWS = 10
_FAIR_TOP, _FAIR_STEP, _FAIR_WIDTH = 95.0, 29.0, 416.0
_FAIR_LINES = 3
"""Conditions stand in three columns of three lines; a page of their own tells them in full."""


@dataclass(frozen=True, slots=True)
class _Wanted:
    symbol: str
    label: str
    card: str
    sign: float = 1.0


_HEATING = (
    _Wanted("source_volume_flow", "source flow", "source_volume_flow"),
    _Wanted("source_delta_t", "source drop", "source_change"),
    _Wanted("evaporating_approach", "approach", "evaporating_approach"),
    _Wanted("freeze_margin", "freeze margin", "freeze_margin"),
    _Wanted("subcooling", "subcooling", "subcooling"),
    _Wanted("superheat", "superheat", "superheat"),
    _Wanted("pump_current", "pump current", "pump_current"),
    _Wanted("condensing_temperature", "condensing", ""),
    _Wanted("heat_to_load", "heat to load", "heat_moved"),
    _Wanted("cop", "COP, compressor", ""),
)
_COOLING = (
    _Wanted("source_volume_flow", "source flow", "source_volume_flow"),
    _Wanted("source_delta_t", "source rise", "source_change", -1.0),
    _Wanted("condensing_approach", "approach", "condensing_approach"),
    _Wanted("subcooling", "subcooling", "subcooling"),
    _Wanted("superheat", "superheat", "superheat"),
    _Wanted("air_delta_t", "air drop", "load_change"),
    _Wanted("source_pressure_drop", "coil water drop", ""),
    _Wanted("condensing_temperature", "condensing", ""),
    _Wanted("heat_to_source", "heat to source", ""),
    _Wanted("compressor_power", "compressor", "compressor_power"),
)


@dataclass(frozen=True, slots=True)
class ComparePage:
    """Two sessions side by side."""

    comparison: Comparison | None
    """None where they have no mode in common."""
    title: str
    bands: dict[str, Band]
    notes: tuple[str, ...]
    """What was not tested, and what else must be said."""


def compare_scene(present: Present, page: ComparePage | None, sheet_number: int = 0) -> Scene:
    """Draw the compare view; without a second session it says so.

    Parameters
    ----------
    sheet_number
        Even for the table, odd for the conditions of fairness in full.
    """
    sheet = Sheet()
    comparison = page.comparison if page is not None else None
    if page is None or comparison is None:
        words = "one side only" if page is None else "CANNOT COMPARE: no mode in common"
        top_line(
            sheet,
            present,
            StateLine("reading", words, "a comparison needs a session as found and one as left"),
        )
        told = "open two sessions: evenrun desktop A --with B"
        sheet.add(Text(16, 150, told, 18, role=Role.SECOND))
        for number, note in enumerate(page.notes if page is not None else ()):
            sheet.add(Text(16, 180 + 24 * number, fitting(note, 16, 1200), 16))
        bottom_bar(sheet, present, "compare")
        return sheet.scene("compare", present.preset)
    top_line(sheet, present, _line(comparison), _heading(page, comparison))
    if sheet_number % 2:
        _fairness_in_full(sheet, comparison, present.preset)
    else:
        _fairness(sheet, comparison, present.preset)
        _table(sheet, page, comparison, present.preset)
        _notes(sheet, page)
    bottom_bar(sheet, present, "compare")
    return sheet.scene("compare", present.preset)


def _line(comparison: Comparison) -> StateLine:
    blocking = comparison.fairness.blocking
    if not blocking:
        return StateLine(
            "reading", "FAIR to compare", "the two ends were taken under like conditions, both steady"
        )
    names = ", ".join(condition.label for condition in blocking)
    return StateLine(
        "reading", "UNFAIR to compare", f"{names}: not alike, or not known; differences are not judged"
    )


def _heading(page: ComparePage, comparison: Comparison) -> tuple[str, str]:
    found, left = comparison.as_found, comparison.as_left
    held = found.settings
    heading = " · ".join(
        part for part in (held.mode.upper(), held.refrigerant, page.title.split(":")[0]) if part
    )
    return heading, f"as found {duration(found.to_us / 1e6)} · as left {duration(left.to_us / 1e6)}"


def _conditions(comparison: Comparison, preset: PresetName) -> list[tuple[Condition, ShownCondition]]:
    """Give all conditions, those first that stand in the way."""
    conditions = list(zip(comparison.fairness.conditions, shown_conditions(comparison, preset), strict=True))
    return sorted(conditions, key=lambda pair: (not pair[0].blocks, pair[0].alike is Alike.ALIKE))


def _fairness(sheet: Sheet, comparison: Comparison, preset: PresetName) -> None:
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


def _fairness_in_full(sheet: Sheet, comparison: Comparison, preset: PresetName) -> None:
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


def _table(sheet: Sheet, page: ComparePage, comparison: Comparison, preset: PresetName) -> None:
    heads = ((_FOUND, "as found"), (_LEFT, "as left"), (_CHANGE, "change"), (_VERDICT, "as left is"))
    for x, word in heads:
        sheet.add(Text(x, 206, word, 16, True, align=Align.RIGHT))
    sheet.add(Text((_STRIPE[0] + _STRIPE[1]) / 2, 206, "allowed band", 16, True, align=Align.MIDDLE))
    _circle(sheet, 158, 200, Role.TEXT)
    _diamond(sheet, 336, 200)
    changes = {change.symbol: change for change in comparison.changes}
    wanted = [
        row for row in (_COOLING if comparison.mode == "cooling" else _HEATING) if row.symbol in changes
    ]
    banded = [row for row in wanted if row.card in page.bands]
    ordered = (banded + [row for row in wanted if row not in banded])[:MOST_ROWS]
    if banded:
        height = _ROW * len([row for row in ordered if row in banded])
        sheet.add(Box(Rect(_STRIPE[0], _TOP, _STRIPE[1] - _STRIPE[0], height), Role.BAND, name="allowed"))
        for x, way in ((_STRIPE[0], 1.0), (_STRIPE[1], -1.0)):
            points = ((x + 6 * way, _TOP), (x, _TOP), (x, _TOP + height), (x + 6 * way, _TOP + height))
            sheet.add(Path(points, Role.EDGE, 2))
    source = source_word(comparison.as_found.settings)
    for number, row in enumerate(ordered):
        row = replace(row, label=row.label.replace("source", source))
        y = _TOP + _ROW * number
        _row(sheet, row, changes[row.symbol], page.bands.get(row.card), y, preset)
        rule(sheet, 16, y + _ROW, 1248)


def _row(sheet: Sheet, row: _Wanted, change: Change, band: Band | None, y: float, preset: PresetName) -> None:
    base = y + 27
    sheet.add(Text(16, base, fitting(row.label, 16, 150, bold=True), 16, True))
    comparable = change.verdict is not Verdict.NOT_COMPARABLE
    standing = []
    for mean, right, bold in ((change.as_found, _FOUND, True), (change.as_left, _LEFT, True)):
        judged = judge(row.sign * mean.value, 2 * mean.u, band)
        standing.append(judged)
        _value(sheet, row, change.quantity, mean, judged, right, base, preset, bold=bold)
    told = shown_change(change.quantity, row.sign * change.difference, change.expanded, preset)
    if not comparable:
        told = "not comparable"
    sheet.add(Text(_CHANGE, base, fitting(told, 16, 210), 16, align=Align.RIGHT))
    if band is not None:
        _chart(sheet, row, change, band, standing, y + _ROW / 2, comparable)
        sheet.add(Text(_LIMITS, base, _limits(change.quantity, band, preset), 16, role=Role.SECOND))
    else:
        middle = (_STRIPE[0] + _STRIPE[1]) / 2
        sheet.add(Text(middle, base, "not on the unit card", 16, role=Role.SECOND, align=Align.MIDDLE))
    words, strong = _verdict(row, change, band, standing[1])
    sheet.add(Text(_VERDICT, base, words, 16, strong, align=Align.RIGHT))


def _value(
    sheet: Sheet, row: _Wanted, quantity: Quantity, mean: Mean, judged: Judged, right: float, base: float,
    preset: PresetName, *, bold: bool,
) -> None:  # fmt: skip
    if not math.isfinite(mean.value):
        sheet.add(Text(right, base, "no value", 16, role=Role.SECOND, align=Align.RIGHT))
        return
    shown = amount(quantity, row.sign * mean.value, preset, 2 * mean.u)
    role = colour_of(judged)
    symbol = f"{row.symbol}@{right:.0f}"
    sheet.add(Text(right, base, shown.text, 18, bold, role, Align.RIGHT, of=symbol))
    if judged.abnormal:
        under = judged is Judged.LOW or (judged is Judged.ACT and row.sign * mean.value < 0)
        under = under or judged is Judged.ACT
        x = right - text_width(shown.text, 18, bold=bold) - 16
        tip = 6.0 if under else -6.0
        points = ((x - 7, base - 7 - tip), (x + 7, base - 7 - tip), (x, base - 7 + tip))
        sheet.add(Path(points, role, filled=True, of=symbol, name="arrow"))


def _chart(
    sheet: Sheet, row: _Wanted, change: Change, band: Band, standing: list[Judged], y: float, comparable: bool
) -> None:
    sheet.add(Path(((_CHART, y), (_CHART_END, y)), Role.MARK, 2, name="track"))
    zero = band.low if math.isfinite(band.low) else band.high - band.scale
    width = _STRIPE[1] - _STRIPE[0]

    def place(mean: Mean) -> float:
        x = _STRIPE[0] + (row.sign * mean.value - zero) / band.scale * width
        return min(max(x, _CHART + 8), _CHART_END - 8)

    ends = [place(mean) for mean in (change.as_found, change.as_left) if math.isfinite(mean.value)]
    if len(ends) == 2:
        sheet.add(Path(((ends[0], y), (ends[1], y)), Role.TEXT, 3, dashed=not comparable))
    if math.isfinite(change.as_found.value):
        _circle(sheet, place(change.as_found), y, colour_of(standing[0]))
    if math.isfinite(change.as_left.value):
        _diamond(sheet, place(change.as_left), y, colour_of(standing[1]))


def _circle(sheet: Sheet, x: float, y: float, role: Role) -> None:
    points = tuple(
        (x + 7 * math.cos(n * math.pi / 12), y + 7 * math.sin(n * math.pi / 12)) for n in range(25)
    )
    sheet.add(Path(points, Role.GROUND, filled=True), Path(points, role, 3, name="as found"))


def _diamond(sheet: Sheet, x: float, y: float, role: Role = Role.TEXT) -> None:
    points = ((x - 9, y), (x, y - 9), (x + 9, y), (x, y + 9))
    sheet.add(Path(points, role, filled=True, name="as left"))


def _limits(quantity: Quantity, band: Band, preset: PresetName) -> str:
    def shown(value: float) -> str:
        return (difference if quantity is Quantity.TEMPERATURE_DIFFERENCE else amount)(
            quantity, value, preset
        ).text

    if math.isfinite(band.low) and math.isfinite(band.high):
        low = shown(band.low).split(" ")[0]
        return f"{low.removesuffix('.0')} to {shown(band.high).replace('.0 ', ' ')}"
    return (
        f"{shown(band.low).replace('.0 ', ' ')} or more"
        if math.isfinite(band.low)
        else f"{shown(band.high)} or less"
    )


def _verdict(row: _Wanted, change: Change, band: Band | None, left: Judged) -> tuple[str, bool]:
    if change.verdict is Verdict.NOT_COMPARABLE:
        return "not judged", False
    if band is None:
        if change.verdict is Verdict.NOT_SHOWN:
            return "unchanged", True
        return ("higher" if row.sign * change.difference > 0 else "lower"), False
    if left.abnormal or left is Judged.NEAR:
        return left.value, True
    return ("unchanged", True) if change.verdict is Verdict.NOT_SHOWN else (left.value, False)


def _notes(sheet: Sheet, page: ComparePage) -> None:
    y = 664.0
    lines = [line for note in page.notes for line in wrapped(note, 16, 1248)]
    for line in lines[:2]:
        sheet.add(Text(16, y, line, 16))
        y += 22
