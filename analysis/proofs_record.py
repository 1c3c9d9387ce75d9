"""Proofs from the visit's record, which a person wrote: purge, leak test, refrigerant ledger."""

from __future__ import annotations

import math
from collections.abc import Sequence

from analysis.evidence import Line
from analysis.finding_levels import COMMON
from analysis.proofs import COVERAGE, Proof, Verdict
from analysis.refrigerant_ledger import Ledger, mass_balance
from analysis.visit import LeakCheck, Purge, VisitRecord

MOST_LEVEL_DROP = 0.05
"""A flush cart's level that falls further when it is dead-headed shows air in the loop [m]; 2 in, common
practice, no source."""
U_LEVEL = 0.005
"""Standard uncertainty of a level read at a ruler [m]; our choice."""
LEAST_VELOCITY = 0.61
"""Air is carried out of a pipe from here on [m/s]; 2 ft/s, common practice, no source."""
U_VELOCITY = 0.08
"""Standard uncertainty of the velocity, relative: flow 5 %, bore 3 % [1]; our choice."""


def record_proofs(record: VisitRecord) -> tuple[Proof, ...]:
    """Try what the record of a visit holds; a circuit that was opened asks for its leak test."""
    found: list[Proof] = []
    if record.purges:
        found.append(prove_purge(record.purges[-1]))
    if record.leak_checks or record.ledger.transfers:
        found.append(prove_leaks(record.leak_checks))
    if record.ledger.transfers:
        found.append(prove_ledger(record.ledger))
    return tuple(found)


def prove_purge(purge: Purge) -> Proof:
    """Prove that a loop is free of air: velocity in its pipes, level of the dead-headed flush cart.

    Minutes of flushing are a means and no proof; makers differ about them.

    Examples
    --------
    >>> prove_purge(Purge("ground loop", dead_head_drop=0.02)).verdict.value
    'met'
    >>> prove_purge(Purge("ground loop", dead_head_drop=0.12)).reason
    'the level fell: air is left in the loop'
    >>> prove_purge(Purge("ground loop", minutes_forward=30.0)).verdict.value
    'cannot say'
    """
    code, statement = "purge", f"Air is out of the loop ({purge.what})"
    lines: list[Line] = []
    missing: list[str] = []
    failed: list[str] = []
    unsure: list[str] = []
    drop, speed = purge.dead_head_drop, purge.velocity
    if math.isfinite(drop):
        lines.append(Line("dead_head_drop", drop, U_LEVEL, math.nan, MOST_LEVEL_DROP, "m", COMMON))
        if drop - MOST_LEVEL_DROP > COVERAGE * U_LEVEL:
            failed.append("the level fell: air is left in the loop")
        elif drop > MOST_LEVEL_DROP:
            unsure.append("the level's fall is at its limit within its uncertainty")
    else:
        missing.append("how far the flush cart's level falls when it is dead-headed")
    if math.isfinite(speed):
        u = U_VELOCITY * speed
        lines.append(Line("flush_velocity", speed, u, LEAST_VELOCITY, math.nan, "m/s", COMMON))
        if LEAST_VELOCITY - speed > COVERAGE * u:
            failed.append("the water was too slow to carry air out")
        elif speed < LEAST_VELOCITY:
            unsure.append("the velocity is at its limit within its uncertainty")
    verdict = Verdict.NOT_MET if failed else Verdict.CANNOT_SAY if missing or unsure else Verdict.MET
    return Proof(code, statement, verdict, tuple(lines), tuple(missing), "; ".join(failed or unsure))


def prove_leaks(checks: Sequence[LeakCheck]) -> Proof:
    """Prove that no joint leaks: each place looked at, by a method that was itself tried on a known leak.

    Examples
    --------
    >>> prove_leaks([LeakCheck("valves", "tight", "electronic detector", "reference leak")]).verdict.value
    'met'
    >>> prove_leaks([LeakCheck("flare nut", "leaks", "soap solution")]).reason
    'it leaks at: flare nut'
    >>> prove_leaks([LeakCheck("service valves", "tight", "electronic detector")]).missing
    ('electronic detector: tried on a known leak, how',)
    """
    code, statement = "leak_test", "No place that was opened or is suspected leaks"
    if not checks:
        needs = "each place that was opened, with the method and what it showed"
        return Proof(code, statement, Verdict.CANNOT_SAY, (), (needs,), "refrigerant was moved")
    lines = tuple(
        Line("leak_check", math.nan, math.nan, math.nan, math.nan, "1", one.method or "method not stated",
             f"{one.place}: {one.found}")
        for one in checks
    )  # fmt: skip
    leaking = [one.place for one in checks if one.found == "leaks"]
    if leaking:
        return Proof(code, statement, Verdict.NOT_MET, lines, (), f"it leaks at: {', '.join(leaking)}")
    missing = dict.fromkeys(
        f"{one.method}: tried on a known leak, how" if one.method else f"{one.place}: by which method"
        for one in checks
        if not (one.method and one.tried_on)
    )
    verdict = Verdict.CANNOT_SAY if missing else Verdict.MET
    return Proof(code, statement, verdict, lines, tuple(missing), "")


def prove_ledger(ledger: Ledger) -> Proof:
    """Prove that the refrigerant that was moved is accounted for, all weighed.

    Examples
    --------
    >>> from analysis.refrigerant_ledger import Transfer
    >>> whole = Ledger("R410A", (Transfer("recovered", 0.28),), mass_before=1.31, mass_after=1.03)
    >>> prove_ledger(whole).verdict.value
    'met'
    """
    code, statement = "refrigerant_ledger", "The refrigerant that was moved is accounted for"
    balance = mass_balance(ledger)
    room = COVERAGE * balance.u
    named = (("recovered", balance.recovered), ("charged", balance.charged))
    lines = [
        Line(f"mass_{word}", mass, ledger.u_weighing, math.nan, math.nan, "kg", "weighed")
        for word, mass in named
        if math.isfinite(mass) and mass > 0.0
    ]
    if balance.closes is None:
        reason = "not everything was weighed; nothing is taken from the plate"
        return Proof(code, statement, Verdict.CANNOT_SAY, tuple(lines), balance.missing, reason)
    lines.append(
        Line(
            "mass_unaccounted", balance.residual, balance.u, -room, room, "kg", "uncertainty of the weighings"
        )
    )
    if balance.closes:
        return Proof(code, statement, Verdict.MET, tuple(lines))
    reason = f"{'less' if balance.residual > 0.0 else 'more'} is in the machine than the weighings leave"
    return Proof(code, statement, Verdict.NOT_MET, tuple(lines), (), reason)
