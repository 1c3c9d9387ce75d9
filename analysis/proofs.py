"""Proofs: stated tests with their limits, evidence and verdict: met, not met, cannot say.

The first is the water. No finding about the refrigerant becomes active before it is met.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from analysis.evidence import START_S, Line, Seen, Visit, seen_value
from analysis.finding_levels import COMMON, judge
from analysis.heat_balance import CLOSES_WITHIN, DOUBTFUL_WITHIN, LIMITS_SOURCE
from analysis.run_capacitor import LOWEST_RATIO
from analysis.unit_card import UnitCard
from analysis.units import Quantity

COVERAGE = 2.0
LEAST_FREEZE_MARGIN = 2.0
"""Below this the machine must be ready to be stopped [K]; common practice, no source."""
ROUTES_AGREE_WITHIN = 0.18
"""Two routes of flow further apart are not both right [1]; our choice, twice what a good route has."""


class Verdict(StrEnum):
    """What a proof says."""

    MET = "met"
    NOT_MET = "not met"
    CANNOT_SAY = "cannot say"


@dataclass(frozen=True, slots=True)
class Proof:
    """One stated test."""

    code: str
    statement: str
    verdict: Verdict
    lines: tuple[Line, ...]
    missing: tuple[str, ...] = ()
    reason: str = ""


def prove_water(visit: Visit, card: UnitCard | None = None, reference: Visit | None = None) -> Proof:
    """Prove the water: flow with its route, water change and heat agree, and nothing is about to freeze.

    Parameters
    ----------
    visit
        With its derived values (:func:`analysis.finding_values.with_values`).
    card
        Bands of flow and water change.
    reference
        A healthy run of this machine; its own flow and change go before the card.
    """
    code, statement = "water_proven", "Enough water flows, by a stated route, and its heat agrees"
    if visit.water_proven_by:
        return Proof(code, statement, Verdict.MET, (), (), f"vouched for by {visit.water_proven_by}")
    lines: list[Line] = []
    missing: list[str] = []
    failed: list[str] = []
    unsure: list[str] = []
    flow = visit.get("source_volume_flow")
    if flow is None:
        missing.append(
            "source flow with its route: meter, coil pressure drop with the unit's table, timed container"
        )
    for symbol in ("source_volume_flow", "source_change"):
        if symbol == "source_change" and visit.get(symbol) is None:
            missing.append("water temperatures in and out, with the declared mode")
        _band_line(symbol, visit, card, reference, lines, missing, failed, unsure)
    agreement, balance = visit.get("flow_agreement"), visit.get("balance")
    if agreement is not None:
        low, high = 1.0 - ROUTES_AGREE_WITHIN, 1.0 + ROUTES_AGREE_WITHIN
        lines.append(
            Line.of(agreement, low, high, COMMON, "flow over the flow that the heat balance asks for")
        )
        if abs(agreement.value - 1.0) > max(ROUTES_AGREE_WITHIN, COVERAGE * agreement.u):
            failed.append("the flow and the heat do not agree")
    elif balance is not None:
        lines.append(Line.of(balance, -DOUBTFUL_WITHIN, DOUBTFUL_WITHIN, LIMITS_SOURCE, "heat balance"))
        if abs(balance.value) > max(DOUBTFUL_WITHIN, COVERAGE * balance.u):
            failed.append("the heat balance does not close")
    _water_above_freezing(visit, lines, failed)
    _loop_filled(visit, card, lines, failed)
    if visit.flow_route is not None:
        route = visit.flow_route.value.replace("_", " ")
        note = f"flow by {route}" + (
            "" if visit.flow_route.independent_of_coil else ", which cannot judge scale"
        )
    else:
        note = "flow without a route"
    if failed:
        return Proof(
            code, statement, Verdict.NOT_MET, tuple(lines), tuple(missing), f"{'; '.join(failed)} ({note})"
        )
    if missing or unsure:
        reason = "; ".join(unsure) or "not enough is measured"
        return Proof(code, statement, Verdict.CANNOT_SAY, tuple(lines), tuple(missing), f"{reason} ({note})")
    return Proof(code, statement, Verdict.MET, tuple(lines), (), note)


def _water_above_freezing(visit: Visit, lines: list[Line], failed: list[str]) -> None:
    """Hold the leaving water against its freezing point.

    Evaporation's own margin is a proof of its own, since a starved evaporator is no fault of the water.
    """
    leaving, liquid = visit.get("source_leaving_temperature"), visit.source_liquid
    if visit.mode != "heating" or visit.just_started or leaving is None or liquid is None:
        return  # in a start the water is on its way: not judged
    u = math.hypot(leaving.u, liquid.u_freezing_point)
    margin = seen_value(
        "leaving_water_above_freezing", leaving.value - liquid.freezing_point, u, leaving.points
    )
    lines.append(Line.of(margin, LEAST_FREEZE_MARGIN, math.inf, COMMON))
    if margin.value < LEAST_FREEZE_MARGIN:
        failed.append("the leaving water is close to freezing")


def _loop_filled(visit: Visit, card: UnitCard | None, lines: list[Line], failed: list[str]) -> None:
    """Hold a pressurised loop's standing pressure, where it was read, against its band."""
    judged = judge("source_static_gauge", visit, card, None)
    if judged is None:
        return
    seen, level = judged.seen, judged.level
    lines.append(Line.of(seen, level.low, level.high, level.source, "loop pressure, pump at rest"))
    if level.low - seen.value > math.hypot(seen.u, level.blur):
        failed.append("the loop's standing pressure is low: air can be drawn in")


