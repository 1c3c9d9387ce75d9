"""``evenrun air``: the state of moist air from dry bulb and one of wet bulb, relative humidity, dew point."""

from __future__ import annotations

import argparse
import json
import math

from analysis import air
from analysis.barometer import STANDARD_ATMOSPHERE_PA, parse_barometer
from analysis.presets import PresetName, show
from analysis.units import Quantity, UnitError, parse_amount
from logger.errors import DONE, CommandError

_BTU_PER_LB = 2326.0  # J/kg in Btu(IT)/lb, NIST SP 811


def run(args: argparse.Namespace) -> int:
    """Print the answer."""
    given = [name for name in ("wet_bulb", "humidity", "dew_point") if getattr(args, name)]
    if len(given) != 1:
        raise CommandError("Give exactly one of --wet-bulb, --humidity and --dew-point.")
    try:
        t = parse_amount(args.dry_bulb, Quantity.TEMPERATURE)
        p = parse_barometer(args.barometer) if args.barometer else STANDARD_ATMOSPHERE_PA
        w = _humidity_ratio(given[0], getattr(args, given[0]), t.si, p)
    except UnitError as refused:
        raise CommandError(str(refused)) from None
    facts = {
        "dry_bulb": t.si,
        "barometer": p,
        "humidity_ratio": w,
        "relative_humidity": float(air.relative_humidity(t.si, w, p)),
        "wet_bulb": float(air.wet_bulb(t.si, w, p)),
        "dew_point": float(air.dew_point(w, p)),
        "enthalpy": float(air.enthalpy(t.si, w)),
        "specific_volume": float(air.specific_volume(t.si, w, p)),
    }
    if not all(math.isfinite(value) for value in facts.values()):
        raise CommandError(
            "There is no such air: a wet bulb or dew point lies above the dry bulb, or the like."
        )
    if args.json:
        print(json.dumps(facts, allow_nan=False))
        return DONE
    preset: PresetName = args.units or ("us" if t.unit == "degF" else "si")
    print("\n".join(_lines(facts, preset, bool(args.barometer))))
    return DONE


def _humidity_ratio(name: str, text: str, t: float, p: float) -> float:
    if name == "humidity":
        share = parse_amount(text, Quantity.RELATIVE_HUMIDITY).si
        return float(air.humidity_ratio_from_relative_humidity(t, share, p))
    other = parse_amount(text, Quantity.TEMPERATURE).si
    if name == "wet_bulb":
        return float(air.humidity_ratio_from_wet_bulb(t, other, p))
    return float(air.humidity_ratio_from_dew_point(other, p)) if other <= t else math.nan


def _lines(facts: dict[str, float], preset: PresetName, declared: bool) -> list[str]:
    def degrees(key: str) -> str:
        return show(Quantity.TEMPERATURE, facts[key], preset)

    if preset == "us":
        enthalpy = f"{facts['enthalpy'] / _BTU_PER_LB + 7.686:.2f} Btu/lb (zero at 0 °F)"
        volume = f"{facts['specific_volume'] * 16.018463:.3f} ft³/lb"
        ratio = f"{facts['humidity_ratio']:.6f} lb/lb"
    else:
        enthalpy = f"{facts['enthalpy'] / 1e3:.1f} kJ/kg (zero at 0 °C)"
        volume = f"{facts['specific_volume']:.3f} m³/kg"
        ratio = f"{facts['humidity_ratio'] * 1e3:.2f} g/kg"
    local = show(Quantity.ABSOLUTE_PRESSURE, facts["barometer"], preset)
    return [
        f"dry bulb {degrees('dry_bulb')}, wet bulb {degrees('wet_bulb')}, dew point {degrees('dew_point')}",
        f"relative humidity {facts['relative_humidity'] * 100:.1f} %, humidity ratio {ratio}",
        f"enthalpy {enthalpy}, volume {volume}, each per mass of dry air",
        f"at {local}" + ("" if declared else " (standard atmosphere; give --barometer)"),
        "source: ASHRAE Handbook Fundamentals, chapter 1",
    ]
