"""What the support panel shows, in plain words: findings with evidence, acts with their safe condition."""

from __future__ import annotations

from dataclasses import dataclass

CONDITIONS = ("while running", "stopped", "isolated and proven dead", "pressure relieved")
"""Conditions in which an act is safe, in the fixed order in which they are shown; never mixed."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One finding as the panel shows it."""

    strength: str
    statement: str
    evidence_for: tuple[str, ...] = ()
    against: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Support:
    """Everything the panel shows."""

    entries: tuple[Entry, ...]
    acts: tuple[tuple[str, str], ...] = ()
    """Condition, and the act that is safe in it."""
    water_proven: bool = False

    def __post_init__(self) -> None:
        for condition, act in self.acts:
            if condition not in CONDITIONS:
                raise ValueError(f"the act '{act}' carries no safe condition")


NOT_JUDGED = Support((Entry("not judged", "No findings yet", missing=("a minute of readings",)),))
