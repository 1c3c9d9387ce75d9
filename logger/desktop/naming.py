"""Naming a mark afterwards: keys become its text; the arrows choose another mark. No Qt."""

from __future__ import annotations

from dataclasses import dataclass, replace

from analysis.presets import duration
from logger.desktop.present import Mark

MOST_LETTERS = 80


@dataclass(frozen=True, slots=True)
class Naming:
    """The name that is being written."""

    marks: tuple[Mark, ...]
    place: int
    text: str = ""
    done: bool = False
    keep: bool = False

    @property
    def mark(self) -> Mark:
        """Which mark is named."""
        return self.marks[self.place]

    @property
    def words(self) -> str:
        """What the person is asked."""
        shown = self.text or (f"now “{self.mark.text}”" if self.mark.text else "type its name")
        return (
            f"mark {self.mark.number} at {duration(self.mark.t_us / 1e6)}: {shown}; Enter keeps, Esc leaves"
        )

    def key(self, key: str) -> Naming:
        """Take a letter, or ``keep``, ``leave``, ``back``, ``earlier``, ``later``.

        Examples
        --------
        >>> naming = Naming((Mark(1, 5_000_000, ""),), 0)
        >>> naming.key("o").key("i").key("l").key("keep").text
        'oil'
        """
        match key:
            case "keep":
                return replace(self, done=True, keep=bool(self.text.strip()))
            case "leave":
                return replace(self, done=True)
            case "back":
                return replace(self, text=self.text[:-1])
            case "earlier":
                return replace(self, place=max(self.place - 1, 0), text="")
            case "later":
                return replace(self, place=min(self.place + 1, len(self.marks) - 1), text="")
            case _:
                fits = len(key) == 1 and key.isprintable() and len(self.text) < MOST_LETTERS
                return replace(self, text=self.text + key) if fits else self
