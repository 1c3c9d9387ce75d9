"""Conflicts between readings: what one is, and saturation against lines and water.

Superheated gas is above and subcooled liquid below saturation; what condenses is warmer than the water it
warms, what evaporates colder than the water it cools.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator
from dataclasses import dataclass

from analysis.evidence import Seen, Visit
from analysis.presets import show, show_gauge
from analysis.refrigerants import RefusedRefrigerant, UnknownRefrigerant
from analysis.saturation import SaturationCurve, refrigerant
from analysis.units import Quantity

COVERAGE = 2.0
LEAST_KELVIN = 0.3
"""A smaller violation is nobody's slip [K]."""
SERVICE_LIST = (
    "R22", "R134a", "R410A", "R407C", "R32", "R454B", "R452B", "R404A", "R507A", "R290", "R513A", "R12",
)  # fmt: skip
"""Refrigerants looked through when the declared one cannot be."""


@dataclass(frozen=True, slots=True)
class Conflict:
    """Readings that contradict each other."""

    code: str
    sentence: str
    ask: str
    """The question to the person, with what would solve it."""
    fits: tuple[str, ...] = ()
    """Refrigerants that every reading would allow."""


@dataclass(frozen=True, slots=True)
class _Violation:
    """How far two temperatures stand the wrong way round [K]."""

    code: str
    amount: float
    sentence: str
    doubtful: bool = False


def saturation_conflicts(visit: Visit) -> Iterator[Conflict]:
    """Conflicts of saturation with the lines and the water, and what would solve them."""
    curve = visit.curve
    if curve is None:
        return
    violations = list(_violations(visit, curve))
    if not violations:
        return
    worst = max(violations, key=lambda v: (not v.doubtful, v.amount))
    ways: list[str] = []
    fits = _fitting(visit)
    if fits:
        ways.append(f"every reading would fit {' or '.join(fits)}")
    code = (
        "refrigerant_scale" if worst.code.startswith("scale") and fits else worst.code.removeprefix("scale_")
    )
    for shift, words in ((visit.barometer_pa, "absolute pressure was entered as gauge"),
                         (-visit.barometer_pa, "gauge pressure was entered as absolute")):  # fmt: skip
        # What is true lies below what is stored if absolute was taken for gauge, and above it the other way.
        other = _shifted(visit, -shift)
        if _possible(other) and not any(not v.doubtful for v in _violations(other, curve)):
            ways.append(f"it would also fit if {words}")
            if not fits:
                code = "gauge_or_absolute"
    asked = f"What is the machine filled with ({visit.refrigerant or curve.name} is declared)? "
    yield Conflict(
        code,
        " ".join(violation.sentence for violation in violations),
        (asked if fits or worst.code.startswith("scale") else "Which probe is wrong? ")
        + (
            "; ".join(ways)[:1].upper() + "; ".join(ways)[1:] + "."
            if ways
            else "Check probes and their places."
        ),
        fits,
    )


def _violations(visit: Visit, curve: SaturationCurve) -> Iterator[_Violation]:
    heating = visit.mode == "heating"
    low, high = visit.get("suction_pressure"), high_side(visit)
    load_in = visit.get("load_entering_temperature") or visit.get("return_air_temperature")
    load_out = visit.get("load_leaving_temperature") or visit.get("supply_air_temperature")
    source_in, source_out = visit.get("source_entering_temperature"), visit.get("source_leaving_temperature")
    cold_in = (source_in if heating else load_in) if visit.mode else None
    warm_in, warm_out = (
        ((load_in, load_out) if heating else (source_in, source_out)) if visit.mode else (None, None)
    )
    if low is not None:
        dew, u = float(curve.t_dew(low.value)), low.u * slope_at(curve, low.value)
        suction = visit.get("suction_temperature")
        words = f"evaporating {show(Quantity.TEMPERATURE, dew)}"
        yield from _order(
            "scale_evaporating", dew, u, cold_in, f"{words} is above what is cooled, entering at"
        )
        yield from _order("superheat_negative", dew, u, suction, f"{words} is above the suction line at")
    if high is not None:
        bubble, u = float(curve.t_bubble(high.value)), high.u * slope_at(curve, high.value)
        liquid, discharge = visit.get("liquid_temperature"), visit.get("discharge_temperature")
        words = f"condensing {show(Quantity.TEMPERATURE, bubble)}"
        yield from _order(
            "scale_condensing", bubble, u, warm_in, f"{words} is below the entering water or air at", -1.0
        )
        yield from _order(
            "subcooling_negative", bubble, u, liquid, f"{words} is below the liquid line at", -1.0
        )
        dew = float(curve.t_dew(high.value))
        gas = f"the discharge line is colder than saturation at {show(Quantity.TEMPERATURE, dew)}:"
        yield from _order("discharge_below_saturation", dew, u, discharge, gas)
        if warm_in is not None and bubble >= warm_in.value:
            below = (
                f"{words} is below the leaving water or air, which only a desuperheating zone can just do:"
            )
            for violation in _order("scale_condensing_leaving", bubble + 3.0, u, warm_out, below, -1.0):
                yield dataclasses.replace(violation, doubtful=True)


