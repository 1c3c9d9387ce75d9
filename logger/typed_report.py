"""A typed visit as text and as one JSON object: rows, gaps with their look, and what is assumed."""

from __future__ import annotations

import math
from collections.abc import Callable

from analysis.electrical_safety import cautions
from analysis.presets import PresetName, duration, number, show, show_expanded
from analysis.typed_channels import TypedRow
from analysis.typed_heat import HeatStatement
from analysis.typed_visit import Gap, TypedVisit
from analysis.units import Quantity
from logger.typed_sheet import TypedSheet

Clock = Callable[[float], str]
"""Gives the time of day of a row, or an empty text."""


def caution_lines(sheet: TypedSheet) -> list[str]:
    """Give what must be read before the first value."""
    safety = sheet.curve.safety_class if sheet.curve is not None else None
    return ["Before the first value:", *(f"  {c.text}" for c in cautions(safety, gauges=True))]


def result_lines(
    sheet: TypedSheet, found: TypedVisit, preset: PresetName, now_s: float, clock: Clock
) -> list[str]:
    """Write rows, gaps, assumptions and what is missing."""
    lines = [_head(sheet, preset)]
    for row, look in zip(sheet.rows, found.looks, strict=True):
        moment = clock(row.t_s)
        age = duration(max(now_s - row.t_s, 0.0))
        lines.append(f"  {moment:<6}{row.channel.label:<26}{_indicated(row):>14}  {age:>7} ago  {look.words}")
    for present in found.present.values():
        if present.disagrees:
            lines.append(f"  CHECK {present.point.replace('_', ' ')}: {present.disagrees}")
    lines += [_gap(gap, preset) for gap in found.gaps]
    lines += [f"  CHECK {c.sentence} {c.ask}" for c in sheet.conflicts(found)]
    heat = sheet.heat(found)
    if heat is not None and not _pressures(found):
        lines += _heat(sheet, heat, preset)
    wanted = [_wanted(symbol, lacks) for symbol, lacks in found.missing.items() if symbol in _NAMED]
    if wanted:
        lines.append(f"  not worked out: {'; '.join(wanted)}")
    lines += _assumed(sheet, found, preset)
    if found.gaps:
        lines.append("  typed readings are looks, never steady: single look, or repeats after 5 min")
    return lines


_NAMED = {"superheat": "superheat", "subcooling": "subcooling"}


def _head(sheet: TypedSheet, preset: PresetName) -> str:
    name = sheet.refrigerant or "refrigerant not declared"
    barometer = show(Quantity.ABSOLUTE_PRESSURE, sheet.barometer_pa, preset)
    declared = sheet.barometer_text or "standard atmosphere assumed"
    return f"{name} · gauge over {barometer} ({declared})"


def _indicated(row: TypedRow) -> str:
    return f"{number(row.value, 2).rstrip('0').rstrip('.')} {row.channel.si_unit.shown}"


def _gap(gap: Gap, preset: PresetName) -> str:
    value = show(gap.quantity, gap.value, preset)
    u = show_expanded(gap.quantity, gap.u, preset) if math.isfinite(gap.value) else ""
    return f"  {gap.label:<26}{value:>14}  {u:<8} {gap.words}".rstrip()


def _pressures(found: TypedVisit) -> bool:
    return bool({"suction_pressure", "discharge_pressure", "liquid_pressure"} & set(found.present))


def _heat(sheet: TypedSheet, heat: HeatStatement, preset: PresetName) -> list[str]:
    lines = [f"  without gauges: {heat.grade.upper()}: {heat.statement}"]
    for words, value in (
        ("heat of source water", heat.source_heat), ("power", heat.power),
        ("heat on the other side", heat.other_heat),
    ):  # fmt: skip
        if value.known:
            shown, u = (
                show(Quantity.HEAT_RATE, value.value, preset),
                show_expanded(Quantity.HEAT_RATE, value.u, preset),
            )
            lines.append(f"  {words:<26}{shown:>14}  {u} (k = 2)")
    mass = sheet.hose()
    if math.isfinite(mass):
        cost = f"a hose of 1.5 m and 5 mm bore full of liquid holds {1e3 * mass:.0f} g"
        worth = {True: "worth it", False: "not worth it", None: "cannot say"}[heat.worth_hooking_up]
        lines.append(f"  hooking up: {worth}; {cost}")
    return lines


def _wanted(symbol: str, lacks: tuple[str, ...]) -> str:
    return f"{_NAMED[symbol]} (lacks {', '.join(name.replace('_', ' ') for name in lacks)})"


def _assumed(sheet: TypedSheet, found: TypedVisit, preset: PresetName) -> list[str]:
    sources = dict.fromkeys(row.channel.source for row in sheet.rows)
    lines = [f"  {source}" for source in sources]
    effect = sheet.altitude_effect(found)
    if math.isfinite(effect):
        shown = show(Quantity.TEMPERATURE_DIFFERENCE, effect, preset)
        lines.append(f"  no barometer declared: each 300 m of altitude adds {shown} (--barometer '600 m')")
    return lines


def result_facts(sheet: TypedSheet, found: TypedVisit, now_s: float) -> dict[str, object]:
    """Give a typed visit as plain values: SI, standard uncertainties (k = 1), null where not known."""
    safety = sheet.curve.safety_class if sheet.curve is not None else None
    heat = sheet.heat(found)
    return {
        "cautions": [{"code": c.code, "text": c.text} for c in cautions(safety, gauges=True)],
        "refrigerant": sheet.refrigerant or None,
        "mode": sheet.circumstances.mode or None,
        "barometer": sheet.barometer_pa,
        "barometer_declared": bool(sheet.barometer_text),
        "rows": [
            {
                "age_s": max(now_s - row.t_s, 0.0), "point": row.point, "value": row.value,
                "unit": row.channel.unit, "state": look.words, "source": row.channel.source,
            }
            for row, look in zip(sheet.rows, found.looks, strict=True)
        ],
        "derived": {
            gap.symbol: {
                "value": _known(gap.value), "u": _known(gap.u), "state": gap.words, "judged": gap.judged,
                "inputs": list(gap.inputs),
            }
            for gap in found.gaps
        },
        "missing": {symbol: list(lacks) for symbol, lacks in found.missing.items()},
        "conflicts": [
            {"code": c.code, "sentence": c.sentence, "ask": c.ask, "fits": list(c.fits)}
            for c in sheet.conflicts(found)
        ],
        "without_gauges": None
        if heat is None
        else {
            "grade": heat.grade,
            "statement": heat.statement,
            "worth_hooking_up": heat.worth_hooking_up,
            "heat_source": {"value": _known(heat.source_heat.value), "u": _known(heat.source_heat.u)},
            "power": {"value": _known(heat.power.value), "u": _known(heat.power.u)},
            "heat_other": {"value": _known(heat.other_heat.value), "u": _known(heat.other_heat.u)},
            "hose_kg": _known(sheet.hose()),
            "missing": list(heat.missing),
        },
    }  # fmt: skip


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None
