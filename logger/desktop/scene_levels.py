"""The levels view: all temperatures on one axis, water on its left and refrigerant on its right."""

from __future__ import annotations

import math
from collections.abc import Mapping

from analysis.presets import PRESETS, duration
from analysis.units import Quantity, unit
from logger.desktop.axis import Axis, choose_axis
from logger.desktop.brackets import draw_brackets
from logger.desktop.frame_parts import bottom_bar, top_line
from logger.desktop.gap_block import gap_block
from logger.desktop.gaps import gaps_of, levels_of, mode_of, on_air
from logger.desktop.level_marks import draw_axis, draw_levels, label_places, spots_of
from logger.desktop.present import Present
from logger.desktop.scene import Align, Rect, Role, Scene, Sheet, Target, Text
from logger.desktop.strip import strip
from logger.desktop.support import support_panel

_TOPS = (158.0, 326.0, 494.0)


def expected_levels(present: Present) -> list[float]:
    """Give the temperatures that are to be expected in this phase [K]: those that are there now, and where
    evaporation and condensation will go from the entering water (common practice, no source).
    """  # noqa: D205
    found = [present.level(level.key) for level in levels_of(present.newest)]
    found = [
        present.level(level.key)
        for level in levels_of(present.newest)
        if level.key != "discharge_temperature"
    ]
    source = present.value("source_entering_temperature")
    load = present.value("return_air_temperature" if on_air(present.newest) else "load_entering_temperature")
    heating = mode_of(present.newest) == "heating"
    warm, cold = (load, source) if heating else (source, load)
    if math.isfinite(warm):
        found.append(warm + 14.0)
    if math.isfinite(cold):
        found.append(cold - 12.0)
    return [t for t in found if math.isfinite(t)]


def axis_for(present: Present) -> Axis:
    """Choose the axis for the present phase."""
    set_us = present.elapsed_us
    if present.kind == "review" and present.newest is not None:
        set_us = max(present.newest.settings.from_us, 0)
    return choose_axis(expected_levels(present), set_us)


def levels_complete(present: Present) -> bool:
    """Whether every fitted level has a value, so that an axis chosen now is a good one."""
    fitted = [level for level in levels_of(present.newest) if present.column(level.key) is not None]
    return all(math.isfinite(present.level(level.key)) for level in fitted)


def places_of_labels(present: Present, axis: Axis) -> dict[str, float]:
    """Give the height at which each level's label belongs."""
    spots = spots_of(present, levels_of(present.newest), axis)
    return {key: y for key, (y, _) in label_places(axis, spots).items()}


def levels_scene(
    present: Present, axis: Axis | None = None, labels: Mapping[str, float] | None = None
) -> Scene:
    """Draw the levels view.

    Parameters
    ----------
    axis
        As chosen when the phase began; chosen anew without one.
    labels
        Where labels are on their way to where they belong.
    """
    axis = axis or axis_for(present)
    sheet = Sheet()
    top_line(sheet, present)
    _headings(sheet, present, axis)
    draw_axis(sheet, axis, present.preset, present.freezing_point())
    levels, gaps = levels_of(present.newest), gaps_of(present.newest)
    spots = spots_of(present, levels, axis)
    draw_levels(sheet, present, axis, spots, labels)
    draw_brackets(sheet, present, axis, gaps, spots)
    for number, gap in enumerate(gaps):
        x = 16.0 if number < 3 else 728.0
        gap_block(sheet, present, gap, x, _TOPS[number % 3])
    strip(sheet, present)
    support_panel(sheet, present)
    bottom_bar(sheet, present, "levels")
    return sheet.scene("levels", present.preset, present.missing)


def _headings(sheet: Sheet, present: Present, axis: Axis) -> None:
    per_degree = (
        f"{axis.px_per_k:.0f} px per K" if present.preset == "si" else f"{axis.px_per_k / 1.8:.1f} px per °F"
    )
    told = f"axis set {duration(axis.set_us / 1e6)}: {per_degree}"
    sheet.add(Text(16, 116, told, 16, role=Role.SECOND))
    sheet.targets.append(Target(Rect(424, 96, 96, 540), "refit"))
    water = "water, air" if on_air(present.newest) else "water"
    sheet.add(Text(417, 116, water, 20, True, align=Align.RIGHT))
    sheet.add(Text(526, 116, "refrigerant", 20, True))
    degree = unit(PRESETS[present.preset][Quantity.TEMPERATURE].unit, Quantity.TEMPERATURE).shown
    sheet.add(Text(472, 116, degree, 18, role=Role.SECOND, align=Align.MIDDLE))