def _band_line(
    symbol: str,
    visit: Visit,
    card: UnitCard | None,
    reference: Visit | None,
    lines: list[Line],
    missing: list[str],
    failed: list[str],
    unsure: list[str],
) -> None:
    judged = judge(symbol, visit, card, reference)
    seen = visit.get(symbol)
    words = symbol.replace("_", " ").replace("volume flow", "flow")
    if seen is None:
        return
    if judged is None:
        missing.append(f"a band for the {words}: unit card or healthy reference")
        return
    level = judged.level
    lines.append(Line.of(seen, level.low, level.high, level.source, words))
    if level.kind == "common practice" and symbol == "source_volume_flow":
        missing.append(f"a band for the {words}: unit card or healthy reference")
    # Too little water is what must be excluded: a flow above its band or a change below it (less heat moved
    # than stated) is no lack of water. Nothing is decided by less than the reading's standard uncertainty.
    beyond = level.low - seen.value if symbol == "source_volume_flow" else seen.value - level.high
    blind = visit.flow_route is None or not visit.flow_route.independent_of_coil
    if symbol == "source_volume_flow" and blind and seen.value - level.high > math.hypot(seen.u, level.blur):
        unsure.append("the coil's drop is higher than its flow should make: scale, or more flow")
        missing.append("the flow by a second route: meter, timed container or energy balance")
    if beyond > math.hypot(seen.u, level.blur):
        failed.append(f"the {words} is {'low' if seen.value < level.low else 'high'}")
    elif beyond > 0.0:
        unsure.append(f"the {words} is at its limit within its uncertainty")


def prove_all(
    visit: Visit, card: UnitCard | None = None, reference: Visit | None = None
) -> tuple[Proof, ...]:
    """Try every proof that a visit's readings can serve, the water first.

    Examples
    --------
    >>> from analysis.evidence import seen_value
    >>> proofs = prove_all(Visit({"superheat": seen_value("superheat", 6.0, 0.5)}, "heating"))
    >>> proofs[0].code, proofs[0].verdict.value
    ('water_proven', 'cannot say')
    """
    found = [prove_water(visit, card, reference), _freeze(visit, card)]
    found += [
        _band("superheat", "Superheat in its band", visit, card, reference, "suction pressure and line"),
        _subcooling(visit, card, reference),
        _balance(visit),
        _band("supply_voltage", "Supply voltage in its band", visit, card, None, "volts at the machine"),
        _load_drop(visit),
        _band("control_voltage", "Control voltage in its band", visit, card, None, "volts R to C"),
        _capacitor(visit),
        _band("source_static_gauge", "Static pressure of the source loop in its band", visit, card, None,
              "gauge on the loop, pump at rest"),
        _standing(visit),
    ]  # fmt: skip
    return tuple(found)


