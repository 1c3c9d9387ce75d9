"""Guards: readings that cannot all be true of a machine as it is declared.

A guard names the conflict and asks; it never recomputes in silence. Heat flows from warm to cold: what
condenses is warmer than the water it warms, what evaporates is colder than the water it cools, superheated
gas is above and subcooled liquid below saturation. A violation beyond twice its standard uncertainty is a
conflict.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from analysis.conflicts import (
    COVERAGE,
    LEAST_KELVIN,
    SERVICE_LIST,
    Conflict,
    celsius,
    gauge_words,
    high_side,
    load_in,
    saturation_conflicts,
    slope_at,
)
from analysis.evidence import Visit
from analysis.presets import show
from analysis.saturation import refrigerant
from analysis.units import Quantity

__all__ = ["Conflict", "guards"]

SAME_CHANNEL = 0.01
"""Suction and discharge this close, relative, come from one channel."""
LEAST_RATIO = 1.2
"""A running compressor shows more (secondary analysis of NIST laboratory series, where one pressure column
was a copy of the other)."""
LINE_LOSS = 2.0
"""A line may lose or gain so much on its way to the clamp [K]; common practice, no source."""
STANDING = 35e3
"""Standing pressure this far from saturation has not equalised, or something else is in it [Pa]; 5 psi.
Common practice, no source."""


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
    if visit.running and not visit.just_started:
        found += _pressures(visit)
        found += _water(visit)
        if not any(conflict.code in ("suction_above_discharge", "one_channel") for conflict in found):
            found += saturation_conflicts(visit)
        found += _clamps(visit)
    found += _standing(visit)
    return tuple(found)


def _pressures(visit: Visit) -> Iterator[Conflict]:
    low, high = visit.get("suction_pressure"), high_side(visit)
    if low is None or high is None:
        return
    ratio = high.value / low.value if low.value > 0.0 else math.nan
    shown = f"suction {gauge_words(low, visit)}, high side {gauge_words(high, visit)}"
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
                f"In {visit.mode} the {side} side {expected}, "
                f"but in is {celsius(entering)}, out {celsius(leaving)}.",
                "Were the two probes exchanged, or does the machine run in the other mode?",
            )


def _clamps(visit: Visit) -> Iterator[Conflict]:
    """Find line temperatures that a clamp on its pipe cannot show."""
    source, load = visit.get("source_entering_temperature"), load_in(visit)
    cold, warm = (source, load) if visit.mode == "heating" else (load, source)
    liquid, suction = visit.get("liquid_temperature"), visit.get("suction_temperature")
    ambient = visit.get("ambient_temperature")
    if not visit.mode:
        return
    if liquid is not None and warm is not None:
        below = warm.value - liquid.value
        if below > LINE_LOSS + COVERAGE * math.hypot(liquid.u, warm.u):
            yield Conflict(
                "liquid_below_entering",
                f"The liquid line at {celsius(liquid)} is colder than what cooled it, {celsius(warm)}.",
                "Does the liquid clamp sit on its pipe, and do both probes sit where they are assigned?",
            )
    if suction is not None and cold is not None and ambient is not None:
        above = suction.value - cold.value
        if above > LINE_LOSS + COVERAGE * math.hypot(suction.u, cold.u) and abs(
            suction.value - ambient.value
        ) < max(1.0, COVERAGE * math.hypot(suction.u, ambient.u)):
            yield Conflict(
                "suction_clamp_at_ambient",
                f"The suction line shows {celsius(suction)}, warmer than what was cooled ({celsius(cold)}) "
                f"and as warm as the surrounding air ({celsius(ambient)}).",
                "Has the suction clamp fallen off its pipe?",
            )


def _standing(visit: Visit) -> Iterator[Conflict]:
    """Standing pressure at rest against saturation at the machine's temperature."""
    pressure, t, curve = visit.get("standing_pressure"), visit.get("resting_temperature"), visit.curve
    if pressure is None or t is None or curve is None:
        return
    expected = float(curve.p_bubble(t.value))
    if not math.isfinite(expected):
        return
    slope = slope_at(curve, expected)
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
        f"Standing pressure {gauge_words(pressure, visit)} is "
        f"{show(Quantity.PRESSURE_DIFFERENCE, abs(excess))} {far} saturation at {celsius(t)}.",
        f"Which is it: {cause}?{also}",
        tuple(fits),
    )
