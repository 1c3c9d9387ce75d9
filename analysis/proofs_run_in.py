"""The run-in as a proof: after a day or more the machine still shows what it showed when it was left."""

from __future__ import annotations

import math

from analysis.evidence import Line, Visit
from analysis.finding_levels import REFERENCE_TOLERANCE, judge, unlike
from analysis.proofs import Proof, Verdict
from analysis.unit_card import UnitCard

LEAST_HOURS = 24.0
"""A run-in is judged a day after the machine was left, and best again after a week; common practice, no
source."""


def prove_run_in(
    visit: Visit, left: Visit, card: UnitCard | None = None, *, hours: float = math.nan
) -> Proof:
    """Prove that what was left is still there, at like entering temperatures.

    Parameters
    ----------
    visit, left
        Now, and as it was left, each with its derived values.
    card
        For a compressor of variable speed.
    hours
        From one to the other; NaN where it is not known.

    Examples
    --------
    >>> from analysis.evidence import seen_value
    >>> def at(superheat):
    ...     return Visit({"superheat": seen_value("superheat", superheat, 0.3)}, "heating")
    >>> prove_run_in(at(6.2), at(6.0), hours=30.0).verdict.value
    'met'
    >>> prove_run_in(at(9.5), at(6.0), hours=30.0).reason
    'it has moved since it was left: superheat'
    """
    code, statement = "run_in", "After its run-in the machine still shows what it showed when it was left"

    def cannot(reason: str, *missing: str, lines: tuple[Line, ...] = ()) -> Proof:
        return Proof(code, statement, Verdict.CANNOT_SAY, lines, missing, reason)

    if not visit.steady:
        return cannot("the machine had not settled")
    reasons = unlike(visit, left, card)
    if reasons:
        return cannot(f"the session as left was not taken alike: {'; '.join(reasons)}")
    judged = [(name, judge(name, visit, card, left)) for name in REFERENCE_TOLERANCE if left.get(name)]
    lines, moved, unsure = [], [], []
    for name, one in judged:
        if one is None:
            continue
        words = name.replace("_", " ")
        seen, level = one.seen, one.level
        lines.append(Line.of(seen, level.low, level.high, "as it was left"))
        beyond = max(level.low - seen.value, seen.value - level.high)
        if beyond > math.hypot(seen.u, level.blur):
            moved.append(words)
        elif beyond > 0.0:
            unsure.append(words)
    if not lines:
        return cannot("nothing was measured both times", "the same points as when it was left")
    if moved:
        reason = f"it has moved since it was left: {', '.join(moved)}"
        return Proof(code, statement, Verdict.NOT_MET, tuple(lines), (), reason)
    if not hours >= LEAST_HOURS:
        ran = "the time between is not known"
        if math.isfinite(hours):
            ran = f"only {hours:.1f} h lie between" if hours >= 0.0 else "it is no later than the one as left"
        return cannot(f"{ran}; {LEAST_HOURS:.0f} h are asked for", lines=tuple(lines))
    if unsure:
        return cannot(f"at its limit within its uncertainty: {', '.join(unsure)}", lines=tuple(lines))
    return Proof(code, statement, Verdict.MET, tuple(lines), (), f"{hours:.0f} h after it was left")
