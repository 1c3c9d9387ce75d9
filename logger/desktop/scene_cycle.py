"""The cycle view: pressure over enthalpy, the saturation dome, and the four states of the circuit in it."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from analysis.cycle import Corner, Cycle, Measured, cycle_of
from analysis.presets import PRESETS, PresetName, number
from analysis.units import Quantity, from_si, to_si, unit
from analysis.verdict import State
from logger.desktop.amounts import difference
from logger.desktop.cycle_chart import PLOT, Chart, chart_of, isotherms_of
from logger.desktop.cycle_panel import POINT_OF, cycle_panel
from logger.desktop.frame_parts import bottom_bar, top_line
from logger.desktop.history import ROW_US, History
from logger.desktop.present import Present
from logger.desktop.scene import Align, Box, Path, Rect, Role, Scene, Sheet, Text, wrapped
from logger.desktop.state_line import StateLine, state_line, with_alarm

MEAN_ROWS = 60
_H = Quantity.SPECIFIC_ENTHALPY
_PRESSURES = {
    "si": (-0.7, -0.5, 0.0, 1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 20.0, 30.0, 40.0, 60.0),
    "us": (-10.0, -5.0, 0.0, 10.0, 20.0, 40.0, 70.0, 100.0, 150.0, 200.0, 300.0, 400.0, 600.0, 900.0),
}
_STEPS = (10, 20, 25, 50, 100, 200, 500, 1000)


def cycle_scene(present: Present, history: History) -> Scene:
    """Draw the cycle view; words stand where there is no refrigerant, or no table of its enthalpy."""
    sheet = Sheet()
    held = present.newest.settings if present.newest is not None else None
    name = held.refrigerant if held is not None else ""
    chart = chart_of(name) if name else None
    line = state_line(present)
    if chart is None or present.newest is None:
        top_line(sheet, present, line)
        _no_chart(sheet, present, name)
        bottom_bar(sheet, present, "cycle")
        return sheet.scene("cycle", present.preset, present.missing)
    steady = _steady(present)
    cycle = cycle_of(
        chart.curve, chart.enthalpy,
        suction=_measured(present, history, "suction_pressure", "suction_temperature", steady),
        discharge=_measured(present, history, "discharge_pressure", "discharge_temperature", steady),
        liquid=_measured(
            present, history,
            "liquid_pressure" if "liquid_pressure" in present.newest.points else "discharge_pressure",
            "liquid_temperature", steady,
        ),
    )  # fmt: skip
    running = State(int(present.newest.judgement.overall.state[-1])) is not State.REST if (
        present.newest.judgement.overall.state.size
    ) else True  # fmt: skip
    top_line(sheet, present, with_alarm(present, _said(line, cycle, running=running)))
    sheet.add(Box(PLOT, Role.PANEL))
    for _, _, points in isotherms_of(name, present.preset):
        line_ = tuple(chart.place(*point) for point in points)
        sheet.add(Path(line_, Role.HAIRLINE, 1.5, dashed=True, name="isotherm"))
    _axes(sheet, chart, present)
    _dome(sheet, chart)
    _circuit(sheet, chart, cycle, running=running)
    _distances(sheet, present, chart, cycle)
    _temperatures(sheet, chart, name, present.preset)
    cycle_panel(sheet, present, cycle, chart.enthalpy, steady=steady, running=running)
    bottom_bar(sheet, present, "cycle")
    return sheet.scene("cycle", present.preset, present.missing)


def _said(line: StateLine, cycle: Cycle, *, running: bool) -> StateLine:
    """Say what cannot be, before anything else is told of a running machine."""
    if running and cycle.impossible:
        return StateLine(line.sign, line.words, f"CHECK refrigerant and probes: {cycle.impossible}")
    return line


def _no_chart(sheet: Sheet, present: Present, name: str) -> None:
    if present.newest is None:
        heading, told = (
            "no reading yet",
            "the circuit is drawn as soon as pressures and line temperatures come",
        )
    elif not name:
        heading = "refrigerant not declared"
        told = "without it no pressure has a saturation temperature: declare it in the set-up or on Session"
    else:
        heading = f"no enthalpy of {name}"
        told = (
            "its pressure-temperature table gives saturation only; superheat and subcooling stand on Levels, "
            "and a chart of enthalpy needs an equation of state"
        )
    sheet.add(Text(16, 150, heading, 20, True))
    for number_, text in enumerate(wrapped(told, 16, 1000)):
        sheet.add(Text(16, 180 + 22.0 * number_, text, 16, role=Role.SECOND))


def _steady(present: Present) -> bool:
    newest = present.newest
    assert newest is not None, "asked for only where there are results"
    state = newest.judgement.overall.state
    return bool(state.size) and State(int(state[-1])) is State.STEADY


def _measured(
    present: Present, history: History, pressure: str, temperature: str, steady: bool
) -> tuple[Measured, Measured]:
    """Give pressure and temperature of a line: the mean of the last minute when steady, else of now."""

    def one(point: str) -> Measured:
        value = present.value(point)
        if not math.isfinite(value):
            return Measured(lack=present.lack_of(point))
        series = history.series.get(point)
        if steady and series is not None:
            upto = present.elapsed_us // ROW_US + 1
            last = series.samples[max(upto - MEAN_ROWS, 0) : upto]
            known = last[np.isfinite(last)]
            value = float(known.mean()) if known.size else value
        return Measured(value, present.expanded(point) / 2.0)

    return one(pressure), one(temperature)


def _axes(sheet: Sheet, chart: Chart, present: Present) -> None:
    assert present.newest is not None, "axes need a barometer"
    barometer = present.newest.settings.barometer_pa
    gauge = PRESETS[present.preset][Quantity.GAUGE_PRESSURE].unit
    above = PLOT.bottom + 40.0
    for value in _PRESSURES[present.preset]:
        p = to_si(Quantity.GAUGE_PRESSURE, gauge, value) + barometer
        if not chart.p_low <= p <= chart.p_high:
            continue
        _, y = chart.place(chart.h_low, p)
        if above - y < 30.0:
            continue
        above = y
        shown = unit(gauge, Quantity.GAUGE_PRESSURE).shown
        sheet.add(Path(((PLOT.x - 6, y), (PLOT.x, y)), Role.MARK, 2, name="tick"))
        text = f"{number(value, 0 if value == round(value) else 1)} {shown}"
        sheet.add(Text(PLOT.x - 10, y + 5, text, 16, role=Role.SECOND, align=Align.RIGHT))
    name = PRESETS[present.preset][_H].unit
    low, high = (from_si(_H, name, h) for h in (chart.h_low, chart.h_high))
    step = next(step for step in _STEPS if step / (high - low) * PLOT.w >= 92.0)
    for n in range(math.ceil(low / step), math.floor(high / step) + 1):
        x, _ = chart.place(to_si(_H, name, float(n * step)), chart.p_low)
        sheet.add(Path(((x, PLOT.bottom), (x, PLOT.bottom + 6)), Role.MARK, 2, name="tick"))
        text = f"{number(float(n * step), 0)} {unit(name, _H).shown}"
        if PLOT.x + 30 < x < PLOT.right - 40:
            sheet.add(Text(x, PLOT.bottom + 24, text, 16, role=Role.SECOND, align=Align.MIDDLE))
    told = "across: enthalpy; upwards: pressure, its logarithm"
    sheet.add(Text(PLOT.x, PLOT.bottom + 52, told, 16, role=Role.SECOND))


def _dome(sheet: Sheet, chart: Chart) -> None:
    for line in (chart.bubble, chart.dew):
        sheet.add(Path(tuple(chart.place(*point) for point in line), Role.EDGE, 3, name="dome"))
    for x, y, words, way in (
        (PLOT.x + 10, PLOT.y + 24, "liquid", Align.LEFT),
        (PLOT.x + PLOT.w / 3, PLOT.bottom - 12, "liquid and gas", Align.MIDDLE),
        (PLOT.right - 10, PLOT.bottom - 12, "gas", Align.RIGHT),
    ):
        sheet.add(Text(x, y, words, 16, role=Role.SECOND, align=way, on=Role.PANEL))


def _temperatures(sheet: Sheet, chart: Chart, name: str, preset: PresetName) -> None:
    """Name each isotherm inside the dome, above its line; none over another text or the circuit."""
    dome = [chart.place(*point) for point in chart.bubble]
    for text, t, _ in isotherms_of(name, preset):
        p = float(chart.curve.p_bubble(t))
        if not (math.isfinite(p) and chart.holds(float(chart.curve.h_bubble(p)), p)):
            continue
        x, y = chart.place(float(chart.curve.h_bubble(p)), p)
        # Upwards the bubble line leans over the place where the label stands.
        begin = max((across for across, down in dome if y - 24 <= down <= y), default=x)
        label = Text(max(begin, x) + 10, y - 6, text, 16, role=Role.SECOND, on=Role.PANEL)
        inside = PLOT.y + 22 < y < PLOT.bottom - 34 and label.box.right < PLOT.right - 8
        if inside and not sheet.texts_in(label.box) and not _crossed(sheet, label.box):
            sheet.add(label)


def _crossed(sheet: Sheet, box: Rect) -> bool:
    """Whether a line of the chart or a state of the circuit runs through a place."""
    near = Rect(box.x - 4, box.y - 2, box.w + 8, box.h + 3)
    for item in sheet.items:
        if not (isinstance(item, Path) and item.name in ("circuit", "isotherm", "dome", "distance", "end")):
            continue
        for (x0, y0), (x1, y1) in pairwise(item.points):
            count = int(max(abs(x1 - x0), abs(y1 - y0)) / 4.0) + 1
            steps = (n / count for n in range(count + 1))
            if any(near.contains(x0 + s * (x1 - x0), y0 + s * (y1 - y0)) for s in steps):
                return True
    return any(
        isinstance(item, Box) and item.name == "state" and min(item.rect.overlap(near)) > 0
        for item in sheet.items
    )


def _circuit(sheet: Sheet, chart: Chart, cycle: Cycle, *, running: bool) -> None:
    """Draw the states, and between those that are known the way the refrigerant goes."""
    ends = [*cycle.corners, cycle.corners[0]]
    for one, other in pairwise(ends):
        if running and one.known and other.known:
            assumed = bool(other.assumed)
            points = (chart.place(one.h, one.p), chart.place(other.h, other.p))
            sheet.add(Path(points, Role.TEXT, 3, dashed=assumed, name="circuit"))
    known = [corner for corner in cycle.corners if corner.known]
    for corner in known:
        _state(sheet, chart, corner)
    for corner in known:
        _number(sheet, chart, corner)


_BESIDE = {
    1: ((22, 0), (22, 22), (0, 26)), 2: ((22, -20), (0, -24), (-22, -20)),
    3: ((-20, 22), (-22, 0), (0, 26)), 4: ((-20, 22), (0, 26), (-22, 0)),
}  # fmt: skip
"""Where a state's number may stand beside it [px], the best place first."""


