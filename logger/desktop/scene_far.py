"""The far view, read from two metres: water at full width, freeze margin and one chosen refrigerant gap."""

from __future__ import annotations

import math

from analysis.units import Quantity
from logger.desktop.amounts import amount, difference, shorter
from logger.desktop.bands import Band, Judged
from logger.desktop.gaps import Gap, gaps_of, levels_of, mode_of, source_word
from logger.desktop.letters import text_width
from logger.desktop.present import Present
from logger.desktop.scene import (
    SMALLEST_FAR,
    Align,
    Box,
    Flag,
    Hatch,
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
from logger.desktop.shapes import colour_of, indicator, rule
from logger.desktop.shapes import sign as draw_sign
from logger.desktop.state_line import state_line

_DT = Quantity.TEMPERATURE_DIFFERENCE
_SMALL = SMALLEST_FAR


def default_gap(present: Present) -> str:
    """Name the gap that stands lower right where the person has chosen none."""
    return "condensing_approach" if mode_of(present.newest) == "cooling" else "superheat"


def next_gap(present: Present, chosen: str) -> str:
    """Name the gap that a long touch brings next."""
    keys = [gap.key for gap in gaps_of(present.newest) if gap.key not in ("freeze_margin", "source_change")]
    return keys[(keys.index(chosen) + 1) % len(keys)] if chosen in keys else keys[0]


def far_scene(present: Present, chosen: str = "") -> Scene:
    """Draw the far view.

    Parameters
    ----------
    chosen
        Unit card's symbol of the gap lower right; the mode's default by default.
    """
    sheet = Sheet()
    gaps = {gap.key: gap for gap in gaps_of(present.newest)}
    if chosen not in gaps:
        chosen = default_gap(present)
    _state(sheet, present)
    _water(sheet, present, gaps["source_change"])
    _gap(sheet, present, gaps["freeze_margin"], 24.0, freezing=True)
    _gap(sheet, present, gaps[chosen], 664.0, freezing=False)
    _foot(sheet, present, gaps, chosen)
    return sheet.scene("far", present.preset, present.missing)


def _state(sheet: Sheet, present: Present) -> None:
    line = state_line(present)
    sheet.add(Box(Rect(0, 0, 1280, 120), Role.PANEL))
    rule(sheet, 0, 120, 1280)
    draw_sign(sheet, line.sign, 28, 34, 60)
    px = 60 if text_width(line.words, 60, bold=True) <= 1140 else 44
    sheet.add(Text(116, 65, fitting(line.words, px, 1150, bold=True), px, True, on=Role.PANEL))
    reason = fitting(present.notice or line.reason, _SMALL, 1150)
    sheet.add(Text(116, 105, reason, _SMALL, role=Role.SECOND, on=Role.PANEL))
    sheet.targets.append(Target(Rect(0, 0, 1280, 120), "far"))


def _level_words(present: Present, key: str) -> str:
    """Name a level with its value, or its silence."""
    label = next((level.label for level in levels_of(present.newest) if level.key == key), key)
    if key == "freezing_point":
        label = f"{source_word(present.newest.settings if present.newest else None)} freezes"
        if mode_of(present.newest) == "cooling":
            label = "coil freezes"
    t = present.level(key)
    if math.isfinite(t):
        return f"{label} {amount(Quantity.TEMPERATURE, t, present.preset, present.expanded(key)).text}"
    fitted = present.newest is not None and key in present.newest.points
    return f"{label} {present.silence(key)}" if fitted else f"{label}: no value"


def _water(sheet: Sheet, present: Present, gap: Gap) -> None:
    source = source_word(present.newest.settings if present.newest is not None else None)
    rising = mode_of(present.newest) == "cooling"
    upper, lower = ("source_leaving_temperature", "source_entering_temperature")
    if not rising:
        upper, lower = lower, upper
    for key, text_y, line_y in ((upper, 152, 168), (lower, 422, 386)):
        of = key if math.isfinite(present.level(key)) else ""
        sheet.add(Text(24, text_y, _level_words(present, key), _SMALL, role=Role.SECOND, of=of))
        if math.isfinite(present.level(key)):
            sheet.add(Path(((24, line_y), (1256, line_y)), Role.TEXT, 5, of=key, name="level"))
        else:
            sheet.add(Hatch(Rect(24, line_y - 6, 1232, 12), step=9, name="no value"))
    sheet.add(Text(1256, 152, present.water_words, _SMALL, True, align=Align.RIGHT))
    route = "no flow is measured"
    if present.newest is not None and "source_volume_flow" in present.newest.derived:
        fed = present.newest.inputs.get("source_volume_flow", ("",))[0]
        route = "flow by meter" if fed == "source_flow" else "flow from coil pressure drop"
    band = present.bands.get("source_volume_flow")
    if band is not None and math.isfinite(band.low) and math.isfinite(band.high):
        low = amount(Quantity.VOLUME_FLOW, band.low, present.preset)
        high = amount(Quantity.VOLUME_FLOW, band.high, present.preset)
        route += f" · card {low.number} to {high.text}"
    sheet.add(Text(1256, 422, route, _SMALL, role=Role.SECOND, align=Align.RIGHT))
    flow = present.value("source_volume_flow")
    judged = present.judged.get("source_volume_flow", Judged.NOT_JUDGED)
    shown = shorter(amount(Quantity.VOLUME_FLOW, flow, present.preset), 4) if math.isfinite(flow) else None
    _big(sheet, present, f"{source} flow", "source_volume_flow", flow, judged,
         (shown.number, shown.unit) if shown else None, 24.0, 640.0)  # fmt: skip
    value = gap.sign * present.value(gap.symbol)
    judged = present.judged.get(gap.key, Judged.NOT_JUDGED)
    told = shorter(difference(_DT, value, present.preset), 4) if math.isfinite(value) else None
    band, shown_drop = present.bands.get(gap.key), (told.number, told.unit) if told else None
    _big(sheet, present, gap.label, gap.symbol, value, judged, shown_drop, 734.0, 1256.0, band=band)
    sheet.add(Path(((652, 200), (652, 360)), Role.HAIRLINE, 2))
    if told:
        _span(sheet, 694, 172, 382, colour_of(judged, Role.TEXT), gap.symbol)


def _span(sheet: Sheet, x: float, top: float, bottom: float, role: Role, symbol: str) -> None:
    """Draw a double arrow between two levels."""
    sheet.add(Path(((x, top + 10), (x, bottom - 10)), role, 6, of=symbol, name="bracket"))
    for y, way in ((top + 2, 1.0), (bottom - 2, -1.0)):
        head = ((x - 11, y + 18 * way), (x + 11, y + 18 * way), (x, y))
        sheet.add(Path(head, role, filled=True, of=symbol, name="bracket"))


def _big(
    sheet: Sheet, present: Present, label: str, symbol: str, value: float, judged: Judged,
    shown: tuple[str, str] | None, x: float, right: float, band: Band | None = None,
) -> None:  # fmt: skip
    """Draw one of the two large figures between the water lines."""
    band = band if band is not None else present.bands.get(symbol)
    sheet.add(Text(x, 205, label, 28, True))
    track_x = max(x + text_width(label, 28, bold=True) + 60, x + 200)
    u = present.expanded(symbol)
    track = Rect(track_x, 196, right - track_x - 20, 26)
    if shown is None:
        indicator(sheet, track, value, u, band, Judged.NO_VALUE, symbol)
        sheet.add(Hatch(Rect(x, 226, 300, 116), step=18, name="no value"))
        sheet.add(Text(x + 316, 284, "NO VALUE", 28, True))
        words = present.why_missing(symbol)
        for place, line in enumerate(wrapped(words, _SMALL, right - x - 320, lines=2)):
            sheet.add(Text(x + 316, 326 + 30 * place, line, _SMALL, role=Role.SECOND))
        return
    indicator(sheet, track, value, u, band, judged, symbol)
    role = colour_of(judged)
    number, unit = shown
    behind = 34 + text_width(unit, 44, bold=True) + 132
    px = 164 if text_width(number, 164, bold=True) + behind <= right - x else 124
    sheet.add(Text(x, 342, number, px, True, role, of=symbol))
    after = x + text_width(number, px, bold=True) + 18
    sheet.add(Text(after, 342, unit, 44, True, role, of=symbol))
    after += text_width(unit, 44, bold=True) + 16
    if judged.abnormal:
        under = judged is Judged.LOW or (band is not None and value < band.act_below)
        _slab(sheet, min(after, right - 132), 304, judged, symbol, under)
    else:
        words = judged.value.split(" on ")[0]
        if after + text_width(words, _SMALL) > right:
            sheet.add(Text(right, 250, words, _SMALL, role=Role.SECOND, align=Align.RIGHT, of=symbol))
        else:
            sheet.add(Text(after, 342, words, _SMALL, role=Role.SECOND, of=symbol))


def _slab(sheet: Sheet, x: float, y: float, judged: Judged, symbol: str, under: bool) -> None:
    role, word = colour_of(judged), judged.value
    w = text_width(word, 34, bold=True) + 46
    sheet.add(Box(Rect(x, y, w, 50), role, radius=3, of=symbol, name="slab"))
    sheet.add(Text(x + 9, y + 38, word, 34, True, Role.SLAB_TEXT, on=role, of=symbol))
    tip = 9.0 if under else -9.0
    middle, height = x + w - 19, y + 25
    points = ((middle - 12, height - tip), (middle + 12, height - tip), (middle, height + tip))
    sheet.add(Path(points, Role.SLAB_TEXT, filled=True, of=symbol, name="arrow"))
    sheet.flags.append(Flag(symbol, word, "under" if under else "over"))


def _gap(sheet: Sheet, present: Present, gap: Gap, x: float, *, freezing: bool) -> None:
    """Draw one of the two gaps of the lower half."""
    value = gap.sign * present.value(gap.symbol)
    judged = present.judged.get(gap.key, Judged.NOT_JUDGED)
    band, u = present.bands.get(gap.key), present.expanded(gap.symbol)
    for key, y in ((gap.upper, 472.0), (gap.lower, 626.0)):
        words = fitting(_level_words(present, key), _SMALL, 290)
        known = math.isfinite(present.level(key))
        of = key if known and key != "freezing_point" else ""
        sheet.add(Text(x + 316, y + 9, words, _SMALL, role=Role.SECOND, of=of))
        if not known:
            sheet.add(Hatch(Rect(x, y - 10, 300, 20), step=9, name="no value"))
        elif key == "freezing_point":
            sheet.add(Path(((x, y), (x + 300, y)), Role.TEXT, 3, name="freezing"))
            sheet.add(Hatch(Rect(x, y + 2, 300, 13), step=9, edged=False, name="freezing"))
        elif key.endswith(("evaporating_temperature", "condensing_temperature")):
            for dy in (-4.0, 4.0):
                sheet.add(Path(((x, y + dy), (x + 300, y + dy)), Role.TEXT, 3.5, of=key, name="level"))
        else:
            sheet.add(Path(((x, y), (x + 300, y)), Role.TEXT, 5, of=key, name="level"))
    at = x + 324
    if not math.isfinite(value):
        sheet.add(Hatch(Rect(x + 44, 502, 256, 92), step=18, name="no value"))
        sheet.add(Text(at, 520, fitting(gap.label, _SMALL, 268, bold=True), _SMALL, True))
        sheet.add(Text(at, 558, "NO VALUE", _SMALL, True))
        indicator(sheet, Rect(at, 588, 200, 26), value, u, band, Judged.NO_VALUE, gap.symbol)
        return
    role = colour_of(judged)
    shown = shorter(difference(_DT, value, present.preset), 4)
    px = 124 if text_width(shown.number, 124, bold=True) <= 236 else 96
    _span(sheet, x + 16, 484, 618, colour_of(judged, Role.TEXT), gap.symbol)
    sheet.add(Text(x + 44, 594, shown.number, px, True, role, of=gap.symbol))
    after = x + 44 + text_width(shown.number, px, bold=True) + 8
    sheet.add(Text(after, 594, shown.unit, 36, True, role, of=gap.symbol))
    sheet.add(Text(at, 520, fitting(gap.label, _SMALL, 268, bold=True), _SMALL, True))
    if judged.abnormal:
        under = judged is Judged.LOW or (band is not None and value < band.act_below)
        _small_slab(sheet, at, 533, judged, gap.symbol, under)
    else:
        sheet.add(Text(at, 558, judged.value.split(" on ")[0], _SMALL, role=Role.SECOND, of=gap.symbol))
    indicator(sheet, Rect(at, 596, 200, 26), value, u, band, judged, gap.symbol)
    if freezing:
        return
    sheet.targets.append(Target(Rect(x, 456, 592, 190), "choose gap"))


def _small_slab(sheet: Sheet, x: float, y: float, judged: Judged, symbol: str, under: bool) -> None:
    role, word = colour_of(judged), judged.value
    w = text_width(word, 28, bold=True) + 42
    sheet.add(Box(Rect(x, y, w, 40), role, radius=3, of=symbol, name="slab"))
    sheet.add(Text(x + 8, y + 30, word, 28, True, Role.SLAB_TEXT, on=role, of=symbol))
    tip = 8.0 if under else -8.0
    middle, height = x + w - 18, y + 20
    points = ((middle - 10, height - tip), (middle + 10, height - tip), (middle, height + tip))
    sheet.add(Path(points, Role.SLAB_TEXT, filled=True, of=symbol, name="arrow"))
    sheet.flags.append(Flag(symbol, word, "under" if under else "over"))


def _foot(sheet: Sheet, present: Present, gaps: dict[str, Gap], chosen: str) -> None:
    sheet.add(Box(Rect(0, 672, 1280, 128), Role.PANEL))
    rule(sheet, 0, 672, 1280)
    sheet.add(Text(24, 729, f"lower right shows {gaps[chosen].label}", _SMALL, True, on=Role.PANEL))
    words = ["long touch: choose another gap"]
    for key, gap in gaps.items():
        judged = present.judged.get(key, Judged.NOT_JUDGED)
        if key in ("freeze_margin", "source_change", chosen) or not judged.abnormal:
            continue
        value = difference(_DT, gap.sign * present.value(gap.symbol), present.preset)
        low = judged is Judged.LOW
        words.append(f"{gap.label} {value.text} is {'low' if low else 'high'} too")
    told = fitting(" · ".join(words), _SMALL, 950)
    sheet.add(Text(24, 768, told, _SMALL, role=Role.SECOND, on=Role.PANEL))
    mark = Rect(1000, 684, 256, 104)
    sheet.add(Box(mark, Role.KEY, Role.TEXT, 4, 5))
    sheet.add(Text(1128, 749, "MARK", 36, True, align=Align.MIDDLE, on=Role.KEY))
    sheet.targets.append(Target(mark, "mark"))
