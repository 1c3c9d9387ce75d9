"""What a rule of the findings is made of: the signs of one cause, as data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum

from analysis.finding_acts import Act


class Role(Enum):
    """What a sign is to its rule."""

    MUST = "must"
    """Without it the cause is not supported."""
    USUAL = "usual"
    """Its absence weakens the cause by the sign's weight."""
    ALSO = "also"
    """It supports the cause; its absence says nothing."""


@dataclass(frozen=True, slots=True)
class Sign:
    """One reading that stands a certain way."""

    symbol: str
    way: str
    """low, high, normal, not_low, not_high or off."""
    role: Role
    weight: float = 0.5


def must(symbol: str, way: str) -> Sign:
    """Make a sign without which the cause is not supported."""
    return Sign(symbol, way, Role.MUST, 1.0)


def usual(symbol: str, way: str, weight: float = 0.5) -> Sign:
    """Make a sign whose absence weakens the cause."""
    return Sign(symbol, way, Role.USUAL, weight)


def also(symbol: str, way: str) -> Sign:
    """Make a sign that supports the cause where it is seen."""
    return Sign(symbol, way, Role.ALSO, 0.0)


@dataclass(frozen=True, slots=True)
class Rule:
    """One possible cause."""

    code: str
    statement: str
    signs: tuple[Sign, ...]
    acts: tuple[Act, ...]
    source: str
    """Where the signs come from."""
    rivals: Mapping[str, str] = field(default_factory=dict)
    """Causes with like signs, each with the reading that tells the two apart."""
    seen: Mapping[str, float] = field(default_factory=dict)
    """What a person may have seen that supports the cause by itself, with the strength it gives."""
    seen_against: Mapping[str, float] = field(default_factory=dict)
    """What a person may have seen that speaks against it, with the factor that it leaves."""
    charge: bool = False
    """Whether it concerns the refrigerant circuit, which is judged after the water only."""
    modes: tuple[str, ...] = ("", "heating", "cooling")
    metering: tuple[str, ...] = ()
    """Metering devices that can have it; empty for all."""
    settled: bool = True
    """Whether its signs need a settled machine."""
    at_start: bool = False
    """Whether it is said while the machine is still starting: only what harms at once."""
    own_route: bool = False
    """Whether it judges the coil, so that the flow must not come from the coil's own pressure drop."""
    while_stopped: bool = False
    """Whether it is judged on a machine that stands still."""
    rank: int = 0
    """Higher goes first whatever the strength: danger."""
