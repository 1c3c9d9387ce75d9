"""A screen as plain values: texts, boxes, lines and touch targets on the logical canvas of 1280 x 800 px.

A scene knows nothing of Qt. It is built from results, painted by :mod:`logger.desktop.painter` and looked
through by :mod:`logger.desktop.audit`, so that what a person sees can be checked without a screen.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from logger.desktop.letters import ASCENT, CAP_HEIGHT, DESCENT, text_width

WIDTH, HEIGHT = 1280, 800
SMALLEST = 16
"""Smallest type on a screen that is read at arm's length [px]."""
SMALLEST_FAR = 26


class Role(StrEnum):
    """What a colour is for; a look gives each role its colour."""

    GROUND = "ground"
    PANEL = "panel"
    FOOT = "foot"
    KEY = "key"
    TEXT = "text"
    SECOND = "second"
    EDGE = "edge"
    MARK = "mark"
    HAIRLINE = "hairline"
    BAND = "band"
    OUT = "out"
    ACT = "act"
    SLAB_TEXT = "slab text"
    """Text on a slab of the out-of-band or act-now colour."""


class Align(StrEnum):
    """Which part of a text stands at its x."""

    LEFT = "left"
    MIDDLE = "middle"
    RIGHT = "right"


@dataclass(frozen=True, slots=True)
class Rect:
    """A rectangle."""

    x: float
    y: float
    w: float
    h: float

    @property
    def right(self) -> float:
        """Right edge."""
        return self.x + self.w

    @property
    def bottom(self) -> float:
        """Lower edge."""
        return self.y + self.h

    def overlap(self, other: Rect) -> tuple[float, float]:
        """Give by how much two rectangles overlap in x and y; not more than 0 where they do not."""
        return (
            min(self.right, other.right) - max(self.x, other.x),
            min(self.bottom, other.bottom) - max(self.y, other.y),
        )

    def contains(self, x: float, y: float) -> bool:
        """Whether a point lies in it."""
        return self.x <= x < self.right and self.y <= y < self.bottom


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; ``y`` is its baseline."""

    x: float
    y: float
    text: str
    px: float = 16
    bold: bool = False
    role: Role = Role.TEXT
    align: Align = Align.LEFT
    on: Role = Role.GROUND
    """What it stands on, for the contrast."""
    of: str = ""
    """Symbol of the result, or name of the measuring point, whose value it shows."""
    column: Rect | None = None
    """Where it must stay; the canvas by default."""

    @property
    def width(self) -> float:
        """Width of the line."""
        return text_width(self.text, self.px, bold=self.bold)

    @property
    def left(self) -> float:
        """Left edge."""
        shift = {Align.LEFT: 0.0, Align.MIDDLE: 0.5, Align.RIGHT: 1.0}[self.align]
        return self.x - shift * self.width

    @property
    def box(self) -> Rect:
        """What its letters cover: capitals and figures above the line, a little below it."""
        return Rect(self.left, self.y - CAP_HEIGHT * self.px, self.width, (CAP_HEIGHT + 0.16) * self.px)

    @property
    def line(self) -> Rect:
        """The whole line with the font's ascent and descent."""
        return Rect(self.left, self.y - ASCENT * self.px, self.width, (ASCENT + DESCENT) * self.px)


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle, filled, edged or both."""

    rect: Rect
    fill: Role | None = None
    edge: Role | None = None
    px: float = 2.0
    radius: float = 0.0
    dashed: bool = False
    of: str = ""
    name: str = ""
    """What it stands for, such as ``value block`` or ``slab``."""


@dataclass(frozen=True, slots=True)
class Path:
    """A line through points, or a filled shape."""

    points: tuple[tuple[float, float], ...]
    role: Role = Role.TEXT
    px: float = 2.0
    filled: bool = False
    dashed: bool = False
    of: str = ""
    name: str = ""


@dataclass(frozen=True, slots=True)
class Hatch:
    """A hatched rectangle: no value, or no readings."""

    rect: Rect
    role: Role = Role.MARK
    step: float = 10.0
    edged: bool = True
    of: str = ""
    name: str = ""
    clip: Rect | None = None


@dataclass(frozen=True, slots=True)
class Trace:
    """Many points of a trend: the mean with its lowest and highest, in columns of one pixel or wider."""

    x: npt.NDArray[np.float64]
    mean: npt.NDArray[np.float64]
    low: npt.NDArray[np.float64]
    high: npt.NDArray[np.float64]
    clip: Rect
    dashed: bool = False
    of: str = ""


Item = Text | Box | Path | Hatch | Trace


@dataclass(frozen=True, slots=True)
class Target:
    """Where a touch does something."""

    rect: Rect
    act: str
    """What, such as ``mark`` or ``channel machine/ts``."""


@dataclass(frozen=True, slots=True)
class Flag:
    """Something abnormal on the screen, with the cues that say so besides colour."""

    symbol: str
    word: str
    beyond: str
    """Which side: ``over`` or ``under``."""


@dataclass(frozen=True, slots=True)
class Scene:
    """One screen, painted in the order of its items."""

    view: str
    items: tuple[Item, ...]
    targets: tuple[Target, ...] = ()
    flags: tuple[Flag, ...] = ()
    missing: frozenset[str] = frozenset()
    """Symbols and points that have no value now: nothing that is derived from them may be shown."""
    preset: str = "si"

    @property
    def texts(self) -> tuple[Text, ...]:
        """All texts."""
        return tuple(item for item in self.items if isinstance(item, Text))

    def target_at(self, x: float, y: float) -> Target | None:
        """Find what a touch at a place means; the topmost one."""
        for target in reversed(self.targets):
            if target.rect.contains(x, y):
                return target
        return None


@dataclass(slots=True)
class Sheet:
    """Where a scene's items are gathered while it is being drawn."""

    items: list[Item] = field(default_factory=list)
    targets: list[Target] = field(default_factory=list)
    flags: list[Flag] = field(default_factory=list)

    def add(self, *items: Item) -> None:
        """Put items on top of what is there."""
        self.items.extend(items)

    def texts_in(self, region: Rect) -> list[Text]:
        """Give the texts whose letters touch a region."""
        found = []
        for item in self.items:
            if isinstance(item, Text):
                across, down = item.box.overlap(region)
                if across > 0 and down > 0:
                    found.append(item)
        return found

    def insert_before_levels(self, item: Item) -> None:
        """Put an item below the first level, so that levels stay on top of their allowed slots."""
        names = [getattr(known, "name", "") for known in self.items]
        self.items.insert(names.index("level") if "level" in names else len(names), item)

    def scene(self, view: str, preset: str, missing: frozenset[str] = frozenset()) -> Scene:
        """Close it."""
        return Scene(view, tuple(self.items), tuple(self.targets), tuple(self.flags), missing, preset)


def fitting(text: str, px: float, width: float, *, bold: bool = False) -> str:
    """Shorten a text that is too wide, with an ellipsis; names that a person typed may have any length.

    Examples
    --------
    >>> fitting("community hall, unit 2", 20, 150, bold=True)
    'community h…'
    """
    if text_width(text, px, bold=bold) <= width:
        return text
    while text and text_width(text + "…", px, bold=bold) > width:
        text = text[:-1]
    return text.rstrip(" ,·:") + "…"


def wrapped(text: str, px: float, width: float, *, bold: bool = False, lines: int = 99) -> list[str]:
    """Break a text into lines between its words; what does not fit the last line is shortened."""
    found = [""]
    for word in text.split():
        longer = f"{found[-1]} {word}".strip()
        if found[-1] and text_width(longer, px, bold=bold) > width:
            found.append(word)
        else:
            found[-1] = longer
    if len(found) > lines:
        found = [*found[: lines - 1], " ".join(found[lines - 1 :])]
    return [fitting(line, px, width, bold=bold) for line in found]
