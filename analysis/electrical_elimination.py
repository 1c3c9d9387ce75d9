"""Which branch blows the fuse: told from the calls on which it blows and those on which it does not.

No ohms and no part: only the branches that are common to all calls that blow the fuse and to none that leaves
it whole (elimination, common practice).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class CallTried:
    """One call and what it did."""

    name: str
    branches: tuple[str, ...]
    """What it energises."""
    blew: bool


@dataclass(frozen=True, slots=True)
class Elimination:
    """What is left of the branches."""

    suspects: tuple[str, ...]
    cleared: tuple[str, ...]
    statement: str


def eliminate(calls: Sequence[CallTried]) -> Elimination:
    """Narrow down the branch that blows a fuse.

    Examples
    --------
    A fuse that blows on heat and on cool and not on fan alone:

    >>> found = eliminate((
    ...     CallTried("heat", ("compressor contactor", "fan relay"), True),
    ...     CallTried("cool", ("compressor contactor", "fan relay", "reversing valve coil"), True),
    ...     CallTried("fan", ("fan relay",), False)))
    >>> found.suspects, found.cleared
    (('compressor contactor',), ('fan relay',))
    """
    blown = [set(call.branches) for call in calls if call.blew]
    cleared = sorted({branch for call in calls if not call.blew for branch in call.branches})
    if not blown:
        return Elimination((), tuple(cleared), "no call blew the fuse: nothing is told")
    common = set.intersection(*blown) - set(cleared)
    if not common:
        left = sorted(set.union(*blown) - set(cleared))
        text = f"no branch is common to all calls that blew it: more than one fault, among {', '.join(left)}"
        return Elimination(tuple(left), tuple(cleared), text if left else "the calls contradict each other")
    text = f"the fault lies in the branch of: {', '.join(sorted(common))}; its ohms tell, isolated"
    return Elimination(tuple(sorted(common)), tuple(cleared), text)
