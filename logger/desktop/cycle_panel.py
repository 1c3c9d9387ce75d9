"""The panel beside the pressure-enthalpy chart: each state in figures, and what one kilogram carries."""

from __future__ import annotations

import math

from analysis.cycle import Corner, Cycle
from analysis.phase_enthalpy import PhaseEnthalpy
from analysis.units import Quantity, to_si
from logger.desktop.amounts import amount, difference
from logger.desktop.letters import text_width
from logger.desktop.present import Present
from logger.desktop.scene import Align, Box, Hatch, Rect, Role, Sheet, Text, fitting, wrapped
from logger.desktop.shapes import rule

_X, _W = 952.0, 312.0
_H = Quantity.SPECIFIC_ENTHALPY
POINT_OF = {
    1: "suction_temperature", 2: "discharge_temperature", 3: "liquid_temperature", 4: "liquid_temperature"
}  # fmt: skip
"""The measuring point without which a state has no value."""


def cycle_panel(
    sheet: Sheet, present: Present, cycle: Cycle, enthalpy: PhaseEnthalpy, *, steady: bool, running: bool
) -> None:
    """Draw it."""
    sheet.add(Box(Rect(936, 96, 344, 606), Role.PANEL))
    sheet.add(Text(_X, 122, "States of the refrigerant", 18, True, on=Role.PANEL))
    told = "mean of the last minute, steady" if steady else "at this moment, not steady"
    sheet.add(Text(_X, 146, told, 16, role=Role.SECOND, on=Role.PANEL))
    rule(sheet, _X, 156, _W)
    y = 180.0
    for corner in cycle.corners:
        _corner(sheet, present, corner, y)
        y += 66.0
    rule(sheet, _X, y - 20, _W)
    y = _work(sheet, present, cycle, y + 4.0, running=running)
    rule(sheet, _X, y - 10, _W)
    _notes(sheet, present, enthalpy, y + 14.0)


def _corner(sheet: Sheet, present: Present, corner: Corner, y: float) -> None:
    sheet.add(Text(_X, y, f"{corner.number}  {corner.name}", 18, True, on=Role.PANEL))
    if not corner.known:
        sheet.add(Hatch(Rect(_X + _W - 90, y - 14, 90, 18), step=7, name="no value"))
        for number_, line in enumerate(wrapped(corner.lack, 16, _W, lines=2)):
            sheet.add(Text(_X, y + 20 + 19.0 * number_, line, 16, role=Role.SECOND, on=Role.PANEL))
        return
    shown = amount(_H, corner.h, present.preset, 2.0 * corner.u)
    of = POINT_OF[corner.number]
    sheet.add(Text(_X + _W, y, shown.text, 18, True, align=Align.RIGHT, on=Role.PANEL, of=of))
    assert present.newest is not None, "a state needs readings"
    gauge = corner.p - present.newest.settings.barometer_pa
    parts = [amount(Quantity.GAUGE_PRESSURE, gauge, present.preset).text]
    if math.isfinite(corner.t):
        parts.append(amount(Quantity.TEMPERATURE, corner.t, present.preset).text)
    sheet.add(Text(_X, y + 20, "  ".join(parts), 16, role=Role.SECOND, on=Role.PANEL, of=of))
    told = f"± {difference(_H, 2.0 * corner.u, present.preset, up=True).text}"
    if not math.isfinite(corner.u):
        told = "± not known"
    width = text_width(told, 16)
    if text_width("  ".join(parts), 16) + width + 10 <= _W:
        sheet.add(Text(_X + _W, y + 20, told, 16, role=Role.SECOND, align=Align.RIGHT, on=Role.PANEL))
    if corner.assumed:
        words = fitting(f"assumed {corner.assumed.split(':')[0]}, not measured", 16, _W)
        sheet.add(Text(_X, y + 39, words, 16, role=Role.SECOND, on=Role.PANEL))


def _work(sheet: Sheet, present: Present, cycle: Cycle, y: float, *, running: bool) -> float:
    """Say what one kilogram of refrigerant carries round the circuit."""
    mass = "kg" if present.preset == "si" else "lb"
    sheet.add(Text(_X, y, f"what 1 {mass} carries", 16, True, on=Role.PANEL))
    if not running:
        sheet.add(Text(_X, y + 24, "at rest: nothing goes round", 16, role=Role.SECOND, on=Role.PANEL))
        return y + 48.0
    for label, begin, end in (
        ("evaporator takes up", 4, 1),
        ("compressor adds", 1, 2),
        ("condenser gives off", 3, 2),
    ):
        y += 23.0
        value, u = cycle.rise(begin, end)
        sheet.add(Text(_X, y, label, 16, on=Role.PANEL))
        if not math.isfinite(value):
            sheet.add(Hatch(Rect(_X + _W - 90, y - 13, 90, 16), step=7, name="no value"))
            continue
        text = amount(_H, value, present.preset, 2.0 * u).text
        if math.isfinite(u):
            shown = amount(_H, value, present.preset, 2.0 * u)
            text = f"{shown.number} ± {difference(_H, 2.0 * u, present.preset, up=True).text}"
        sheet.add(Text(_X + _W, y, text, 16, True, align=Align.RIGHT, on=Role.PANEL))
    return y + 28.0


def _notes(sheet: Sheet, present: Present, enthalpy: PhaseEnthalpy, y: float) -> None:
    """Say what the figures count from and how good the tables are."""
    reference = amount(_H, 200e3, present.preset).text
    zero = amount(Quantity.TEMPERATURE, to_si(Quantity.TEMPERATURE, "degC", 0.0), present.preset).text
    worst = difference(_H, max(enthalpy.gas_error, enthalpy.liquid_error), present.preset, up=True).text
    lines = [
        f"{reference}: saturated liquid at {zero.replace('.0 ', ' ')}",
        f"tables good to {worst}",
    ]
    if present.newest is not None and "liquid_pressure" not in present.newest.points:
        lines.append("liquid line at the discharge pressure")
    for line in lines:
        if y > 696:
            return
        sheet.add(Text(_X, y, fitting(line, 16, _W), 16, role=Role.SECOND, on=Role.PANEL))
        y += 20.0
