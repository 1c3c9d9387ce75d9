"""``evenrun water``: properties of a loop liquid, flow from a timed container, heat moved."""

from __future__ import annotations

import argparse
import json
import math

from analysis.flow_routes import flow_from_timed_container
from analysis.liquids import Liquid, LiquidError, parse_liquid
from analysis.presets import PresetName, show, show_expanded
from analysis.units import Quantity, UnitError, parse_amount
from analysis.water import TRADE_FACTOR_ANTIFREEZE, TRADE_FACTOR_WATER, heat_factor, heat_from_liquid
from logger.errors import DONE, CommandError

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
    facts = _facts(liquid, temperatures, flow, u_flow, route)
    if args.json:
        print(json.dumps(facts, allow_nan=False))
        return DONE
    print("\n".join(_lines(liquid, facts, preset)))
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
    liquid: Liquid, temperatures: list[float], flow: float, u_flow: float, route: str
) -> dict[str, object]:
    facts: dict[str, object] = {
        "liquid": liquid.text,
        "freezing_point": liquid.freezing_point,
        "u_freezing_point": liquid.u_freezing_point,
        "source": liquid.source,
    }
    if temperatures:
        mean = sum(temperatures) / len(temperatures)
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
    if math.isfinite(flow):
        facts |= {"flow": flow, "u_flow": u_flow if math.isfinite(u_flow) else None, "route": route}
        if len(temperatures) == 2:
            facts["heat"] = float(heat_from_liquid(liquid, flow, *temperatures))
    return facts


def _lines(liquid: Liquid, facts: dict[str, object], preset: PresetName) -> list[str]:
    def value(key: str) -> float:
        found = facts[key]
        return float(found) if isinstance(found, float) else math.nan

    freezing = show(Quantity.TEMPERATURE, value("freezing_point"), preset)
    u_freezing = show_expanded(Quantity.TEMPERATURE, value("u_freezing_point"), preset)
    lines = [f"{liquid.text}: freezes at {freezing} {u_freezing} (k = 2)"]
    if "temperature" in facts:
        at = show(Quantity.TEMPERATURE, value("temperature"), preset)
        lines.append(
            f"at {at}: {value('density'):.0f} kg/m³, {value('specific_heat') / 1e3:.3f} kJ/(kg K), "
            f"{value('viscosity') * 1e3:.2f} mPa s"
        )
        round_figures = f"{TRADE_FACTOR_WATER:.0f} water, {TRADE_FACTOR_ANTIFREEZE:.0f} antifreeze"
        factor = f"heat factor {value('heat_factor'):.1f} {_HEAT_FACTOR_UNIT}"
        lines.append(f"{factor} (the trade's round figures: {round_figures})")
    if "flow" in facts:
        u = (
            f" {show_expanded(Quantity.VOLUME_FLOW, value('u_flow'), preset)} (k = 2)"
            if facts["u_flow"]
            else ""
        )
        lines.append(f"flow {show(Quantity.VOLUME_FLOW, value('flow'), preset)}{u}, {facts['route']}")
    if "heat" in facts:
        heat = value("heat")
        side = "given to the refrigerant" if heat >= 0 else "taken from the refrigerant"
        lines.append(f"heat {show(Quantity.HEAT_RATE, abs(heat), preset)}, {side}")
    if liquid.caution:
        lines.append(liquid.caution)
    lines.append(f"source: {liquid.source}")
    return lines
