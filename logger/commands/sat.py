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
from logger.given_uncertainty import plus_minus, standard_uncertainty


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
    u = standard_uncertainty(args.u, amount.quantity, amount.si, "--u")
    answer = _answer(curve, amount, barometer, u)
    if args.json:
        print(json.dumps(answer, allow_nan=False))
    else:
        for line in _lines(curve, answer, barometer, bool(args.barometer), preset):
            print(line)
        if not args.u:
            print("± (k = 2) for an ordinary instrument; give your own with --u")
    return DONE


def _barometer(text: str) -> float:
    if not text:
        return STANDARD_ATMOSPHERE_PA
    try:
        return parse_barometer(text)
    except UnitError as refused:
        raise CommandError(f"--barometer: {refused}") from None


def _answer(curve: SaturationCurve, amount: Amount, barometer: float, u: float) -> dict[str, object]:
    answer: dict[str, object] = {
        "refrigerant": curve.name,
        "safety_class": curve.safety_class,
        "source": curve.source,
        "barometer": barometer,
    }
    if amount.quantity is Quantity.TEMPERATURE:
        x, curves = amount.si, {"p_dew": curve.p_dew, "p_bubble": curve.p_bubble}
        answer |= {"temperature": x, "u_temperature": u}
    else:
        gauge = amount.quantity is Quantity.GAUGE_PRESSURE
        pressure = amount.si + (barometer if gauge else 0.0)
        x, curves = pressure, {"t_dew": curve.t_dew, "t_bubble": curve.t_bubble}
        answer |= {"pressure": pressure, "u_pressure": u}
    found = {name: float(function(x)) for name, function in curves.items()}
    if not all(math.isfinite(value) for value in found.values()):
        low, high = curve.p_min, curve.p_max
        raise CommandError(
            f"{curve.name} is known from {low / 1e5:.2f} to {high / 1e5:.1f} bar(a); "
            f"{amount.value:g} {amount.unit} is outside."
        )
    for name, function in curves.items():
        # GUM 5.1.3, note 2, in plain Python: this command starts without numpy.
        u_found = 0.5 * abs(float(function(x + u)) - float(function(x - u)))
        answer[f"u_{name}"] = u_found if math.isfinite(u_found) else None
    return answer | found


def _lines(
    curve: SaturationCurve, answer: dict[str, object], barometer: float, declared: bool, preset: PresetName
) -> list[str]:
    def number(key: str) -> float:
        value = answer[key]
        assert isinstance(value, float)
        return value

    def with_u(key: str, quantity: Quantity, value: float) -> str:
        u = answer[f"u_{key}"]
        return show(quantity, value, preset) + plus_minus(
            quantity, u if isinstance(u, float) else math.nan, preset
        )

    lines = [f"{curve.name}, safety class {curve.safety_class or 'not known'}"]
    if "pressure" in answer:
        dew, bubble = (with_u(key, Quantity.TEMPERATURE, number(key)) for key in ("t_dew", "t_bubble"))
        gauge = with_u("pressure", Quantity.GAUGE_PRESSURE, number("pressure") - barometer)
        lines.append(f"at {gauge}: dew {dew}, bubble {bubble}")
    else:
        dew, bubble = (
            with_u(key, Quantity.GAUGE_PRESSURE, number(key) - barometer) for key in ("p_dew", "p_bubble")
        )
        at = with_u("temperature", Quantity.TEMPERATURE, number("temperature"))
        lines.append(f"at {at}: dew {dew}, bubble {bubble}")
    local = show(Quantity.ABSOLUTE_PRESSURE, barometer, preset)
    lines.append(f"gauge over {local}" + ("" if declared else " (standard atmosphere; give --barometer)"))
    lines.append(f"source: {curve.source}")
    return lines
