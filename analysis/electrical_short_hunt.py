"""The short hunt: every branch between R and C in ohms, and what is held back until all of them are known.

A branch is measured with the machine isolated and proven dead and the branch lifted at both ends; anything
else measures its neighbours, or destroys the meter.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from analysis.electrical import Limits
from analysis.electrical_safety import Isolation
from analysis.electrical_transformer import TransformerReadings, TransformerVerdict, judge_transformer
from analysis.finding_acts import Act, Safe

EARTHED_OHM = 10.0
"""Fewer ohms to earth point at a branch (common practice, no source)."""
SHORTED_OHM = 10.0
"""Fewer ohms to C short a branch that is no coil (common practice, no source)."""
COIL_OHM = (8.0, 60.0)
"""Contactor and reversing-valve coils of 24 V measure 8 to 60 ohm (common practice, no source); their
alternating current is not V / R, since a coil is inductive."""
SHORTED_COIL_OHM = 2.0
"""A coil with fewer ohms than this is shorted (common practice, no source)."""
OPEN_OHM = 2e6
"""Above this a meter says open (common practice, no source)."""
LIVE_V = 2.0
"""Volts on a branch above this refuse any ohms."""
Load = Literal["switch", "coil"]


@dataclass(frozen=True, slots=True)
class Branch:
    """One branch between R and C; NaN where not entered, infinite where the meter says open."""

    name: str
    load: Load = "switch"
    to_common: float = math.nan
    """Ohms to C, meter leads taken off."""
    to_earth: float = math.nan
    lifted: bool = True
    """Whether it was lifted at both ends."""
    volts: float = 0.0
    """Volts that the meter showed on it before the ohms."""
    repaired: bool = False


USUAL_BRANCHES: tuple[tuple[str, Load], ...] = (
    ("thermostat call", "switch"),
    ("pressure switches", "switch"),
    ("condensate switch", "switch"),
    ("contactor coil", "coil"),
    ("reversing valve coil", "coil"),
)


class BranchState(StrEnum):
    """What a branch's ohms say."""

    EARTHED = "earthed"
    SHORTED = "shorted to C"
    LOW = "few ohms for a coil"
    OPEN_COIL = "coil open"
    CLEAR = "clear"
    NOT_ENTERED = "not entered"
    REFUSED = "ohms refused"


@dataclass(frozen=True, slots=True)
class BranchVerdict:
    """State of one branch, in words."""

    branch: Branch
    state: BranchState
    statement: str
    look_here_first: bool = False

    @property
    def at_fault(self) -> bool:
        """Whether it can pull the transformer down and is not repaired."""
        faults = (BranchState.EARTHED, BranchState.SHORTED, BranchState.LOW)
        return self.state in faults and not self.branch.repaired


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
    judged = _pointed([_judge(branch, lacks) for branch in branches])
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


def _judge(branch: Branch, lacks: Sequence[str]) -> BranchVerdict:
    """Judge one branch by itself."""
    nothing = math.isnan(branch.to_common) and math.isnan(branch.to_earth)
    if branch.volts > LIVE_V:
        text = f"{branch.name}: {branch.volts:g} V on a branch entered as isolated: CHECK, ohms refused"
        return BranchVerdict(branch, BranchState.REFUSED, text)
    if nothing:
        return BranchVerdict(branch, BranchState.NOT_ENTERED, f"{branch.name}: not entered")
    if lacks:
        return BranchVerdict(branch, BranchState.REFUSED, f"{branch.name}: ohms refused, lacking {lacks[0]}")
    if not branch.lifted:
        text = f"{branch.name}: not lifted at both ends, so its ohms are those of all branches"
        return BranchVerdict(branch, BranchState.REFUSED, text)
    state = _state(branch)
    ohms = f"{_ohms(branch.to_common)} to C, {_ohms(branch.to_earth)} to earth"
    return BranchVerdict(branch, state, f"{branch.name}: {state.value} ({ohms})")


def _state(branch: Branch) -> BranchState:
    if branch.to_earth < EARTHED_OHM:
        return BranchState.EARTHED
    if branch.load == "coil":
        if branch.to_common < SHORTED_COIL_OHM:
            return BranchState.SHORTED
        if branch.to_common < COIL_OHM[0]:
            return BranchState.LOW
        if branch.to_common > OPEN_OHM:
            return BranchState.OPEN_COIL
    elif branch.to_common < SHORTED_OHM:
        return BranchState.SHORTED
    whole = not (math.isnan(branch.to_common) or math.isnan(branch.to_earth))
    return BranchState.CLEAR if whole else BranchState.NOT_ENTERED


def _pointed(judged: list[BranchVerdict]) -> tuple[BranchVerdict, ...]:
    """Point at the branch with the fewest ohms to earth; where none is earthed, at one shorted to C."""
    suspects = [v for v in judged if v.state is BranchState.EARTHED and not v.branch.repaired]
    first = min(suspects, key=lambda v: v.branch.to_earth, default=None)
    if first is None:
        shorted = [v for v in judged if v.state is BranchState.SHORTED and not v.branch.repaired]
        first = min(shorted, key=lambda v: v.branch.to_common, default=None)
    return tuple(
        BranchVerdict(v.branch, v.state, f"{v.statement}: look here first", True) if v is first else v
        for v in judged
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


def _ohms(ohm: float) -> str:
    if math.isnan(ohm):
        return "not entered"
    return "open" if ohm > OPEN_OHM else f"{ohm:.3g} ohm"
