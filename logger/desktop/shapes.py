"""Shapes that several views share: band indicator, slab, state signs, dashed and hatched boxes."""

from __future__ import annotations

import math

from logger.desktop.bands import Band, Judged
from logger.desktop.letters import text_width
from logger.desktop.scene import Align, Box, Flag, Hatch, Path, Rect, Role, Sheet, Text
from logger.desktop.state_line import Sign

COLOURS = {Judged.HIGH: Role.OUT, Judged.LOW: Role.OUT, Judged.ACT: Role.ACT}
TRACK_UP, TRACK_DOWN = 15.0, 15.0
LEAST_BLOCK = 6.0


def colour_of(judged: Judged, usual: Role = Role.TEXT) -> Role:
    """Give the colour of a value that stands so."""
    return COLOURS.get(judged, usual)


def indicator(
    sheet: Sheet, rect: Rect, value: float, expanded: float, band: Band | None, judged: Judged, symbol: str
) -> None:
    """Draw track, allowed third and the upright block of the value; ``rect.y`` is the track's height.

    Parameters
    ----------
    rect
        ``x`` and ``w`` of the track; ``y`` its middle line; ``h`` height of the block.
    value, expanded
        SI, expanded uncertainty (k = 2).
    symbol
        What it shows, for the audit.
    """
    x, y, w, h = rect.x, rect.y, rect.w, rect.h
    if judged is Judged.NO_VALUE:
        sheet.add(Hatch(Rect(x, y - h / 4, w, h / 2), step=8, name="no value"))
        return
    sheet.add(Path(((x, y), (x + w, y)), Role.MARK, 2, name="track"))
    if band is None:
        return
    low, high = band.low, band.high
    one_sided_low = math.isfinite(low) and not math.isfinite(high)
    one_sided_high = math.isfinite(high) and not math.isfinite(low)
    left = x if one_sided_high else x + w / 3
    right = x + w if one_sided_low else x + 2 * w / 3
    tall = h * 20 / 26
    sheet.add(Box(Rect(left, y - h * 7 / 26, right - left, h * 14 / 26), Role.BAND, name="allowed"))
    if not one_sided_high:
        sheet.add(_bracket(x + w / 3, y, tall, 1.0))
    if not one_sided_low:
        sheet.add(_bracket(x + 2 * w / 3, y, tall, -1.0))
    zero = low if math.isfinite(low) else high - band.scale
    u = expanded if math.isfinite(expanded) else 0.0

    def place(v: float) -> float:
        return x + w / 3 + (v - zero) / band.scale * w / 3

    begin, end = place(value - u), place(value + u)
    if end - begin < LEAST_BLOCK:
        middle = place(value)
        begin, end = middle - LEAST_BLOCK / 2, middle + LEAST_BLOCK / 2
    role = colour_of(judged)
    if place(value) > x + w:
        _chevron(sheet, x + w + 2, y, 1.0, role)
    elif place(value) < x:
        _chevron(sheet, x - 4, y, -1.0, role)
    wide = min(end - begin, w / 3)
    begin = min(max(begin, x), x + w - LEAST_BLOCK)
    end = max(min(end, x + w), begin + LEAST_BLOCK)
    if place(value) > x + w:
        begin, end = x + w - max(wide, LEAST_BLOCK), x + w
    elif place(value) < x:
        begin, end = x, x + max(wide, LEAST_BLOCK)
    sheet.add(Box(Rect(begin, y - h / 2, end - begin, h), role, of=symbol, name="value block"))


def _bracket(x: float, y: float, tall: float, way: float) -> Path:
    half = tall / 2
    return Path(
        ((x + 5 * way, y - half), (x, y - half), (x, y + half), (x + 5 * way, y + half)), Role.EDGE, 2
    )


def _chevron(sheet: Sheet, x: float, y: float, way: float, role: Role) -> None:
    sheet.add(Path(((x, y - 7), (x + 5 * way, y), (x, y + 7)), role, 3, name="beyond"))


