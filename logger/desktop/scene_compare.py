"""The compare view: as found beside as left, under the line that says whether that is fair."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from analysis.compare import Change, Comparison, Verdict
from analysis.presets import PresetName, duration
from analysis.units import Quantity
from analysis.windows import Mean
from logger.desktop.amounts import amount, difference
from logger.desktop.bands import Band, Judged, judge
from logger.desktop.fairness_lines import fairness, fairness_in_full
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
    Text,
    fitting,
    wrapped,
)  # fmt: skip
from logger.desktop.shapes import colour_of, rule
from logger.desktop.state_line import StateLine
from logger.shown_values import shown_change


@dataclass(frozen=True, slots=True)
class _Columns:
    """Where the columns stand: numbers by their right edge, the track by both ends, limits by their left."""

    found: float
    between: float | None
    left: float
    change: float
    chart: float
    chart_end: float
    limits: float

    @property
    def stripe(self) -> tuple[float, float]:
        """The allowed band: the middle third of the track."""
        third = (self.chart_end - self.chart) / 3
        return self.chart + third, self.chart_end - third


_TWO = _Columns(258.0, None, 416.0, 640.0, 680.0, 1000.0, 1012.0)
_THREE = _Columns(254.0, 372.0, 510.0, 720.0, 738.0, 1020.0, 1030.0)
_VERDICT = 1264.0
_TOP, _ROW = 220.0, 42.0
MOST_ROWS = 10


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
    between: Comparison | None = None
    """As found against the machine between two repairs."""


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
        sheet.add(Text(16, 130, told, 18, role=Role.SECOND))
        told = "or name both ends of a repair on Session: phase as found, and phase as left"
        sheet.add(Text(16, 156, told, 18, role=Role.SECOND))
        for number, note in enumerate(page.notes if page is not None else ()):
            sheet.add(Text(16, 180 + 24 * number, fitting(note, 16, 1200), 16))
        bottom_bar(sheet, present, "compare")
        return sheet.scene("compare", present.preset)
    top_line(sheet, present, _line(comparison), _heading(page, comparison))
    if sheet_number % 2:
        fairness_in_full(sheet, comparison, present.preset)
    else:
        fairness(sheet, comparison, present.preset)
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


def _table(sheet: Sheet, page: ComparePage, comparison: Comparison, preset: PresetName) -> None:
    at = _TWO if page.between is None else _THREE
    stripe = at.stripe
    heads = ((at.found, "as found"), (at.left, "as left"), (at.change, "change"), (_VERDICT, "as left is"))
    for x, word in heads:
        sheet.add(Text(x, 206, word, 16, True, align=Align.RIGHT))
    sheet.add(Text(sum(stripe) / 2, 206, "allowed band", 16, True, align=Align.MIDDLE))
    _circle(sheet, at.found - 100, 200, Role.TEXT)
    _diamond(sheet, at.left - 80, 200)
    if at.between is not None:
        sheet.add(Text(at.between, 206, "between", 16, role=Role.SECOND, align=Align.RIGHT))
        _square(sheet, at.between - 84, 200)
    changes = {change.symbol: change for change in comparison.changes}
    wanted = [
        row for row in (_COOLING if comparison.mode == "cooling" else _HEATING) if row.symbol in changes
    ]
    banded = [row for row in wanted if row.card in page.bands]
    ordered = (banded + [row for row in wanted if row not in banded])[:MOST_ROWS]
    if banded:
        height = _ROW * len([row for row in ordered if row in banded])
        sheet.add(Box(Rect(stripe[0], _TOP, stripe[1] - stripe[0], height), Role.BAND, name="allowed"))
        for x, way in ((stripe[0], 1.0), (stripe[1], -1.0)):
            points = ((x + 6 * way, _TOP), (x, _TOP), (x, _TOP + height), (x + 6 * way, _TOP + height))
            sheet.add(Path(points, Role.EDGE, 2))
    source = source_word(comparison.as_found.settings)
    middle = {change.symbol: change.as_left for change in page.between.changes} if page.between else {}
    for number, row in enumerate(ordered):
        row = replace(row, label=row.label.replace("source", source))
        y = _TOP + _ROW * number
        _row(sheet, at, row, changes[row.symbol], middle.get(row.symbol), page.bands.get(row.card), y, preset)
        rule(sheet, 16, y + _ROW, 1248)


def _row(
    sheet: Sheet, at: _Columns, row: _Wanted, change: Change, middle: Mean | None, band: Band | None,
    y: float, preset: PresetName,
) -> None:  # fmt: skip
    base = y + 27
    sheet.add(Text(16, base, fitting(row.label, 16, 150, bold=True), 16, True))
    comparable = change.verdict is not Verdict.NOT_COMPARABLE
    standing = []
    for mean, right, bold in ((change.as_found, at.found, True), (change.as_left, at.left, True)):
        judged = judge(row.sign * mean.value, 2 * mean.u, band)
        standing.append(judged)
        _value(sheet, row, change.quantity, mean, judged, right, base, preset, bold=bold)
    if at.between is not None and middle is not None:
        judged = judge(row.sign * middle.value, 2 * middle.u, band)
        _value(sheet, row, change.quantity, middle, judged, at.between, base, preset, bold=False)
    told = shown_change(change.quantity, row.sign * change.difference, change.expanded, preset)
    if not comparable:
        told = "not comparable"
    sheet.add(Text(at.change, base, fitting(told, 16, 210), 16, align=Align.RIGHT))
    if band is not None:
        _chart(sheet, at, row, change, middle, band, standing, y + _ROW / 2, comparable)
        sheet.add(Text(at.limits, base, _limits(change.quantity, band, preset), 16, role=Role.SECOND))
    else:
        sheet.add(
            Text(sum(at.stripe) / 2, base, "not on the unit card", 16, role=Role.SECOND, align=Align.MIDDLE)
        )
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
    size = 18 if bold else 16
    sheet.add(Text(right, base, shown.text, size, bold, role, Align.RIGHT, of=symbol))
    if judged.abnormal:
        under = judged is Judged.LOW or (judged is Judged.ACT and row.sign * mean.value < 0)
        under = under or judged is Judged.ACT
        x = right - text_width(shown.text, size, bold=bold) - 16
        tip = 6.0 if under else -6.0
        points = ((x - 7, base - 7 - tip), (x + 7, base - 7 - tip), (x, base - 7 + tip))
        sheet.add(Path(points, role, filled=True, of=symbol, name="arrow"))


def _chart(
    sheet: Sheet, at: _Columns, row: _Wanted, change: Change, between: Mean | None, band: Band,
    standing: list[Judged], y: float, comparable: bool,
) -> None:  # fmt: skip
    sheet.add(Path(((at.chart, y), (at.chart_end, y)), Role.MARK, 2, name="track"))
    zero = band.low if math.isfinite(band.low) else band.high - band.scale
    stripe = at.stripe
    width = stripe[1] - stripe[0]

    def place(mean: Mean) -> float:
        x = stripe[0] + (row.sign * mean.value - zero) / band.scale * width
        return min(max(x, at.chart + 8), at.chart_end - 8)

    ends = [place(mean) for mean in (change.as_found, change.as_left) if math.isfinite(mean.value)]
    if len(ends) == 2:
        sheet.add(Path(((ends[0], y), (ends[1], y)), Role.TEXT, 3, dashed=not comparable))
    if between is not None and math.isfinite(between.value):
        _square(sheet, place(between), y)
    if math.isfinite(change.as_found.value):
        _circle(sheet, place(change.as_found), y, colour_of(standing[0]))
    if math.isfinite(change.as_left.value):
        _diamond(sheet, place(change.as_left), y, colour_of(standing[1]))


def _circle(sheet: Sheet, x: float, y: float, role: Role) -> None:
    points = tuple(
        (x + 7 * math.cos(n * math.pi / 12), y + 7 * math.sin(n * math.pi / 12)) for n in range(25)
    )
    sheet.add(Path(points, Role.GROUND, filled=True), Path(points, role, 3, name="as found"))


def _square(sheet: Sheet, x: float, y: float) -> None:
    points = ((x - 5, y - 5), (x + 5, y - 5), (x + 5, y + 5), (x - 5, y + 5), (x - 5, y - 5))
    sheet.add(Path(points, Role.GROUND, filled=True), Path(points, Role.SECOND, 2, name="between"))


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
