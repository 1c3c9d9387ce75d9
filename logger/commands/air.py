"""``evenrun air``: the state of moist air from dry bulb and one of wet bulb, relative humidity, dew point."""

from __future__ import annotations

import argparse
import json
import math
from collections.abc import Callable

import numpy as np

from analysis import air
from analysis.barometer import STANDARD_ATMOSPHERE_PA, parse_barometer
from analysis.elementwise import FloatArray
from analysis.presets import PresetName, show
from analysis.uncertainty import propagate
from analysis.units import Quantity, UnitError, parse_amount
from logger.errors import DONE, CommandError
from logger.given_uncertainty import plus_minus, standard_uncertainty

_BTU_PER_LB = 2326.0  # J/kg in Btu(IT)/lb, NIST SP 811


def run(args: argparse.Namespace) -> int:
    """Print the answer."""
    given = [name for name in ("wet_bulb", "humidity", "dew_point") if getattr(args, name)]
    if len(given) != 1:
        raise CommandError("Give exactly one of --wet-bulb, --humidity and --dew-point.")
    try:
        t = parse_amount(args.dry_bulb, Quantity.TEMPERATURE)
        p = parse_barometer(args.barometer) if args.barometer else STANDARD_ATMOSPHERE_PA
        kind = Quantity.RELATIVE_HUMIDITY if given[0] == "humidity" else Quantity.TEMPERATURE
        other = parse_amount(getattr(args, given[0]), kind).si
    except UnitError as refused:
        raise CommandError(str(refused)) from None
    u_t = standard_uncertainty(args.u_temperature, Quantity.TEMPERATURE, 0.0, "--u-temperature")
    u_other = u_t
    if kind is Quantity.RELATIVE_HUMIDITY:
        u_other = standard_uncertainty(args.u_humidity, kind, other, "--u-humidity")
    facts, uncertain = _state(given[0], (t.si, other), (u_t, u_other), p)
    facts["barometer"] = p
    if not all(math.isfinite(value) for value in facts.values()):
        raise CommandError(
            "There is no such air: a wet bulb or dew point lies above the dry bulb, or the like."
        )
    if args.json:
        known = {f"u_{name}": u if math.isfinite(u) else None for name, u in uncertain.items()}
        print(json.dumps(facts | known, allow_nan=False))
        return DONE
    preset: PresetName = args.units or ("us" if t.unit == "degF" else "si")
    print("\n".join(_lines(facts, uncertain, preset, bool(args.barometer))))
    used = "--u-humidity" if kind is Quantity.RELATIVE_HUMIDITY else ""
    lacking = [
        option
        for option, text in (("--u-temperature", args.u_temperature), (used, args.u_humidity))
        if option and not text
    ]
    if lacking:
        print(f"± (k = 2) for ordinary instruments; give your own with {' and '.join(lacking)}")
    return DONE


def _humidity_ratio(name: str, t: FloatArray, other: FloatArray, p: float) -> FloatArray:
    if name == "humidity":
        return np.asarray(air.humidity_ratio_from_relative_humidity(t, other, p))
    if name == "wet_bulb":
        return np.asarray(air.humidity_ratio_from_wet_bulb(t, other, p))
    return np.where(other <= t, air.humidity_ratio_from_dew_point(other, p), np.nan)


def _state(
    name: str, values: tuple[float, float], u: tuple[float, float], p: float
) -> tuple[dict[str, float], dict[str, float]]:
    """Work out the state of the air, each value with its standard uncertainty; dry bulb and the other given.

    Both thermometers' errors are taken as independent.
    """
    of_state: dict[str, Callable[[FloatArray, FloatArray], FloatArray]] = {
        "dry_bulb": lambda t, w: t,
        "humidity_ratio": lambda t, w: w,
        "relative_humidity": lambda t, w: np.asarray(air.relative_humidity(t, w, p)),
        "wet_bulb": lambda t, w: np.asarray(air.wet_bulb(t, w, p)),
        "dew_point": lambda t, w: np.asarray(air.dew_point(w, p)),
        "enthalpy": lambda t, w: np.asarray(air.enthalpy(t, w)),
        "specific_volume": lambda t, w: np.asarray(air.specific_volume(t, w, p)),
    }
    facts, uncertain = {}, {}
    for symbol, function in of_state.items():

        def whole(
            t: FloatArray, x: FloatArray, of: Callable[[FloatArray, FloatArray], FloatArray] = function
        ) -> FloatArray:
            return of(t, _humidity_ratio(name, t, x, p))

        value, found = propagate(whole, [np.array([x]) for x in values], [np.array([x]) for x in u])
        facts[symbol], uncertain[symbol] = float(value[0]), float(found[0])
    return facts, uncertain


def _lines(
    facts: dict[str, float], uncertain: dict[str, float], preset: PresetName, declared: bool
) -> list[str]:
    def degrees(key: str) -> str:
        u = plus_minus(Quantity.TEMPERATURE, uncertain[key], preset)
        return show(Quantity.TEMPERATURE, facts[key], preset) + u

    def of(key: str, factor: float, decimals: int, offset: float = 0.0) -> str:
        u, step = uncertain[key] * factor, 10.0**-decimals
        up = f"{math.ceil(2.0 * u / step - 1e-9) * step:.{decimals}f}" if math.isfinite(u) else "not known"
        return f"{facts[key] * factor + offset:.{decimals}f} ± {up}"

    if preset == "us":
        enthalpy = f"{of('enthalpy', 1.0 / _BTU_PER_LB, 2, 7.686)} Btu/lb (zero at 0 °F)"
        volume = f"{of('specific_volume', 16.018463, 3)} ft³/lb"
        ratio = f"{of('humidity_ratio', 1.0, 6)} lb/lb"
    else:
        enthalpy = f"{of('enthalpy', 1e-3, 1)} kJ/kg (zero at 0 °C)"
        volume = f"{of('specific_volume', 1.0, 3)} m³/kg"
        ratio = f"{of('humidity_ratio', 1e3, 2)} g/kg"
    local = show(Quantity.ABSOLUTE_PRESSURE, facts["barometer"], preset)
    return [
        f"dry bulb {degrees('dry_bulb')}, wet bulb {degrees('wet_bulb')}, dew point {degrees('dew_point')}",
        f"relative humidity {of('relative_humidity', 100.0, 1)} %, humidity ratio {ratio}",
        f"enthalpy {enthalpy}, volume {volume}, each per mass of dry air",
        f"at {local}" + ("" if declared else " (standard atmosphere; give --barometer)"),
        "source: ASHRAE Handbook Fundamentals, chapter 1",
    ]