def _state(sheet: Sheet, chart: Chart, corner: Corner) -> None:
    """Draw a state; an assumed one is open and dashed."""
    x, y = chart.place(corner.h, corner.p)
    square = Rect(x - 6, y - 6, 12, 12)
    fill = Role.GROUND if corner.assumed else Role.TEXT
    point = POINT_OF[corner.number]
    sheet.add(Box(square, fill, Role.TEXT, 2, dashed=bool(corner.assumed), of=point, name="state"))
    if not chart.holds(corner.h, corner.p):
        way = 1.0 if corner.h > chart.h_high else -1.0
        sheet.add(Path(((x - 9 * way, y - 9), (x, y), (x - 9 * way, y + 9)), Role.TEXT, 3, name="beyond"))


def _number(sheet: Sheet, chart: Chart, corner: Corner) -> None:
    """Write a state's number where no other state and no other number stands."""
    x, y = chart.place(corner.h, corner.p)
    states = [i.rect for i in sheet.items if isinstance(i, Box) and i.name == "state"]
    found: list[Text] = []
    for dx, dy in _BESIDE[corner.number]:
        across = min(max(x + dx, PLOT.x + 14), PLOT.right - 14)
        down = min(max(y + dy, PLOT.y + 14), PLOT.bottom - 36)
        tag = Text(across, down + 7, str(corner.number), 20, True, align=Align.MIDDLE, on=Role.PANEL)
        free = not sheet.texts_in(tag.box) and not any(min(tag.box.overlap(s)) > -2 for s in states)
        found.insert(0 if free else len(found), tag)
        if free:
            break
    sheet.add(found[0])