def _band(
    symbol: str, statement: str, visit: Visit, card: UnitCard | None, reference: Visit | None, needs: str
) -> Proof:
    """Prove that a value lies in its band; near a limit within its uncertainty it cannot say."""
    judged = judge(symbol, visit, card, reference)
    if judged is None:
        lacks = needs if visit.get(symbol) is None else f"a band for the {symbol.replace('_', ' ')}"
        return Proof(
            f"{symbol}_in_band", statement, Verdict.CANNOT_SAY, (), (lacks,), "not enough is measured"
        )
    seen, level = judged.seen, judged.level
    beyond = max(level.low - seen.value, seen.value - level.high)
    near = min(abs(seen.value - level.low), abs(seen.value - level.high)) < COVERAGE * seen.u
    verdict = _verdict(beyond, seen, level.blur)
    reason = "near limit: its uncertainty reaches over it" if near else ""
    if not visit.steady and symbol in ("superheat", "subcooling"):
        verdict, reason = Verdict.CANNOT_SAY, "the machine had not settled"
    lines = (Line.of(seen, level.low, level.high, level.source),)
    return Proof(f"{symbol}_in_band", statement, verdict, lines, (), reason)


def _verdict(beyond: float, seen: Seen, blur: float = 0.0) -> Verdict:
    if beyond <= 0.0:
        return Verdict.MET
    return Verdict.NOT_MET if beyond > math.hypot(seen.u, blur) else Verdict.CANNOT_SAY


def _freeze(visit: Visit, card: UnitCard | None) -> Proof:
    """Evaporation stays clear of the liquid's freezing point, and the cut-out opens before ice forms."""
    code, statement = "freeze_margin", "Evaporation stays clear of freezing, and the cut-out opens in time"
    lines: list[Line] = []
    missing: list[str] = []
    reasons: list[str] = []
    verdict = Verdict.MET
    liquid = visit.source_liquid
    margin = visit.get("freeze_margin")
    if visit.mode == "cooling":
        return Proof(
            code, statement, Verdict.CANNOT_SAY, (), (), "the source coil condenses: nothing freezes there"
        )
    if margin is None:
        missing.append("suction pressure, refrigerant and source fluid")
    else:
        band = card.band("freeze_margin", visit.mode) if card else None
        low = band.low if band is not None and math.isfinite(band.low) else LEAST_FREEZE_MARGIN
        act = band.act_below if band is not None and math.isfinite(band.act_below) else LEAST_FREEZE_MARGIN
        lines.append(Line.of(margin, low, math.inf, f"card: {band.source}" if band else COMMON))
        verdict = _verdict(low - margin.value, margin)
        if visit.just_started:
            verdict = Verdict.CANNOT_SAY
            reasons.append(f"start, not judged: the margin counts from {START_S / 60.0:.0f} min on")
        elif margin.value < act:
            reasons.append("close to freezing: be ready to stop the machine")
    if card is not None and card.cut_out is not None and liquid is not None:
        over = card.cut_out.setting - liquid.freezing_point
        above = seen_value("cut_out_above_freezing", over, liquid.u_freezing_point)
        lines.append(Line.of(above, 0.0, math.inf, f"card: {card.cut_out.source}"))
        if over < 0.0:
            verdict = Verdict.NOT_MET
            reasons.append("the cut-out is set below the freezing point of the liquid")
    else:
        missing.append("setting of the low-temperature cut-out and the source fluid")
    if missing and verdict is Verdict.MET:
        verdict = Verdict.CANNOT_SAY
    return Proof(code, statement, verdict, tuple(lines), tuple(missing), "; ".join(reasons))


