"""``evenrun sat R410A 118psig``: dew and bubble temperature at a pressure, or the other way round."""

from __future__ import annotations

import argparse
import json
import math

from analysis.barometer import STANDARD_ATMOSPHERE_PA, parse_barometer
from analysis.presets import PresetName, show
from analysis.saturation import RefusedRefrigerant, SaturationCurve, UnknownRefrigerant, refrigerant
from analysis.units import Amount, Quantity, UnitError, parse_amount
from logger.errors import DONE, CommandError


def run(args: argparse.Namespace) -> int:
    """Print the answer."""
    try:
        curve = refrigerant(args.refrigerant)
        amount = parse_amount(
            args.amount, Quantity.GAUGE_PRESSURE, Quantity.ABSOLUTE_PRESSURE, Quantity.TEMPERATURE
        )
    except (UnknownRefrigerant, RefusedRefrigerant, UnitError) as refused:
        raise CommandError(str(refused)) from None
    barometer = _barometer(args.barometer)
    us = amount.unit in ("psig", "psia", "degF", "inHg(g)", "inHg(a)")
    preset: PresetName = args.units or ("us" if us else "si")
    answer = _answer(curve, amount, barometer)
    if args.json:
        print(json.dumps(answer, allow_nan=False))
    else:
        for line in _lines(curve, answer, barometer, bool(args.barometer), preset):
            print(line)
    return DONE


def _barometer(text: str) -> float:
    if not text:
        return STANDARD_ATMOSPHERE_PA
    try:
        return parse_barometer(text)
    except UnitError as refused:
        raise CommandError(f"--barometer: {refused}") from None


def _answer(curve: SaturationCurve, amount: Amount, barometer: float) -> dict[str, object]:
    answer: dict[str, object] = {
        "refrigerant": curve.name,
        "safety_class": curve.safety_class,
        "source": curve.source,
        "barometer": barometer,
    }
    if amount.quantity is Quantity.TEMPERATURE:
        found = {"p_dew": curve.p_dew(amount.si), "p_bubble": curve.p_bubble(amount.si)}
        answer["temperature"] = amount.si
    else:
        gauge = amount.quantity is Quantity.GAUGE_PRESSURE
        pressure = amount.si + (barometer if gauge else 0.0)
        found = {"t_dew": curve.t_dew(pressure), "t_bubble": curve.t_bubble(pressure)}
        answer["pressure"] = pressure
    if not all(math.isfinite(value) for value in found.values()):
        low, high = curve.p_min, curve.p_max
        raise CommandError(
            f"{curve.name} is known from {low / 1e5:.2f} to {high / 1e5:.1f} bar(a); "
            f"{amount.value:g} {amount.unit} is outside."
        )
    return answer | found


def _lines(
    curve: SaturationCurve, answer: dict[str, object], barometer: float, declared: bool, preset: PresetName
) -> list[str]:
    def number(key: str) -> float:
        value = answer[key]
        assert isinstance(value, float)
        return value

    lines = [f"{curve.name}, safety class {curve.safety_class or 'not known'}"]
    if "pressure" in answer:
        dew = show(Quantity.TEMPERATURE, number("t_dew"), preset)
        bubble = show(Quantity.TEMPERATURE, number("t_bubble"), preset)
        gauge = show(Quantity.GAUGE_PRESSURE, number("pressure") - barometer, preset)
        lines.append(f"at {gauge}: dew {dew}, bubble {bubble}")
    else:
        dew, bubble = (
            show(Quantity.GAUGE_PRESSURE, number(key) - barometer, preset) for key in ("p_dew", "p_bubble")
        )
        lines.append(
            f"at {show(Quantity.TEMPERATURE, number('temperature'), preset)}: dew {dew}, bubble {bubble}"
        )
    local = show(Quantity.ABSOLUTE_PRESSURE, barometer, preset)
    lines.append(f"gauge over {local}" + ("" if declared else " (standard atmosphere; give --barometer)"))
    lines.append(f"source: {curve.source}")
    return lines
