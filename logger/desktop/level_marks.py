"""Rails, axis figures, and each level with its label."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analysis.presets import PresetName
from analysis.units import Quantity, from_si, to_si
from logger.desktop.amounts import amount, point_amount
from logger.desktop.axis import Axis, Window
from logger.desktop.gaps import Level
from logger.desktop.letters import text_width
from logger.desktop.placing import NAME, PRESSURE, Wish, place
from logger.desktop.present import Present
from logger.desktop.scene import Align, Box, Hatch, Path, Rect, Role, Sheet, Text

LEFT_RAIL, RIGHT_RAIL = 424.0, 520.0
OUT = 40.0
"""How far a level stands out from its rail."""
DISCHARGE = Rect(LEFT_RAIL, 130, RIGHT_RAIL - LEFT_RAIL, 30)
LABEL_LEFT, LABEL_RIGHT = (248.0, 366.0), (586.0, 696.0)
SLANT = 18.0


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a level stands."""

    level: Level
    t: float
    """NaN where it has no value."""
    y: float
    window: Window | None
    """None for the discharge, which has its own."""
    beyond: int = 0
    fitted: bool = True

    @property
    def known(self) -> bool:
        """Whether it has a value."""
        return math.isfinite(self.t)


def spots_of(present: Present, levels: Sequence[Level], axis: Axis) -> dict[str, Spot]:
    """Find the place of every level that is fitted."""
    found: dict[str, Spot] = {}
    for level in levels:
        t = present.level(level.key)
        column = present.column(level.key)
        if level.kind == "freezing":
            if math.isfinite(t):
                window, y, beyond = axis.place(t)
                found[level.key] = Spot(level, t, y, window, beyond)
            continue
        if column is None:
            continue
        if level.key == "discharge_temperature":
            found[level.key] = Spot(level, t, DISCHARGE.y + DISCHARGE.h / 2, None)
        elif math.isfinite(t):
            window, y, beyond = axis.place(t)
            found[level.key] = Spot(level, t, y, window, beyond)
        else:
            window = _home(level, axis)
            found[level.key] = Spot(level, t, window.bottom - 8, window)
    return found


def _home(level: Level, axis: Axis) -> Window:
    """Window at whose edge a level without a value leaves its stub."""
    cold = level.key in (
        "evaporating_temperature", "suction_temperature", "source_entering_temperature",
        "source_leaving_temperature",
    )  # fmt: skip
    return axis.windows[-1] if cold else axis.windows[0]


def draw_axis(sheet: Sheet, axis: Axis, preset: PresetName, freezing: float = math.nan) -> None:
    """Draw rails, folds and figures; none stands in the hatch below the freezing point."""
    folds = [DISCHARGE.bottom + 11]
    if len(axis.windows) > 1:
        folds.append((axis.windows[0].bottom + axis.windows[1].y) / 2)
    for window in axis.windows:
        rect = Rect(LEFT_RAIL, window.y, RIGHT_RAIL - LEFT_RAIL, window.height)
        sheet.add(Box(rect, Role.PANEL))
    sheet.add(Box(DISCHARGE, Role.PANEL))
    for top, bottom in [(DISCHARGE.y, DISCHARGE.bottom), *((w.y, w.bottom) for w in axis.windows)]:
        for x in (LEFT_RAIL, RIGHT_RAIL):
            sheet.add(Path(((x, top), (x, bottom)), Role.EDGE, 3, name="rail"))
    for y in folds:
        steps = [LEFT_RAIL - 8 + n * 8 for n in range(15)]
        points = tuple((x, y + (-4.0 if n % 2 else 4.0)) for n, x in enumerate(steps))
        sheet.add(Path(points, Role.EDGE, 2, name="fold"))
    for window in axis.windows:
        _figures(sheet, window, preset, freezing)


def _figures(sheet: Sheet, window: Window, preset: PresetName, freezing: float) -> None:
    name = "degF" if preset == "us" else "degC"
    step, every = (2, 10) if preset == "us" else (1, 5)
    warm = from_si(Quantity.TEMPERATURE, name, window.top_k)
    cold = from_si(Quantity.TEMPERATURE, name, window.bottom_k)
    first = math.ceil(cold / step) * step
    for degree in range(first, math.floor(warm) + 1, step):
        y = window.y_of(to_si(Quantity.TEMPERATURE, name, float(degree)))
        long = degree % every == 0
        reach = 10.0 if long else 6.0
        for x, way in ((LEFT_RAIL, 1.0), (RIGHT_RAIL, -1.0)):
            sheet.add(Path(((x + 2 * way, y), (x + reach * way, y)), Role.MARK, 1.5, name="tick"))
        if math.isfinite(freezing) and -12.0 < y - window.y_of(freezing) < 22.0:
            continue
        if long and window.y + 9 <= y <= window.bottom - 9:
            text = str(degree).replace("-", "−")
            sheet.add(Text(472, y + 6, text, 16, role=Role.SECOND, align=Align.MIDDLE, on=Role.PANEL))