def _subcooling(visit: Visit, card: UnitCard | None, reference: Visit | None) -> Proof:
    proof = _band(
        "subcooling",
        "Subcooling in its band",
        visit,
        card,
        reference,
        "high-side pressure, liquid line, refrigerant",
    )
    if not visit.receiver:
        return proof
    note = "with a receiver, subcooling says little about the charge"
    return Proof(
        proof.code,
        proof.statement,
        proof.verdict,
        proof.lines,
        proof.missing,
        f"{proof.reason}; {note}".strip("; "),
    )


def _balance(visit: Visit) -> Proof:
    code, statement = "heat_balance", "Heat of both sides and power agree"
    balance = visit.get("balance")
    if balance is None:
        needs = "flow and both water temperatures on both sides, and compressor power"
        return Proof(code, statement, Verdict.CANNOT_SAY, (), (needs,), "not enough is measured")
    line = Line.of(balance, -CLOSES_WITHIN, CLOSES_WITHIN, LIMITS_SOURCE)
    if (
        COVERAGE * balance.u > DOUBTFUL_WITHIN
        and abs(balance.value) - COVERAGE * balance.u <= DOUBTFUL_WITHIN
    ):
        return Proof(code, statement, Verdict.CANNOT_SAY, (line,), (), "too uncertain to grade")
    verdict = _verdict(abs(balance.value) - CLOSES_WITHIN, balance)
    beyond = abs(balance.value) > DOUBTFUL_WITHIN
    return Proof(
        code, statement, verdict, (line,), (), "a measurement is not to be trusted" if beyond else ""
    )


def _load_drop(visit: Visit) -> Proof:
    """Hold the supply under load against the idle one: 3 %, common practice."""
    code, statement = "supply_under_load", "The supply sags by less than 3 % under load"
    idle, loaded = visit.get("supply_voltage"), visit.get("supply_voltage_loaded")
    if idle is None or loaded is None or idle.value <= 0.0:
        return Proof(
            code, statement, Verdict.CANNOT_SAY, (), ("volts before and while the machine runs",), ""
        )
    sag = 1.0 - loaded.value / idle.value
    u = math.hypot(idle.u, loaded.u) / idle.value
    line = Line("supply_sag", sag, u, math.nan, 0.03, "1", COMMON)
    ratio = Seen("supply_sag", sag, u, Quantity.RATIO, idle.points | loaded.points)
    return Proof(code, statement, _verdict(sag - 0.03, ratio), (line,))


def _capacitor(visit: Visit) -> Proof:
    code, statement = "pump_capacitor", "The pump's run capacitor keeps its marking"
    ratio = visit.get("pump_capacitance_ratio")
    if ratio is None:
        needs = "capacitance, measured isolated and discharged, and its marking on the card"
        return Proof(code, statement, Verdict.CANNOT_SAY, (), (needs,), "")
    line = Line.of(ratio, LOWEST_RATIO, math.inf, COMMON)
    return Proof(code, statement, _verdict(LOWEST_RATIO - ratio.value, ratio), (line,))


def _standing(visit: Visit) -> Proof:
    """Standing pressure equals saturation at the machine's temperature: nothing but refrigerant is inside."""
    code, statement = (
        "standing_pressure",
        "Standing pressure at rest is saturation of the declared refrigerant",
    )
    judged = judge("standing_excess", visit, None, None)
    if judged is None:
        needs = "standing pressure and temperature at rest after equalising, and the refrigerant"
        return Proof(code, statement, Verdict.CANNOT_SAY, (), (needs,), "")
    seen, level = judged.seen, judged.level
    beyond = max(level.low - seen.value, seen.value - level.high)
    return Proof(
        code, statement, _verdict(beyond, seen, level.blur), (Line.of(seen, level.low, level.high, COMMON),)
    )
