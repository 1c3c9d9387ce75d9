"""``evenrun water``: properties of a loop liquid, flow from a timed container, heat moved."""

from __future__ import annotations

import argparse
import json
import math

import numpy as np

from analysis.flow_routes import flow_from_timed_container
from analysis.liquids import Liquid, LiquidError, parse_liquid
from analysis.presets import PresetName, show, show_expanded
from analysis.uncertainty import propagate
from analysis.units import Quantity, UnitError, parse_amount
from analysis.water import TRADE_FACTOR_ANTIFREEZE, TRADE_FACTOR_WATER, heat_factor, heat_from_liquid
from logger.errors import DONE, CommandError
from logger.given_uncertainty import plus_minus, standard_uncertainty

_U_CONTAINER = 0.02
"""Standard uncertainty of a container's volume, relative (common practice, no source)."""
_U_WATCH_S = 0.5
"""Standard uncertainty of a watch started and stopped by hand [s] (common practice, no source)."""
_HEAT_FACTOR_UNIT = "Btu/h per gpm and °F"


def run(args: argparse.Namespace) -> int:
    """Print the answer."""
    try:
        liquid = parse_liquid(args.fluid)
        temperatures = [
            parse_amount(text, Quantity.TEMPERATURE).si for text in (args.entering, args.leaving) if text
        ]
        flow, u_flow, route = _flow(args)
    except (LiquidError, UnitError) as refused:
        raise CommandError(str(refused)) from None
    preset: PresetName = args.units or "si"
    if math.isfinite(flow) and not math.isfinite(u_flow):
        u_flow = standard_uncertainty(args.u_flow, Quantity.VOLUME_FLOW, flow, "--u-flow")
    u_t = standard_uncertainty(args.u_temperature, Quantity.TEMPERATURE, 0.0, "--u-temperature")
    facts = _facts(liquid, temperatures, u_t, flow, u_flow, route)
    if args.json:
        print(json.dumps(facts, allow_nan=False))
        return DONE
    print("\n".join(_lines(liquid, facts, preset)))
    assumed = [
        option
        for option, needed in (
            ("--u-temperature", bool(temperatures) and not args.u_temperature),
            ("--u-flow", bool(args.flow) and not args.u_flow),
        )
        if needed
    ]
    if assumed:
        print(f"± (k = 2) for ordinary instruments; give your own with {' and '.join(assumed)}")
    return DONE


def _flow(args: argparse.Namespace) -> tuple[float, float, str]:
    if args.flow and args.container:
        raise CommandError("Give --flow or --container, not both.")
    if args.flow:
        return parse_amount(args.flow, Quantity.VOLUME_FLOW).si, math.nan, "as given"
    if args.seconds and not args.container:
        raise CommandError("--seconds needs the volume that was filled: --container 5gal.")
    if not args.container:
        return math.nan, math.nan, ""
    volume = parse_amount(args.container, Quantity.VOLUME).si
    if not args.seconds:
        raise CommandError("--container needs --seconds, best three runs: --seconds 50 49 51.")
    if not all(math.isfinite(seconds) and seconds > 0 for seconds in args.seconds):
        raise CommandError("--seconds needs times above 0 s, best three runs: --seconds 50 49 51.")
    runs = len(args.seconds)
    found = flow_from_timed_container(
        [volume] * runs, args.seconds, u_volume=_U_CONTAINER * volume, u_time=_U_WATCH_S
    )
    notes = f" ({'; '.join(found.notes)})" if found.notes else ""
    return float(found.q_v), float(found.u), f"timed container, {runs} runs{notes}"