def _order(
    code: str, t: float, u: float, other: Seen | None, words: str, sign: float = 1.0
) -> Iterator[_Violation]:
    """Say that ``t`` should not be above (sign 1) or below (sign -1) another temperature."""
    if other is None or not math.isfinite(t):
        return
    amount = sign * (t - other.value)
    if amount > max(COVERAGE * math.hypot(u, other.u), LEAST_KELVIN):
        yield _Violation(code, amount, f"{words[0].upper()}{words[1:]} {celsius(other)}.")


def _fitting(visit: Visit) -> tuple[str, ...]:
    """Name the refrigerants that no reading contradicts and that leave usual distances to the water."""
    fits = []
    for name in SERVICE_LIST:
        try:
            curve = refrigerant(name)
        except (UnknownRefrigerant, RefusedRefrigerant):
            continue
        if name != visit.refrigerant and not any(_violations(visit, curve)) and _usual(visit, curve):
            fits.append(name)
    return tuple(fits)


def _usual(visit: Visit, curve: SaturationCurve) -> bool:
    """Whether saturation lies within 30 K of the water it exchanges heat with."""
    heating = visit.mode == "heating"
    low, high = visit.get("suction_pressure"), high_side(visit)
    load_in = visit.get("load_entering_temperature") or visit.get("return_air_temperature")
    source_in = visit.get("source_entering_temperature")
    cold, warm = (source_in, load_in) if heating else (load_in, source_in)
    distances = []
    if low is not None and cold is not None:
        distances.append(cold.value - float(curve.t_dew(low.value)))
    if high is not None and warm is not None:
        distances.append(float(curve.t_bubble(high.value)) - warm.value)
    return bool(distances) and all(0.0 < distance < 30.0 for distance in distances)


def _shifted(visit: Visit, shift: float) -> Visit:
    values = {
        name: dataclasses.replace(seen, value=seen.value + shift)
        if name in ("suction_pressure", "discharge_pressure", "liquid_pressure")
        else seen
        for name, seen in visit.values.items()
    }
    return dataclasses.replace(visit, values=values)


def _possible(visit: Visit) -> bool:
    pressures = [visit.get("suction_pressure"), high_side(visit)]
    return all(seen is None or seen.value > 0.3 * visit.barometer_pa for seen in pressures)


def load_in(visit: Visit) -> Seen | None:
    """Give what enters the load side, water or air."""
    return visit.get("load_entering_temperature") or visit.get("return_air_temperature")


def high_side(visit: Visit) -> Seen | None:
    """Give the high-side pressure, the liquid line first."""
    return visit.get("liquid_pressure") or visit.get("discharge_pressure")


def slope_at(curve: SaturationCurve, p: float) -> float:
    """Give the slope of the dew line at a pressure [K/Pa]; 0 where it is not known."""
    slope = float(curve.dtdp_dew(p))
    return slope if math.isfinite(slope) else 0.0


def celsius(seen: Seen) -> str:
    """Write a temperature for a sentence."""
    return show(Quantity.TEMPERATURE, seen.value)


def gauge_words(seen: Seen, visit: Visit) -> str:
    """Write a pressure as the gauge on the machine shows it."""
    return show_gauge(seen.value, visit.barometer_pa)
