"""As-found against as-left: the differences that are more than the readings' own uncertainty.

A difference counts as a change where ``|d| > 2 u_d``; :mod:`analysis.repeatability` works out ``u_d``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from analysis.derived import BY_SYMBOL
from analysis.fairness import Fairness, judge_fairness
from analysis.points import POINTS
from analysis.repeatability import Side, uncertainty_of_change
from analysis.units import Quantity
from analysis.windows import Mean, Stretch

COVERAGE = 2.0
"""Coverage factor of the stated uncertainty of a change."""
NOT_TESTED = "not tested"
MODES = ("heating", "cooling")
"""What a reversible machine can do; each is compared by itself."""


class Verdict(Enum):
    """What may be said about one difference."""

    CHANGED = "changed"
    NOT_SHOWN = "not shown to have changed"
    NOT_COMPARABLE = "not comparable"


@dataclass(frozen=True, slots=True)
class Change:
    """One quantity in both sessions (SI)."""

    symbol: str
    label: str
    quantity: Quantity
    as_found: Mean
    as_left: Mean
    difference: float
    """As left less as found."""
    u: float
    """Standard uncertainty of the difference (k = 1)."""
    verdict: Verdict
    reason: str = ""
    same_probes: bool = True

    @property
    def expanded(self) -> float:
        """Expanded uncertainty of the difference (k = 2)."""
        return COVERAGE * self.u


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two stretches of the same mode, and every quantity that either of them has."""

    mode: str
    as_found: Stretch
    as_left: Stretch
    fairness: Fairness
    changes: tuple[Change, ...]


@dataclass(frozen=True, slots=True)
class Compared:
    """Everything that can be said about two sessions."""

    comparisons: tuple[Comparison, ...]
    """One for each mode that both sessions have."""
    not_tested: tuple[tuple[str, str], ...]
    """Mode and what is lacking, for every mode that is not compared."""


_NOTHING = Mean(math.nan, math.nan, math.nan, 0)


def compare(as_found: Side, as_left: Side, *, phase_found: str = "", phase_left: str = "") -> Compared:
    """Compare two sessions, heating and cooling apart.

    Parameters
    ----------
    as_found, as_left
        The sessions.
    phase_found, phase_left
        Only stretches of this phase count; empty: any.

    Returns
    -------
    Compared
        With a comparison for each mode of which both have a stretch. Of several stretches the longest steady
        one is taken, the latest of equally long ones.
    """
    found = _best_by_mode(as_found.stretches, phase_found)
    left = _best_by_mode(as_left.stretches, phase_left)
    both = [mode for mode in (*MODES, "") if mode in found and mode in left]
    pairs = [(mode, found[mode], left[mode]) for mode in both]
    if not pairs and ("" in found or "" in left) and found and left:
        # One of them does not say its mode: the numbers are set beside each other and not judged.
        pairs = [("", next(iter(found.values())), next(iter(left.values())))]
    not_tested = [
        (mode, _lack(mode in found, mode in left)) for mode in MODES if not (mode in found and mode in left)
    ]
    comparisons = tuple(_compare(mode, one, other, as_found, as_left) for mode, one, other in pairs)
    return Compared(comparisons, tuple(not_tested))


def _lack(found: bool, left: bool) -> str:
    if found:
        return "tested as found only"
    return "tested as left only" if left else NOT_TESTED


def _best_by_mode(stretches: Sequence[Stretch], phase: str) -> dict[str, Stretch]:
    best: dict[str, Stretch] = {}
    for stretch in stretches:
        mode = stretch.settings.mode
        if phase and stretch.settings.phase != phase:
            continue
        if mode not in best or _rank(stretch) >= _rank(best[mode]):
            best[mode] = stretch
    return best


def _rank(stretch: Stretch) -> tuple[bool, float]:
    return stretch.steady, stretch.seconds


def _compare(mode: str, one: Stretch, other: Stretch, side_one: Side, side_other: Side) -> Comparison:
    fairness = judge_fairness(one, other, side_one.channels, side_other.channels)
    changes = []
    for symbol in (*BY_SYMBOL, *POINTS):
        derived = symbol in BY_SYMBOL
        a = (one.derived if derived else one.points).get(symbol)
        b = (other.derived if derived else other.points).get(symbol)
        if a is None and b is None:
            continue
        u = uncertainty_of_change(symbol, one, other, side_one, side_other, fairness.same_probe)
        inputs = {*one.inputs.get(symbol, (symbol,)), *other.inputs.get(symbol, (symbol,))}
        same = all(fairness.same_probe.get(name, False) for name in inputs)
        changes.append(_change(symbol, a or _NOTHING, b or _NOTHING, u, fairness, same))
    return Comparison(mode, one, other, fairness, tuple(changes))


def _change(symbol: str, a: Mean, b: Mean, u: float, fairness: Fairness, same: bool) -> Change:
    row = BY_SYMBOL[symbol] if symbol in BY_SYMBOL else POINTS[symbol]
    difference = b.value - a.value
    reason = _why_not(a, b, u, fairness)
    if reason:
        verdict = Verdict.NOT_COMPARABLE
    else:
        verdict = Verdict.CHANGED if abs(difference) > COVERAGE * u else Verdict.NOT_SHOWN
    return Change(symbol, row.label, row.quantity, a, b, difference, u, verdict, reason, same)


def _why_not(a: Mean, b: Mean, u: float, fairness: Fairness) -> str:
    known = math.isfinite(a.value), math.isfinite(b.value)
    if known == (False, False):
        return "no value in either session"
    if not all(known):
        return "no value as found" if not known[0] else "no value as left"
    if not fairness.fair:
        return ", ".join(f"{condition.label} {condition.alike.value}" for condition in fairness.blocking)
    if not math.isfinite(u):
        return "nothing is promised about an instrument in it"
    return ""
