"""What a finding is: a possible cause with its evidence, never certain."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from analysis.evidence import Line
from analysis.finding_acts import Act


class Status(StrEnum):
    """How a finding stands."""

    ACTIVE = "active"
    HELD = "held"
    DECLINED = "declined"


@dataclass(frozen=True, slots=True)
class Finding:
    """One possible cause."""

    code: str
    statement: str
    strength: float
    """0 to 1; no probability."""
    status: Status
    reason: str = ""
    """Why it is held, with what would release it, or why it is declined."""
    supporting: tuple[Line, ...] = ()
    against: tuple[Line, ...] = ()
    missing: tuple[str, ...] = ()
    apart: tuple[str, ...] = ()
    """What cannot be told apart from it, with the reading that would tell."""
    acts: tuple[Act, ...] = ()
    source: str = ""
    signs: int = 0
    """How many independent signs speak for it."""
    rank: int = 0

    @property
    def strength_words(self) -> str:
        """Strength as a person reads it."""
        if self.status is Status.DECLINED:
            return "not supported"
        if self.signs > 1:
            return f"{'well ' if self.strength >= 0.8 else ''}supported: {self.signs} independent signs"
        return "supported by one sign"
