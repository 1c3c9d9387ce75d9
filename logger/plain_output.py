"""What a command prints can hold what a device sent or a file says; a terminal must not obey it.

Text from outside may carry escape sequences (they move the cursor, rename the window, type into some
terminals) or marks that turn the direction of writing. Everything that is printed passes here once, so that
no single command has to think of it.
"""

from __future__ import annotations

import sys

TYPE_CHECKING = False
if TYPE_CHECKING:  # loaded for --help too, so nothing is imported that only the checker of types needs
    from typing import Any, TextIO

_KEPT = "\n\t"


def harmless(text: str) -> str:
    r"""Take out what a terminal would act on; line ends and tabulators stay.

    Examples
    --------
    >>> harmless("hall\x1b]0;title\x07 2,\u202e 4 °C\n")
    'hall]0;title 2, 4 °C\n'
    """
    # A carriage return at the very beginning only goes back to our own line's start (progress).
    begin = 1 if text.startswith("\r") else 0
    strange = {c for c in set(text[begin:]) if not c.isprintable() and c not in _KEPT and _acts(c)}
    if not strange:
        return text
    return text[:begin] + text[begin:].translate({ord(c): None for c in strange})


def _acts(character: str) -> bool:
    """Whether a character is a control, a direction mark or no character at all (not a special blank)."""
    import unicodedata  # only when something strange is there: starting must stay quick

    return unicodedata.category(character)[0] == "C"


class PlainStream:
    """A text stream that lets only harmless text through."""

    def __init__(self, raw: TextIO) -> None:
        self.raw = raw

    def write(self, text: str) -> int:
        """Write the text without what a terminal would act on."""
        self.raw.write(harmless(text))
        return len(text)

    def writelines(self, lines: list[str]) -> None:
        """Write several texts."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.raw, name)


def raw_stream(stream: TextIO) -> TextIO:
    """Give the stream itself, for who writes colours and cleans each text before."""
    return stream.raw if isinstance(stream, PlainStream) else stream


class plain_streams:  # noqa: N801
    """Make everything that is printed harmless, for as long as a command runs."""

    def __enter__(self) -> None:
        self._before = sys.stdout, sys.stderr
        if not isinstance(sys.stdout, PlainStream):
            sys.stdout = PlainStream(sys.stdout)
            sys.stderr = PlainStream(sys.stderr)

    def __exit__(self, *_: object) -> None:
        sys.stdout, sys.stderr = self._before