def draw_levels(
    sheet: Sheet, present: Present, axis: Axis, spots: dict[str, Spot], at: Mapping[str, float] | None = None
) -> None:
    """Draw every level, its label and the leader between them; ``at`` says where labels are on their way."""
    for spot in spots.values():
        _mark(sheet, spot)
    for key, (y, below) in label_places(axis, spots).items():
        _label(sheet, present, spots[key], (at or {}).get(key, y), below)


def label_places(axis: Axis, spots: Mapping[str, Spot]) -> dict[str, tuple[float, float]]:
    """Give the height at which each label belongs, and the room below it."""
    found: dict[str, tuple[float, float]] = {}
    discharge = spots.get("discharge_temperature")
    if discharge is not None:
        found["discharge_temperature"] = (discharge.y + 6, NAME)
    for side in ("left", "right"):
        for window in axis.windows:
            here = [s for s in spots.values() if s.level.side == side and s.window is window]
            here.sort(key=lambda s: (s.y, s.level.key))
            wishes = [Wish(s.y, PRESSURE if s.level.pressure and s.known else NAME) for s in here]
            top = window.y - 6 if window is axis.windows[0] else window.y - 4
            bottom = window.bottom + (6 if window is axis.windows[-1] else 2)
            placed = place(wishes, top, bottom)
            for spot, y, below in zip(here, placed.y, placed.below, strict=True):
                found[spot.level.key] = (y, below)
    return found


def _mark(sheet: Sheet, spot: Spot) -> None:
    """Draw the level itself."""
    left = spot.level.side == "left"
    rail = LEFT_RAIL if left else RIGHT_RAIL
    x0, x1 = (rail - OUT, rail) if left else (rail, rail + OUT)
    y, key = spot.y, spot.level.key
    if not spot.known:
        sheet.add(Hatch(Rect(x0, y - 7, OUT, 14), step=7, name="no value"))
        return
    if spot.beyond:
        tip = y + (-9 if spot.beyond > 0 else 9)
        back = y + (1 if spot.beyond > 0 else -1)
        middle = (x0 + x1) / 2
        sheet.add(
            Path(((middle - 9, back), (middle, tip), (middle + 9, back)), Role.TEXT, 3, of=key, name="beyond")
        )
    match spot.level.kind:
        case "freezing":
            x0, x1 = LEFT_RAIL - OUT, RIGHT_RAIL + OUT
            sheet.add(Path(((x0, y), (x1, y)), Role.TEXT, 2, name="freezing"))
            sheet.add(Hatch(Rect(x0, y + 1, x1 - x0, 11), step=9, edged=False, name="freezing"))
        case "saturation":
            for dy in (-3.0, 3.0):
                sheet.add(Path(((x0, y + dy), (x1, y + dy)), Role.TEXT, 2.5, of=key, name="level"))
        case "air":
            sheet.add(Box(Rect(x0, y - 4, OUT, 8), Role.GROUND, Role.TEXT, 2, of=key, name="level"))
        case _:
            sheet.add(Path(((x0, y), (x1, y)), Role.TEXT, 4, of=key, name="level"))


def _label(sheet: Sheet, present: Present, spot: Spot, y: float, below: float) -> None:
    level = spot.level
    left = level.side == "left"
    x0, x1 = LABEL_LEFT if left else LABEL_RIGHT
    begin = LEFT_RAIL - OUT if left else RIGHT_RAIL + OUT
    near = x1 if left else x0 - 8
    far = x0 if left else x1
    dashed = not spot.known
    points = ((begin, spot.y), (near, y), (far, y))
    sheet.add(Path(points, Role.MARK, 1.5, dashed=dashed, name="leader"))
    if spot.known:
        shown = amount(Quantity.TEMPERATURE, spot.t, present.preset, present.expanded(level.key))
        of = "" if level.kind == "freezing" else level.key
        sheet.add(Text(x0, y - 8, shown.text, 22, True, of=of))
    else:
        words = present.silence(level.key if level.key in _points(present) else level.pressure or level.key)
        px = 20 if text_width(words, 20, bold=True) <= x1 - x0 + 14 else 16
        sheet.add(Text(x0, y - 7, words, px, True))
    if below >= 18:
        sheet.add(Text(x0, y + 17, level.label, 16, role=Role.SECOND))
    if below >= PRESSURE and level.pressure and spot.known and present.newest is not None:
        held = present.newest.settings
        shown = point_amount(level.pressure, present.value(level.pressure), held.barometer_pa, present.preset)
        sheet.add(Text(x0, y + 38, shown.text, 16, role=Role.SECOND, of=level.pressure))


def _points(present: Present) -> frozenset[str]:
    return frozenset(present.newest.points) if present.newest is not None else frozenset()
