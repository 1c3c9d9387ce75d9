"""A screen in words, for who hears it: the state, every key with its words, and the values by name."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from analysis.derived import BY_SYMBOL
from analysis.points import POINTS
from logger.desktop.scene import Box, Path, Rect, Scene, Target, Text

_STATE_LEFT = 160.0
"""The two state lines begin left of this in every view, on the place whose touch shows the far view."""
_OWN_WORDS = {
    "far": "far view", "look": "change the look", "join": "join a channel to a measuring point",
    "refit": "refit the axis", "previous": "previous view", "next": "next view",
}  # fmt: skip
"""Acts whose place bears no words, or those of something else."""
_SILENT = ("moment",)
"""Acts that are many and have the arrow keys."""
_NUMBERS = re.compile(r"[−+±]?\d[\d.,:]*")


@dataclass(frozen=True, slots=True)
class Line:
    """Words that stand somewhere."""

    words: str
    rect: Rect


@dataclass(frozen=True, slots=True)
class Spoken:
    """What can be heard of a screen."""

    state: str
    """The two state lines."""
    keys: Mapping[str, str]
    """Act to the words of its key, in the order in which Tab goes."""
    values: tuple[Line, ...]
    """Everything else that stands there, each value with its name."""

    def name(self, ring: str) -> str:
        """Give the name of what the keyboard is on: the key inside the ring, else the state."""
        return self.keys.get(ring) or self.state


def spoken(scene: Scene) -> Spoken:
    """Put a screen into words.

    Examples
    --------
    >>> from logger.desktop.scene import Rect
    >>> key = Target(Rect(0, 100, 200, 76), "mark")
    >>> top = Target(Rect(0, 0, 900, 88), "far")
    >>> texts = (Text(80, 48, "STEADY for 3:20", 44), Text(10, 140, "MARK NOW", 24))
    >>> heard = spoken(Scene("x", texts, (top, key)))
    >>> heard.state, heard.keys
    ('STEADY for 3:20', {'far': 'far view', 'mark': 'MARK NOW'})
    """
    state: list[str] = []
    on_key: dict[str, list[Text]] = {}
    rest: list[Text] = []
    for text in scene.texts:
        if not text.text:
            continue
        box = text.box
        target = scene.target_at(box.x + box.w / 2, box.y + box.h / 2)
        if target is not None and target.act == "far" and text.left < _STATE_LEFT:
            state.append(text.text)
        elif target is None or target.act.split(" ")[0] in (*_OWN_WORDS, *_SILENT):
            rest.append(text)
        else:
            on_key.setdefault(target.act, []).append(text)
    keys = {
        target.act: _key_words(scene, target, on_key.get(target.act, []))
        for target in scene.targets
        if target.act.split(" ")[0] not in _SILENT
    }
    return Spoken(". ".join(state), keys, tuple(_values(rest)))


def without_numbers(words: str) -> str:
    """Take numbers and durations out: what is left changes only when something else is said.

    Examples
    --------
    >>> without_numbers("STEADY for 3:20") == without_numbers("STEADY for 1:03:21")
    True
    """
    return _NUMBERS.sub("", words)


def _key_words(scene: Scene, target: Target, texts: list[Text]) -> str:
    own = _OWN_WORDS.get(target.act) or _OWN_WORDS.get(target.act.split(" ")[0])
    if own:
        return own
    words: list[str] = []
    before: Text | None = None
    for text in sorted(texts, key=lambda text: (round(text.y), text.left)):
        if before is not None and abs(text.y - before.y) < 2.0:
            words[-1] += f" {text.text}"  # a number and its unit are two texts on one line
        else:
            words.append(text.text)
        before = text
    if any(_says_chosen(item) and _within(item, target) for item in scene.items):
        words.append("chosen")
    return ", ".join(words) or target.act.replace("_", " ")


def _says_chosen(item: object) -> bool:
    return isinstance(item, Box | Path) and item.name in ("chosen", "taken")


def _within(item: object, target: Target) -> bool:
    if isinstance(item, Box):
        return item.rect == target.rect
    return isinstance(item, Path) and target.rect.contains(*item.points[0])


def _values(texts: list[Text]) -> list[Line]:
    """Join what belongs to one value, with its name in front; the rest stands as it is."""
    parts: dict[str, list[Text]] = {}
    for number, text in enumerate(texts):
        parts.setdefault(text.of or f"#{number}", []).append(text)
    lines = []
    for of, together in parts.items():
        symbol = of.partition("@")[0]
        known = POINTS.get(symbol) or BY_SYMBOL.get(symbol)
        label = known.label.split(" (")[0] if known is not None else ""
        said = " ".join(text.text for text in together)
        boxes = [text.box for text in together]
        x, y = min(box.x for box in boxes), min(box.y for box in boxes)
        rect = Rect(x, y, max(box.right for box in boxes) - x, max(box.bottom for box in boxes) - y)
        lines.append(Line(f"{label}: {said}" if label and label not in said else said, rect))
    return lines
