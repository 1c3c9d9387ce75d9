"""Guards: readings that cannot all be true of a machine as it is declared.

A guard names the conflict and asks; it never recomputes in silence. Heat flows from warm to cold: what
condenses is warmer than the water it warms, what evaporates is colder than the water it cools, superheated
gas is above and subcooled liquid below saturation. A violation beyond twice its standard uncertainty is a
conflict.
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
SAME_CHANNEL = 0.01
"""Suction and discharge this close, relative, come from one channel."""
LEAST_RATIO = 1.2
"""A running compressor shows more (secondary analysis of NIST laboratory series, where one pressure column
was a copy of the other)."""
STANDING = 35e3
"""Standing pressure this far from saturation has not equalised, or something else is in it [Pa]; 5 psi.
Common practice, no source."""
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


def guards(visit: Visit) -> tuple[Conflict, ...]:
    """Find every conflict of a visit.

    Parameters
    ----------
    visit
        Measuring points suffice; derived values are not used.

    Examples
    --------
    R-22 read on an R-410A scale, cooling with water at 85 °F: it would condense at 70 °F.

    >>> from analysis.evidence import seen_value
    >>> typed = {"discharge_pressure": 200 * 6894.757 + 101325.0, "source_entering_temperature": 302.6}
    >>> seen = {name: seen_value(name, value) for name, value in typed.items()}
    >>> found = guards(Visit(seen, "cooling", "R410A", refrigerant("R410A")))
    >>> found[0].code, "R22" in found[0].fits
    ('refrigerant_scale', True)
    """
    found: list[Conflict] = []
    if visit.running:
        found += _pressures(visit)
        found += _water(visit)
        if not any(conflict.code in ("suction_above_discharge", "one_channel") for conflict in found):
            found += _saturation(visit)
    found += _standing(visit)
    return tuple(found)


def _pressures(visit: Visit) -> Iterator[Conflict]:
    low, high = visit.get("suction_pressure"), _high_side(visit)
    if low is None or high is None:
        return
    ratio = high.value / low.value if low.value > 0.0 else math.nan
    shown = f"suction {_gauge(low, visit)}, high side {_gauge(high, visit)}"
    if abs(ratio - 1.0) < SAME_CHANNEL:
        yield Conflict(
            "one_channel",
            f"{shown}: the same pressure on both sides of a running compressor.",
            "Does one channel feed both points, or does the machine stand still?",
        )
    elif low.value - high.value > COVERAGE * math.hypot(low.u, high.u):
        yield Conflict(
            "suction_above_discharge",
            f"{shown}: the suction side is above the high side.",
            "Were the two gauges or channels exchanged?",
        )
    elif ratio < LEAST_RATIO:
        yield Conflict(
            "low_ratio",
            f"{shown}: a ratio of {ratio:.2f} is less than a running compressor shows ({LEAST_RATIO:g}).",
            "Does the machine run, and does each channel sit where it is assigned?",
        )


def _water(visit: Visit) -> Iterator[Conflict]:
    for side, names, warms in (
        ("source", ("source_entering_temperature", "source_leaving_temperature"), visit.mode == "cooling"),
        ("load", ("load_entering_temperature", "load_leaving_temperature"), visit.mode == "heating"),
        ("air", ("return_air_temperature", "supply_air_temperature"), visit.mode == "heating"),
    ):
        entering, leaving = visit.get(names[0]), visit.get(names[1])
        if not visit.mode or entering is None or leaving is None:
            continue
        wrong = (entering.value - leaving.value) * (1.0 if warms else -1.0)
        if wrong > max(COVERAGE * math.hypot(entering.u, leaving.u), LEAST_KELVIN):
            expected = "warms" if warms else "cools"
            yield Conflict(
                f"{side}_probes_swapped",
                f"In {visit.mode} the {side} side {expected}, but in is {_t(entering)}, out {_t(leaving)}.",
                "Were the two probes exchanged, or does the machine run in the other mode?",
            )


def _saturation(visit: Visit) -> Iterator[Conflict]:
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
    low, high = visit.get("suction_pressure"), _high_side(visit)
    load_in = visit.get("load_entering_temperature") or visit.get("return_air_temperature")
    load_out = visit.get("load_leaving_temperature") or visit.get("supply_air_temperature")
    source_in, source_out = visit.get("source_entering_temperature"), visit.get("source_leaving_temperature")
    cold_in = (source_in if heating else load_in) if visit.mode else None
    warm_in, warm_out = (
        ((load_in, load_out) if heating else (source_in, source_out)) if visit.mode else (None, None)
    )
    if low is not None:
        dew, u = float(curve.t_dew(low.value)), low.u * _slope(curve, low.value)
        suction = visit.get("suction_temperature")
        words = f"evaporating {show(Quantity.TEMPERATURE, dew)}"
        yield from _order(
            "scale_evaporating", dew, u, cold_in, f"{words} is above what is cooled, entering at"
        )
        yield from _order("superheat_negative", dew, u, suction, f"{words} is above the suction line at")
    if high is not None:
        bubble, u = float(curve.t_bubble(high.value)), high.u * _slope(curve, high.value)
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
        yield _Violation(code, amount, f"{words[0].upper()}{words[1:]} {_t(other)}.")


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
    low, high = visit.get("suction_pressure"), _high_side(visit)
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
    pressures = [visit.get("suction_pressure"), _high_side(visit)]
    return all(seen is None or seen.value > 0.3 * visit.barometer_pa for seen in pressures)


def _standing(visit: Visit) -> Iterator[Conflict]:
    """Standing pressure at rest against saturation at the machine's temperature."""
    pressure, t, curve = visit.get("standing_pressure"), visit.get("resting_temperature"), visit.curve
    if pressure is None or t is None or curve is None:
        return
    expected = float(curve.p_bubble(t.value))
    if not math.isfinite(expected):
        return
    slope = _slope(curve, expected)
    u = math.hypot(pressure.u, t.u / slope if slope > 0.0 else 0.0)
    excess = pressure.value - expected
    if abs(excess) <= STANDING + COVERAGE * u:
        return
    far = "above" if excess > 0.0 else "below"
    fits = []
    for name in SERVICE_LIST:
        other = refrigerant(name)
        p = float(other.p_bubble(t.value))
        if name != visit.refrigerant and math.isfinite(p) and abs(pressure.value - p) <= STANDING:
            fits.append(name)
    cause = (
        "non-condensable gas, another refrigerant, or a machine not yet equalised"
        if excess > 0.0
        else "no liquid left, another refrigerant, or a machine not yet equalised"
    )
    also = f" It would be saturation of {' or '.join(fits)}." if fits else ""
    yield Conflict(
        "standing_pressure",
        f"Standing pressure {_gauge(pressure, visit)} is "
        f"{show(Quantity.PRESSURE_DIFFERENCE, abs(excess))} {far} saturation at {_t(t)}.",
        f"Which is it: {cause}?{also}",
        tuple(fits),
    )


def _high_side(visit: Visit) -> Seen | None:
    return visit.get("liquid_pressure") or visit.get("discharge_pressure")


def _slope(curve: SaturationCurve, p: float) -> float:
    slope = float(curve.dtdp_dew(p))
    return slope if math.isfinite(slope) else 0.0


def _t(seen: Seen) -> str:
    return show(Quantity.TEMPERATURE, seen.value)


def _gauge(seen: Seen, visit: Visit) -> str:
    return show_gauge(seen.value, visit.barometer_pa)
