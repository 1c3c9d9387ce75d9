"""One thing on a unit card that cannot be right."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class CardFault:
    """One thing that cannot be right, with the key path."""

    path: str
    sentence: str

    def __str__(self) -> str:
        return f"'{self.path}': {self.sentence}"
