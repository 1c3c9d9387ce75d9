"""A console for tables and colours in which only our own colours reach the terminal."""

from __future__ import annotations

import sys
from collections.abc import Iterable

from rich.console import Console, ConsoleOptions, RenderableType
from rich.segment import Segment

from logger.plain_output import harmless, raw_stream


class PlainConsole(Console):
    """Cleans each piece of text before it is laid out; styles and cursor movements of the library stay."""

    def __init__(self, *, width: int | None = None, highlight: bool = True) -> None:
        super().__init__(file=raw_stream(sys.stdout), width=width, highlight=highlight)

    def render(self, renderable: RenderableType, options: ConsoleOptions | None = None) -> Iterable[Segment]:
        """Give the pieces of a renderable, each harmless."""
        for segment in super().render(renderable, options):
            yield segment if segment.control else Segment(harmless(segment.text), segment.style)