def slab(
    sheet: Sheet, x: float, y: float, judged: Judged, symbol: str, *, under: bool, tall: bool = True
) -> float:
    """Draw the slab of an abnormal value with word and arrow; gives its right edge.

    ``under`` puts the arrow below the word: the value is too low. A flat slab has them side by side.
    """
    role, word = colour_of(judged), judged.value
    if tall:
        w = max(text_width(word, 16, bold=True) + 12, 38)
        sheet.add(Box(Rect(x, y, w, 46), role, radius=3, of=symbol, name="slab"))
        middle = x + w / 2
        base = y + 20 if under else y + 40
        sheet.add(Text(middle, base, word, 16, True, Role.SLAB_TEXT, Align.MIDDLE, role, symbol))
        _arrow(sheet, middle, y + 33 if under else y + 14, under, 9, symbol)
    else:
        size = 16
        w = text_width(word, size, bold=True) + 34
        sheet.add(Box(Rect(x, y, w, 24), role, radius=3, of=symbol, name="slab"))
        sheet.add(Text(x + 8, y + 18, word, size, True, Role.SLAB_TEXT, on=role, of=symbol))
        _arrow(sheet, x + w - 16, y + 12, under, 7, symbol)
    sheet.flags.append(Flag(symbol, word, "under" if under else "over"))
    return x + w


def _arrow(sheet: Sheet, x: float, y: float, down: bool, size: float, symbol: str) -> None:
    tip = size * (0.8 if down else -0.8)
    points = ((x - size, y - tip), (x + size, y - tip), (x, y + tip))
    sheet.add(Path(points, Role.SLAB_TEXT, filled=True, of=symbol, name="arrow"))


def word_slab(sheet: Sheet, right: float, y: float, text: str, symbol: str = "") -> float:
    """Draw a slab with words only, ending at ``right``; gives its left edge."""
    w = text_width(text, 16, bold=True) + 16
    sheet.add(Box(Rect(right - w, y, w, 24), Role.OUT, radius=3, name="slab", of=symbol))
    sheet.add(Text(right - w + 8, y + 18, text, 16, True, Role.SLAB_TEXT, on=Role.OUT))
    return right - w


def sign(sheet: Sheet, sign: Sign, x: float, y: float, size: float = 44) -> None:
    """Draw a state's sign in a square at (x, y)."""
    middle = y + size / 2
    role = Role.TEXT
    match sign:
        case "steady":
            for dy in (-8.0, 9.0):
                sheet.add(Path(((x, middle + dy), (x + size, middle + dy)), role, 6, name="sign"))
        case "settling":
            for way in (-1.0, 1.0):
                points = (
                    (x, middle + 18 * way),
                    (x + size * 0.6, middle + 5 * way),
                    (x + size, middle + 5 * way),
                )
                sheet.add(Path(points, role, 4, name="sign"))
        case "hunting":
            steps = [n / 24 for n in range(25)]
            wave = tuple((x + size * s, middle - 14 * math.sin(4 * math.pi * s)) for s in steps)
            sheet.add(Path(wave, role, 4, name="sign"))
        case "waiting":
            dashed_square(sheet, x + 4, middle - 18, 36, role, 4)
        case "reading":
            sheet.add(Box(Rect(x + 5, middle - 17, 34, 34), edge=role, px=4, name="sign"))
            for dy in (-5.0, 5.0):
                sheet.add(Path(((x + 13, middle + dy), (x + 31, middle + dy)), role, 4, name="sign"))


def dashed_square(sheet: Sheet, x: float, y: float, size: float, role: Role, px: float = 2) -> None:
    """Draw a dashed square: missing or not entered."""
    sheet.add(Box(Rect(x, y, size, size), edge=role, px=px, dashed=True, name="missing"))


def rule(sheet: Sheet, x: float, y: float, w: float, role: Role = Role.HAIRLINE, px: float = 2) -> None:
    """Draw a level line."""
    sheet.add(Path(((x, y), (x + w, y)), role, px, name="rule"))
