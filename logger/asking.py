"""Questions in a terminal that digits, the decimal point, minus and Enter can answer: a keypad is enough."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

Read = Callable[[str], str]
Say = Callable[[str], None]
_NUMBER = re.compile(r"[+\-−]?(?:\d+[.,]?\d*|[.,]\d+)")


class DoneError(Exception):
    """The person has ended the questions, by the end of input or an interruption; what was typed counts."""


class Asker:
    """Asks one thing at a time; an answer that cannot be taken is asked again, with what to type.

    Parameters
    ----------
    read
        Gives the next line; ``input`` in a terminal.
    say
        Writes a line; ``print`` in a terminal.

    Examples
    --------
    >>> answers = iter(["x", "25,6"])
    >>> Asker(lambda _: next(answers), print).number("transformer out", "V")
    'x' is no number; type one such as 25.6, or only Enter if it was not read.
    '25.6 V'
    """

    def __init__(self, read: Read, say: Say) -> None:
        self._read = read
        self.say = say

    def line(self, prompt: str) -> str:
        """Ask for a line of text.

        Raises
        ------
        DoneError
            At the end of input or an interruption.
        """
        try:
            return self._read(prompt).strip()
        except (EOFError, KeyboardInterrupt):
            raise DoneError from None

    def number(self, prompt: str, unit: str, *, negative: bool = False, also: Sequence[str] = ()) -> str:
        """Ask for a number; gives it with its unit, one of the words ``also``, or an empty text.

        A unit typed behind the number stands instead of the usual one. A decimal comma is a decimal point.
        """
        hint = f" ({', '.join(also)} too)" if also else ""
        while True:
            text = self.line(f"{prompt} [{unit}]{hint}: ")
            if not text or text.lower() in also:
                return text.lower()
            match = _NUMBER.match(text)
            if match is None:
                self.say(f"'{text}' is no number; type one such as 25.6, or only Enter if it was not read.")
                continue
            value = match.group(0).replace(",", ".").replace("−", "-")
            if value.startswith("-") and not negative:
                self.say(f"{prompt} cannot be below zero; type it again in {unit}.")
                continue
            return f"{value} {text[match.end() :].strip() or unit}"

    def choice(self, prompt: str, options: Sequence[str]) -> int:
        """Ask which of numbered options; 0 (or Enter) is none of them."""
        self.say(prompt)
        for index, option in enumerate(options, start=1):
            self.say(f"  {index}  {option}")
        while True:
            text = self.line("number, 0 for none: ")
            if text in ("", "0"):
                return 0
            if text.isdigit() and 1 <= int(text) <= len(options):
                return int(text)
            self.say(f"'{text}' is none of the numbers; type 0 to {len(options)}.")

    def yes(self, prompt: str) -> bool | None:
        """Ask yes (1) or no (0); Enter leaves it not stated."""
        while True:
            text = self.line(f"{prompt} [1 yes, 0 no, Enter not known]: ").lower()
            if text in ("", "1", "y", "yes", "0", "n", "no"):
                return None if not text else text in ("1", "y", "yes")
            self.say(f"'{text}' is no answer; type 1 for yes or 0 for no.")
