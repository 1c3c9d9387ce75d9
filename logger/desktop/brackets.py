"""The brackets that measure the gaps on the axis, their allowed slots, and leaders to the blocks."""

from __future__ import annotations

import math
from collections.abc import Sequence

from logger.desktop.axis import Axis
from logger.desktop.bands import Judged
from logger.desktop.gaps import Gap
from logger.desktop.level_marks import LEFT_RAIL, RIGHT_RAIL, Spot
from logger.desktop.present import Present
from logger.desktop.scene import Box, Path, Rect, Role, Sheet
from logger.desktop.shapes import colour_of

_TOPS = (158.0, 326.0, 494.0)
RAIL_BRACKET, FREEZE_BRACKET = 500.0, 447.0
LEAST = 14.0
"""Below this height two arrows from outside take the bracket's place."""


def draw_brackets(
    sheet: Sheet, present: Present, axis: Axis, gaps: Sequence[Gap], spots: dict[str, Spot]
) -> None:
    """Draw each gap that has a value between its two levels."""
    beside = [gap for gap in gaps if gap.place == "left" and _both(gap, spots)]
    nested = len(beside) == 2 and _overlap(beside[0], beside[1], spots)
    for number, gap in enumerate(gaps):
        if not _both(gap, spots) or not math.isfinite(present.value(gap.symbol)):
            continue
        judged = present.judged.get(gap.key, Judged.NOT_JUDGED)
        role = colour_of(judged, Role.EDGE)
        px = 5.0 if judged.abnormal else 3.0
        block_top = _TOPS[number % 3]
        high, low = spots[gap.upper].y, spots[gap.lower].y
        high, low = min(high, low), max(high, low)
        _slot(sheet, present, axis, gap, spots, high)
        match gap.place:
            case "left":
                x = 232.0
                if nested:
                    # The outer one leaves below its middle, the inner one at its top, so they do not cross.
                    x = 229.0 if gap is beside[-1] else 241.0
                _bracket(sheet, x, high, low, role, px, gap.symbol)
                _leader(
                    sheet,
                    ((222, block_top + 34), (x, _leave(high, low, nested, gap is beside[-1]))),
                    judged,
                    role,
                )
            case "right":
                _bracket(sheet, 706.0, high, low, role, px, gap.symbol)
                _leader(sheet, ((722, block_top + 34), (706, (high + low) / 2)), judged, role)
            case "rail":
                _bracket(sheet, RAIL_BRACKET, high, low, role, px, gap.symbol)
                _across(sheet, block_top + 34, high, low, judged, role)
            case "freezing":
                _bracket(sheet, FREEZE_BRACKET, high, low, role, px, gap.symbol)
                points = ((FREEZE_BRACKET, low), (FREEZE_BRACKET, 636), (712, 636), (722, block_top + 102))
                _leader(sheet, points, judged, role)


def _both(gap: Gap, spots: dict[str, Spot]) -> bool:
    return all(key in spots and spots[key].known for key in (gap.upper, gap.lower))


def _overlap(one: Gap, other: Gap, spots: dict[str, Spot]) -> bool:
    a = sorted((spots[one.upper].y, spots[one.lower].y))
    b = sorted((spots[other.upper].y, spots[other.lower].y))
    return a[0] < b[1] and b[0] < a[1]


def _leave(high: float, low: float, nested: bool, outer: bool) -> float:
    if not nested:
        return (high + low) / 2
    return high + (low - high) * 0.7 if outer else high + 6


def _bracket(sheet: Sheet, x: float, high: float, low: float, role: Role, px: float, symbol: str) -> None:
    if low - high >= LEAST:
        for y in (high, low):
            sheet.add(Path(((x - 7, y), (x + 7, y)), role, px, of=symbol, name="bracket"))
        sheet.add(Path(((x, high), (x, low)), role, px, of=symbol, name="bracket"))
        return
    for y, way in ((high, -1.0), (low, 1.0)):
        sheet.add(Path(((x, y + 26 * way), (x, y + 8 * way)), role, px, of=symbol, name="bracket"))
        head = ((x - 6, y + 12 * way), (x + 6, y + 12 * way), (x, y + 2 * way))
        sheet.add(Path(head, role, filled=True, of=symbol, name="bracket"))


def _leader(sheet: Sheet, points: Sequence[tuple[float, float]], judged: Judged, role: Role) -> None:
    sheet.add(Path(tuple(points), role if judged.abnormal else Role.MARK, 2, name="gap leader"))


def _across(sheet: Sheet, block_y: float, high: float, low: float, judged: Judged, role: Role) -> None:
    """Lead from a bracket between the rails to its block on the left, past figures and labels.

    Inside the rails it keeps clear of the axis figures, in the labels' column clear of the labels.
    """
    figures = [t.box for t in sheet.texts_in(Rect(440, 0, 60, 800))]
    labels = [t.box for t in sheet.texts_in(Rect(240, 0, 130, 800))]
    lines = [
        p.points for p in sheet.items if isinstance(p, Path) and p.name == "leader" and p.points[-1][0] < 400
    ]
    if low - high < LEAST:  # the arrows stand outside the gap, and the leader may leave from them
        high, low = high - 24.0, low + 24.0
    inside = _clearest([high + (low - high) * n / 20 for n in range(21)], figures, [])
    outside = _clearest(
        [inside + d for n in range(60) for d in (4.0 * n, -4.0 * n) if 170 < inside + d < 640],
        labels, [y for points in lines for _, y in points[1:]], good=6.0,
    )  # fmt: skip
    slope = 16.0 if abs(outside - inside) > 1 else 0.0
    _leader(
        sheet,
        (
            (222, block_y), (236, outside), (372, outside), (372 + slope, inside), (RAIL_BRACKET, inside),
        ),
        judged, role,
    )  # fmt: skip


def _clearest(
    candidates: Sequence[float], boxes: Sequence[Rect], lines: Sequence[float], good: float = math.inf
) -> float:
    """Choose the height that is farthest from boxes and lines; the first that is good enough."""

    def clear(y: float) -> float:
        away = [max(box.y - y, y - box.bottom) for box in boxes]
        return min([*away, *(abs(y - line) for line in lines), 99.0])

    best = candidates[0]
    for y in candidates:
        if clear(y) > clear(best):
            best = y
        if clear(best) >= good:
            break
    return best


def _slot(sheet: Sheet, present: Present, axis: Axis, gap: Gap, spots: dict[str, Spot], high: float) -> None:
    """Draw where the moving level of a gap is allowed to be now: it hangs from the other level."""
    band = present.bands.get(gap.key)
    if band is None or not gap.moving or not (math.isfinite(band.low) and math.isfinite(band.high)):
        return
    moves_up = gap.moving == gap.upper
    fixed = spots[gap.lower if moves_up else gap.upper].t
    ends = (fixed + band.low, fixed + band.high) if moves_up else (fixed - band.high, fixed - band.low)
    window = next((w for w in axis.windows if w.holds(ends[0]) or w.holds(ends[1])), None)
    if window is None:
        return
    top = max(window.y_of(ends[1]), window.y)
    bottom = min(window.y_of(ends[0]), window.bottom)
    moving = spots[gap.moving]
    if gap.place == "rail":
        x = RIGHT_RAIL - 16
    elif moving.level.side == "right":
        x = RIGHT_RAIL + 4
    elif moving.level.kind == "air":
        x = LEFT_RAIL - 38
    else:
        x = LEFT_RAIL - 16
    sheet.insert_before_levels(Box(Rect(x, top, 12, bottom - top), Role.BAND, Role.EDGE, 2, name="slot"))
