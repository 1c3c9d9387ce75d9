"""The desuperheater as a proof: it heats its water, neither too hot nor backwards.

Caution: water from a desuperheater can scald, and a tank that is kept too cool breeds legionella; local codes
set both temperatures. Its heat is no part of a card's capacity: tables are without it.
"""

from __future__ import annotations

import math

from analysis.evidence import Line, Visit, seen_value
from analysis.finding_levels import COMMON, judge
from analysis.liquids import Liquid
from analysis.proofs import COVERAGE, Proof, Verdict
from analysis.unit_card import UnitCard
from analysis.water import heat_from_liquid

IN, OUT, FLOW = (
    "desuperheater_entering_temperature",
    "desuperheater_leaving_temperature",
    "desuperheater_flow",
)
HOTTEST = 333.15
"""Where the card is silent the water must not leave hotter [K]; 60 °C (140 °F), common practice, no source:
local codes go first."""
LEAST_DRIVE = 5.0
"""Below this distance between discharge gas and entering water there is nothing to give [K]; our choice."""


def has_desuperheater(visit: Visit, card: UnitCard | None) -> bool:
    """Whether there is one: a reading of it, or a band on the card."""
    stated = card is not None and any(band.symbol.startswith("desuperheater") for band in card.bands)
    return stated or any(visit.get(name) is not None for name in (IN, OUT, FLOW))


def prove_desuperheater(visit: Visit, card: UnitCard | None = None) -> Proof:
    """Prove that the desuperheater heats water as it should.

    Water change in its band, leaving water below the tank's limit and below the discharge gas that heats it.

    Parameters
    ----------
    visit
        With both water temperatures of the coil; the discharge line tells whether there was anything to give.
    card
        Bands ``desuperheater_change`` and ``desuperheater_leaving_temperature``.

    Examples
    --------
    >>> t = {IN: 313.15, OUT: 317.15, "discharge_temperature": 350.15}
    >>> hot = Visit({name: seen_value(name, x, 0.3) for name, x in t.items()}, "heating")
    >>> prove_desuperheater(hot).verdict.value
    'met'
    """
    code, statement = "desuperheater", "The desuperheater heats its water, neither too hot nor backwards"
    entering, leaving, gas = visit.get(IN), visit.get(OUT), visit.get("discharge_temperature")
    missing = [
        words
        for seen, words in (
            (entering, "water into the desuperheater"), (leaving, "water out of the desuperheater"),
            (gas, "discharge line, before the desuperheater"),
        )
        if seen is None
    ]  # fmt: skip
    if entering is None or leaving is None or gas is None:
        return Proof(code, statement, Verdict.CANNOT_SAY, (), tuple(missing), "not enough is measured")
    if not (visit.steady and visit.running):
        return Proof(code, statement, Verdict.CANNOT_SAY, (), (), "the machine had not settled")
    u = math.hypot(entering.u, leaving.u)
    change = seen_value("desuperheater_change", leaving.value - entering.value, u, (IN, OUT))
    held = judge("desuperheater_change", Visit({change.symbol: change}, visit.mode), card, None)
    assert held is not None, "common practice has a band for it"
    level = held.level
    band = card.band(OUT, visit.mode) if card is not None else None
    hottest = band.high if band is not None and math.isfinite(band.high) else HOTTEST
    said = f"card: {band.source}" if band is not None and hottest == band.high else COMMON
    lines = [
        Line.of(change, level.low, level.high, level.source, "water out less in"),
        Line.of(leaving, -math.inf, hottest, said, "against scalding"),
        Line.of(gas, leaving.value, math.inf, "by definition", "the gas that heats it"),
    ]
    lines += _heat(visit, entering.value, leaving.value, u)
    failed, unsure = [], []
    blur = math.hypot(u, level.blur)
    if leaving.value - gas.value > COVERAGE * math.hypot(leaving.u, gas.u):
        unsure.append("the water leaves hotter than the gas that heats it: are probes exchanged?")
    elif change.value < -COVERAGE * u:
        failed.append("the tank gives its heat to the refrigerant: the pump should have stopped")
    elif gas.value - entering.value < LEAST_DRIVE:
        unsure.append("the water comes as hot as the gas: there was nothing to give")
    elif level.low - change.value > blur:
        failed.append("the water is hardly heated: air, no flow or scale")
    elif change.value - level.high > blur:
        failed.append("the water is heated too far: too little of it flows")
    elif not level.low <= change.value <= level.high:
        unsure.append("the change is at its limit within its uncertainty")
    if leaving.value - hottest > leaving.u:
        failed.append("the water leaves hot enough to scald")
    elif leaving.value > hottest:
        unsure.append("the leaving water is at its limit within its uncertainty")
    verdict = Verdict.NOT_MET if failed else Verdict.CANNOT_SAY if unsure else Verdict.MET
    return Proof(code, statement, verdict, tuple(lines), (), "; ".join(failed or unsure))


def _heat(visit: Visit, t_in: float, t_out: float, u_change: float) -> list[Line]:
    """Say how much heat it takes, where its flow is known."""
    flow = visit.get(FLOW)
    if flow is None or flow.value <= 0.0 or t_out == t_in:
        return []
    heat = -float(heat_from_liquid(Liquid("water"), flow.value, t_in, t_out))
    u = abs(heat) * math.hypot(flow.u / flow.value, u_change / (t_out - t_in))
    seen = seen_value("desuperheater_heat", heat, u, (IN, OUT, FLOW))
    return [Line.of(seen, -math.inf, math.inf, "worked out", "no part of the card's capacity")]
