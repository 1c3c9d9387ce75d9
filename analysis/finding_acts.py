"""What to do next, each act with the one condition in which it is safe; an act without one is refused."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Safe(StrEnum):
    """Conditions of safe work, in the order in which they are listed."""

    WHILE_RUNNING = "while running"
    STOPPED = "stopped"
    ISOLATED = "isolated and proven dead"
    RELIEVED = "pressure relieved"


_ONLY = (
    (("open the strainer", "open the loop", "open the coil", "flush the coil"), Safe.RELIEVED),
    (("capacitor", "winding", "resistance of", "lift the lead", "lift both ends"), Safe.ISOLATED),
)
"""Acts that exist under one condition only."""
_NOT_RUNNING = ("throttle", "lower the flow", "close the valve")
"""Near freezing, nothing that lowers water flow may be advised while the machine runs."""


@dataclass(frozen=True, slots=True)
class Act:
    """One advised act.

    Raises
    ------
    ValueError
        If the condition is missing or the act is forbidden under it.

    Examples
    --------
    >>> Act("Open the strainer and clean it.", Safe.WHILE_RUNNING)
    Traceback (most recent call last):
    ValueError: 'Open the strainer and clean it.' is safe only when pressure relieved.
    """

    text: str
    safe: Safe

    def __post_init__(self) -> None:
        if not isinstance(self.safe, Safe):
            raise ValueError(f"'{self.text}' names no condition in which it is safe: {self.safe!r}.")
        lower = self.text.lower()
        for phrases, only in _ONLY:
            if self.safe is not only and any(phrase in lower for phrase in phrases):
                raise ValueError(f"'{self.text}' is safe only when {only.value}.")
        if self.safe is Safe.WHILE_RUNNING and any(phrase in lower for phrase in _NOT_RUNNING):
            raise ValueError(f"'{self.text}' lowers the flow and is not safe while running.")


def running(text: str) -> Act:
    """Make an act for a running machine."""
    return Act(text, Safe.WHILE_RUNNING)


def stopped(text: str) -> Act:
    """Make an act for a stopped machine."""
    return Act(text, Safe.STOPPED)


def isolated(text: str) -> Act:
    """Make an act for a machine isolated and proven dead."""
    return Act(text, Safe.ISOLATED)


def relieved(text: str) -> Act:
    """Make an act for a water circuit whose pressure is relieved."""
    return Act(text, Safe.RELIEVED)
