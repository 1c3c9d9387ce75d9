"""A page of keys that a gloved hand can hit: what is offered for choosing, page by page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from logger.desktop.scene import Align, Box, Rect, Role, Sheet, Target, Text, fitting

KEYS_ON_PAGE = 14
_LEFT = 16.0


@dataclass(frozen=True, slots=True)
class Offer:
    """One key."""

    word: str
    act: str
    told: str = ""
    """A second line."""
    chosen: bool = False
    strong: bool = False
    """Outlined like a chosen one, for what is most likely wanted."""


def offer(
    sheet: Sheet, offers: Sequence[Offer], page: int, question: str, back: str, turn: str,
    more: Sequence[Offer] = (),
) -> None:  # fmt: skip
    """Draw two columns of keys with a question above them and the way back beside them.

    Parameters
    ----------
    page
        Which page; it wraps round.
    back, turn
        What the keys "go back" and "more" do.
    more
        Further keys below these two.
    """
    sheet.add(Text(_LEFT, 120, fitting(question, 20, 1000, bold=True), 20, True))
    pages = max(-(-len(offers) // KEYS_ON_PAGE), 1)
    page %= pages
    for number, one in enumerate(offers[page * KEYS_ON_PAGE : (page + 1) * KEYS_ON_PAGE]):
        column, row = divmod(number, KEYS_ON_PAGE // 2)
        key(sheet, Rect(_LEFT + 500.0 * column, 136 + 80.0 * row, 484, 76), one, align=Align.LEFT)
    side = [Offer("go back", back, strong=True)]
    if pages > 1:
        side.append(Offer("more", turn, f"page {page + 1} of {pages}", strong=True))
    for number, one in enumerate((*side, *more)):
        key(sheet, Rect(1024, 136 + 80.0 * number, 240, 76), one)


def key(sheet: Sheet, rect: Rect, one: Offer, align: Align = Align.MIDDLE) -> None:
    """Draw a key with its word and, below it, what it tells; one chosen or likely has a strong outline."""
    edge, px = (Role.TEXT, 4.0) if one.chosen or one.strong else (Role.EDGE, 2.0)
    sheet.add(Box(rect, Role.KEY, edge, px, 5, name="chosen" if one.chosen else ""))
    x = rect.x + rect.w / 2 if align is Align.MIDDLE else rect.x + 20
    room, middle = rect.w - 28.0, rect.y + rect.h / 2
    word = fitting(one.word, 20, room, bold=True)
    sheet.add(Text(x, middle + (-3 if one.told else 7), word, 20, True, align=align, on=Role.KEY))
    if one.told:
        told = fitting(one.told, 16, room)
        sheet.add(Text(x, middle + 22, told, 16, role=Role.SECOND, align=align, on=Role.KEY))
    sheet.targets.append(Target(rect, one.act))
