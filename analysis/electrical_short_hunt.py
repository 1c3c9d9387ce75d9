"""The short hunt: every branch between R and C in ohms, and what is held back until all of them are known.

A new fuse or transformer that goes in before the short is found goes the way of the old one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.electrical import Limits
from analysis.electrical_branches import LIVE_V, Branch, BranchState, BranchVerdict, judge_branch, pointed
from analysis.electrical_safety import Isolation
from analysis.electrical_transformer import TransformerReadings, TransformerVerdict, judge_transformer
from analysis.finding_acts import Act, Safe


@dataclass(frozen=True, slots=True)
class AfterRepair:
    """R to C after the repair [V]; NaN where not read."""

    at_rest: float = math.nan
    under_load: float = math.nan


@dataclass(frozen=True, slots=True)
class ShortHunt:
    """Everything that a short hunt says."""

    transformer: TransformerVerdict
    branches: tuple[BranchVerdict, ...]
    statement: str
    entered: int
    wanted: int
    missing: tuple[str, ...]
    held_back: tuple[str, ...]
    """New parts that must wait."""
    release: tuple[str, ...]
    """What would let them go."""
    questions: tuple[str, ...]
    acts: tuple[Act, ...]
    repair: str
    """Whether the repair is proven."""


def hunt(
    readings: TransformerReadings,
    branches: Sequence[Branch],
    isolation: Isolation | None,
    *,
    limits: Limits | None = None,
    common_earthed: bool | None = None,
    after: AfterRepair | None = None,
) -> ShortHunt:
    """Work out a short hunt.

    Parameters
    ----------
    readings
        Volts at the transformer.
    branches
        All branches between R and C, entered or not.
    isolation
        The person's entry; without a complete one no ohms count.
    limits
        Of supply and control volts.
    common_earthed
        Whether C is bonded to earth; None where nobody looked.
    after
        R to C after the repair.
    """
    limits = limits or Limits()
    transformer = judge_transformer(readings, limits)
    lacks = isolation.lacks() if isolation is not None else ("the isolation, with who and when",)
    judged = pointed([judge_branch(branch, lacks) for branch in branches])
    missing = _not_entered(judged)
    entered = 2 * len(judged) - len(missing)
    questions = tuple(
        v.statement for v in judged if v.state is BranchState.REFUSED and v.branch.volts > LIVE_V
    )
    faults = [v for v in judged if v.at_fault]
    repaired = [v for v in judged if v.branch.repaired]
    release = _release(transformer, judged, missing, faults, repaired, lacks)
    return ShortHunt(
        transformer,
        judged,
        _statement(transformer, judged, faults, repaired, missing, common_earthed),
        entered,
        2 * len(judged),
        tuple(missing) + (tuple(lacks) if any(v.state is BranchState.REFUSED for v in judged) else ()),
        ("new fuse", "new transformer") if release else (),
        release,
        questions,
        _acts(transformer, missing, faults, lacks, after or AfterRepair()),
        _repair(after, limits),
    )


def _not_entered(judged: Sequence[BranchVerdict]) -> list[str]:
    found: list[str] = []
    for v in judged:
        refused = v.state is BranchState.REFUSED
        if refused or math.isnan(v.branch.to_common):
            found.append(f"{v.branch.name} to C")
        if refused or math.isnan(v.branch.to_earth):
            found.append(f"{v.branch.name} to earth")
    return found


def _release(
    transformer: TransformerVerdict,
    judged: Sequence[BranchVerdict],
    missing: Sequence[str],
    faults: Sequence[BranchVerdict],
    repaired: Sequence[BranchVerdict],
    lacks: Sequence[str],
) -> tuple[str, ...]:
    """Say what must still happen before a new fuse or transformer may go in; empty: nothing."""
    if not judged:
        return ("the branches between R and C, entered by name",)
    release = []
    if lacks:
        release.append(f"recorded: {'; '.join(lacks)}")
    if missing:
        release.append(f"entered: {', '.join(missing)}")
    release += [f"{v.branch.name} marked repaired" for v in faults]
    if not release and transformer.shorted_downstream and not repaired:
        release.append(
            "what pulls the transformer down found: no branch does, so the wire or board before them"
        )
    return tuple(release)


def _statement(
    transformer: TransformerVerdict,
    judged: Sequence[BranchVerdict],
    faults: Sequence[BranchVerdict],
    repaired: Sequence[BranchVerdict],
    missing: Sequence[str],
    common_earthed: bool | None,
) -> str:
    parts = [transformer.statement]
    for v in faults:
        text = v.statement
        if v.state is BranchState.EARTHED:
            text += {
                True: "; C is bonded to earth, so this shorts R to C: a chafed lead? follow it end to end",
                False: "; C is not bonded to earth, so it needs a second earth to short R to C",
                None: "; whether it shorts R to C depends on whether C is bonded to earth: not stated",
            }[common_earthed]
        parts.append(text)
    parts += [f"{v.branch.name}: repaired" for v in repaired]
    if not faults and not missing and not repaired and judged:
        left = "the wire and board before the branches, or a coil that fails only with volts on it"
        if transformer.shorted_downstream:
            parts.append(f"no branch is short at rest: {left}; flex the leads while measuring")
        else:
            parts.append("every branch is entered and none is short")
    return "; ".join(parts)


def _acts(
    transformer: TransformerVerdict,
    missing: Sequence[str],
    faults: Sequence[BranchVerdict],
    lacks: Sequence[str],
    after: AfterRepair,
) -> tuple[Act, ...]:
    acts = list(transformer.acts)
    if lacks:
        acts.append(Act("isolate, prove dead and record it with its second supplies", Safe.STOPPED))
    if missing:
        acts.append(Act(f"lift each branch at both ends and measure: {', '.join(missing)}", Safe.ISOLATED))
    acts += [Act(f"follow and repair: {v.branch.name}", Safe.ISOLATED) for v in faults]
    if not missing and not faults and not lacks:
        if math.isnan(after.at_rest):
            acts.append(Act("if licensed, live volts: read R to C at rest", Safe.STOPPED))
        if math.isnan(after.under_load):
            acts.append(Act("if licensed, live volts: read R to C under load", Safe.WHILE_RUNNING))
    return tuple(acts)


def _repair(after: AfterRepair | None, limits: Limits) -> str:
    """Say whether R to C proves the repair."""
    if after is None or (math.isnan(after.at_rest) and math.isnan(after.under_load)):
        return "not proven: R to C at rest and under load not read"
    lacking = [
        name for name, v in (("at rest", after.at_rest), ("under load", after.under_load)) if math.isnan(v)
    ]
    if lacking:
        return f"not proven: R to C {lacking[0]} not read"
    text = f"R to C {after.at_rest:g} V at rest and {after.under_load:g} V under load"
    if min(after.at_rest, after.under_load) < limits.pull_in:
        return f"not repaired: {text}, below {limits.pull_in:g} V"
    return f"proven: {text}, at least {limits.pull_in:g} V"
