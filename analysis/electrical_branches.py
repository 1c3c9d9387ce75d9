"""The branches between R and C by their ohms: earthed, shorted, clear, or refused.

A branch is measured with the machine isolated and proven dead and the branch lifted at both ends; anything
else measures its neighbours, or destroys the meter.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

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


def judge_branch(branch: Branch, lacks: Sequence[str]) -> BranchVerdict:
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
    ohms = f"{_shown(branch.to_common)} to C, {_shown(branch.to_earth)} to earth"
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


def pointed(judged: list[BranchVerdict]) -> tuple[BranchVerdict, ...]:
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


def _shown(ohm: float) -> str:
    if math.isnan(ohm):
        return "not entered"
    return "open" if ohm > OPEN_OHM else f"{ohm:.3g} ohm"