def _facts(
    liquid: Liquid, temperatures: list[float], u_t: float, flow: float, u_flow: float, route: str
) -> dict[str, object]:
    facts: dict[str, object] = {
        "liquid": liquid.text,
        "freezing_point": liquid.freezing_point,
        "u_freezing_point": liquid.u_freezing_point,
        "source": liquid.source,
    }
    if temperatures:
        mean = sum(temperatures) / len(temperatures)
        u_mean = u_t / math.sqrt(len(temperatures))
        found = {
            "temperature": mean,
            "density": float(liquid.density(mean)),
            "specific_heat": float(liquid.specific_heat(mean)),
            "viscosity": float(liquid.viscosity(mean)),
            "heat_factor": float(heat_factor(liquid, mean)),
        }
        if not all(math.isfinite(value) for value in found.values()):
            raise CommandError(f"{liquid.text} is not known at {mean - 273.15:.1f} °C; is it liquid there?")
        facts |= found
        # The source's own spread is known for density times specific heat alone; the others carry that of the
        # temperature.
        facts["u_temperature"] = u_mean
        for name, function in (
            ("density", liquid.density), ("specific_heat", liquid.specific_heat),
            ("viscosity", liquid.viscosity), ("heat_factor", lambda t: heat_factor(liquid, t)),
        ):  # fmt: skip
            _, u = propagate(
                lambda t, of=function: np.asarray(of(t)), [np.array([mean])], [np.array([u_mean])]
            )
            own = liquid.u_heat_capacity * found[name] if name == "heat_factor" else 0.0
            facts[f"u_{name}"] = _known(math.hypot(float(u[0]), own))
    if math.isfinite(flow):
        facts |= {"flow": flow, "u_flow": u_flow if math.isfinite(u_flow) else None, "route": route}
        if len(temperatures) == 2:
            facts |= _heat(liquid, flow, u_flow, temperatures, u_t)
    return facts


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _heat(
    liquid: Liquid, flow: float, u_flow: float, temperatures: list[float], u_t: float
) -> dict[str, object]:
    """Give change and heat with their uncertainty, that of the liquid's heat capacity included."""
    heat, u = propagate(
        lambda q, t_in, t_out, share: share * np.asarray(heat_from_liquid(liquid, q, t_in, t_out)),
        [np.array([x]) for x in (flow, *temperatures, 1.0)],
        [np.array([x]) for x in (u_flow, u_t, u_t, liquid.u_heat_capacity)],
    )
    return {
        "change": temperatures[0] - temperatures[1],
        "u_change": math.sqrt(2.0) * u_t,
        "heat": float(heat[0]),
        "u_heat": _known(float(u[0])),
    }


def _upwards(u: float, decimals: int) -> str:
    """Write an expanded uncertainty behind a value of the same unit, rounded up."""
    if not math.isfinite(u):
        return " ± not known"
    step = 10.0**-decimals
    return f" ± {math.ceil(2.0 * u / step - 1e-9) * step:.{decimals}f}"


def _lines(liquid: Liquid, facts: dict[str, object], preset: PresetName) -> list[str]:
    def value(key: str) -> float:
        found = facts[key]
        return float(found) if isinstance(found, float) else math.nan

    freezing = show(Quantity.TEMPERATURE, value("freezing_point"), preset)
    u_freezing = show_expanded(Quantity.TEMPERATURE, value("u_freezing_point"), preset)
    lines = [f"{liquid.text}: freezes at {freezing} {u_freezing} (k = 2)"]
    if "temperature" in facts:
        at = show(Quantity.TEMPERATURE, value("temperature"), preset)
        at += plus_minus(Quantity.TEMPERATURE, value("u_temperature"), preset)
        lines.append(
            f"at {at}: {value('density'):.0f}{_upwards(value('u_density'), 0)} kg/m³, "
            f"{value('specific_heat') / 1e3:.3f}{_upwards(value('u_specific_heat') / 1e3, 3)} kJ/(kg K), "
            f"{value('viscosity') * 1e3:.2f}{_upwards(value('u_viscosity') * 1e3, 2)} mPa s"
        )
        round_figures = f"{TRADE_FACTOR_WATER:.0f} water, {TRADE_FACTOR_ANTIFREEZE:.0f} antifreeze"
        factor = (
            f"heat factor {value('heat_factor'):.1f}{_upwards(value('u_heat_factor'), 1)} {_HEAT_FACTOR_UNIT}"
        )
        lines.append(f"{factor} (the trade's round figures: {round_figures})")
    if "flow" in facts:
        u = f" {show_expanded(Quantity.VOLUME_FLOW, value('u_flow'), preset)} (k = 2)"
        lines.append(f"flow {show(Quantity.VOLUME_FLOW, value('flow'), preset)}{u}, {facts['route']}")
    if "heat" in facts:
        heat = value("heat")
        side = "given to the refrigerant" if heat >= 0 else "taken from the refrigerant"
        change = show(Quantity.TEMPERATURE_DIFFERENCE, abs(value("change")), preset)
        u_change = show_expanded(Quantity.TEMPERATURE_DIFFERENCE, value("u_change"), preset)
        lines.append(f"water change {change} {u_change} (k = 2)")
        u = show_expanded(Quantity.HEAT_RATE, value("u_heat"), preset)
        lines.append(f"heat {show(Quantity.HEAT_RATE, abs(heat), preset)} {u} (k = 2), {side}")
    if liquid.caution:
        lines.append(liquid.caution)
    lines.append(f"source: {liquid.source}")
    return lines