def _distances(sheet: Sheet, present: Present, chart: Chart, cycle: Cycle) -> None:
    """Draw superheat and subcooling as the distances that they are, with their values."""
    suction, _, liquid, _ = cycle.corners
    for symbol, corner, saturated, below in (
        ("superheat", suction, chart.curve.h_dew, True), ("subcooling", liquid, chart.curve.h_bubble, False)
    ):  # fmt: skip
        value = present.value(symbol)
        if not (corner.known and math.isfinite(value)):
            continue
        away = 1.0 if below else -1.0
        x0, y = chart.place(float(saturated(corner.p)), corner.p)
        x1, _ = chart.place(corner.h, corner.p)
        bar = y + away * 22.0
        if not PLOT.y + 20 < bar < PLOT.bottom - 24:
            continue
        for x in (x0, x1):
            sheet.add(Path(((x, y + away * 8), (x, bar + away * 6)), Role.EDGE, 2, name="end"))
        sheet.add(Path(((x0, bar), (x1, bar)), Role.TEXT, 5, of=symbol, name="distance"))
        words = f"{symbol} {difference(Quantity.TEMPERATURE_DIFFERENCE, value, present.preset).text}"
        right = max(x0, x1)
        label = (
            Text(right + 10, bar + 20, words, 18, True, on=Role.PANEL, of=symbol)
            if below
            else Text(min(x0, x1) - 10, bar + 2, words, 18, True, align=Align.RIGHT, on=Role.PANEL, of=symbol)
        )
        if label.left < PLOT.x + 4:
            label = Text(right + 12, bar - 8, words, 18, True, on=Role.PANEL, of=symbol)
        if label.box.right > PLOT.right - 4:
            label = Text(
                PLOT.right - 8, bar + 24, words, 18, True, align=Align.RIGHT, on=Role.PANEL, of=symbol
            )
        sheet.add(label)
