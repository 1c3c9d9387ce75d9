"""Looking a scene through for what must not be: type too small, weak contrast, text cut off or overlapping,
a cue by colour alone, a number without its unit, a value that rests on a missing one.
"""  # noqa: D205

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from analysis.derived import BY_SYMBOL
from logger.desktop.letters import WIDTHS
from logger.desktop.looks import LOOKS, MARK_CONTRAST, TEXT_CONTRAST, LookName, contrast
from logger.desktop.scene import (
    HEIGHT,
    SMALLEST,
    SMALLEST_FAR,
    WIDTH,
    Box,
    Hatch,
    Path,
    Rect,
    Role,
    Scene,
    Text,
    Trace,
)  # fmt: skip

OVERLAP_PX = 1.0
LEAST_TOUCH = 74.0
CONTRAST_WAIVED = frozenset({"night"})
_ABNORMAL = (Role.OUT, Role.ACT)
_DECOR = (Role.HAIRLINE, Role.BAND, Role.GROUND, Role.PANEL, Role.FOOT, Role.KEY)
_UNITS = {
    "si": (
        "°C",
        "K",
        "bar(g)",
        "bar(a)",
        "bar",
        "kPa",
        "hPa",
        "L/s",
        "kg/s",
        "kW",
        "kWh",
        "kJ/kg",
        "kg",
        "L",
        "m",
        "m/s",
    ),
    "us": (
        "°F",
        "psig",
        "psia",
        "psi",
        "gpm",
        "lb/h",
        "Btu/h",
        "Btu/lb",
        "lb",
        "gal",
        "ft",
        "ft/s",
        "kW",
        "kWh",
    ),
}
_NEUTRAL = ("V", "A", "Hz", "rpm", "Ω", "µF", "%", "s", "min", "h", "px")
_NUMBER = re.compile(r"(?<![\w.:])[−+±]?\s?\d[\d .,]*(?:\.\d+)?")
_TIME = re.compile(r"\d+:\d\d(?::\d\d)?")
_TOUCH_FREE = ("moment", "look", "far")
"""Acts whose place may be smaller or shared: they have a key and a larger place elsewhere."""


@dataclass(frozen=True, slots=True)
class VisibleFault:
    """One thing that must not be."""

    scene: str
    kind: str
    what: str

    def __str__(self) -> str:
        """Give one line."""
        return f"{self.scene}: {self.kind}: {self.what}"


def audit(scene: Scene, look: LookName = "dark", name: str = "") -> list[VisibleFault]:
    """Look one scene through.

    Parameters
    ----------
    look
        Whose colours the contrast is worked out with.
    name
        What the scene is called in the faults.
    """
    return [*in_any_look(scene, name or scene.view), *in_a_look(scene, look, name or scene.view)]


def in_any_look(scene: Scene, name: str) -> list[VisibleFault]:
    """Give the faults that do not depend on colours."""
    found: list[tuple[str, str]] = []
    for test in (_sizes, _letters, _inside, _overlaps, _struck, _cues, _units, _derived, _touches):
        found += test(scene)
    return [VisibleFault(name, kind, what) for kind, what in found]


def in_a_look(scene: Scene, look: LookName, name: str) -> list[VisibleFault]:
    """Give the faults of a look's colours."""
    return [VisibleFault(name, kind, what) for kind, what in _contrasts(scene, look)]


Found = Iterable[tuple[str, str]]


def _sizes(scene: Scene) -> Found:
    least = SMALLEST_FAR if scene.view == "far" else SMALLEST
    for text in scene.texts:
        if text.px < least:
            yield "too small", f"'{text.text}' is {text.px:g} px, at least {least}"


def _letters(scene: Scene) -> Found:
    for text in scene.texts:
        lacking = {letter for letter in text.text if letter not in WIDTHS[text.bold]}
        if lacking:
            yield "letter not in the font", f"'{text.text}': {' '.join(sorted(lacking))}"


def _inside(scene: Scene) -> Found:
    for text in scene.texts:
        room = text.column or Rect(0, 0, WIDTH, HEIGHT)
        box = text.box
        if box.x < room.x - 1 or box.right > room.right + 1 or box.y < room.y or box.bottom > room.bottom:
            yield (
                "cut off",
                f"'{text.text}' at {box.x:.0f} to {box.right:.0f}, {box.y:.0f} to {box.bottom:.0f}",
            )


def _overlaps(scene: Scene) -> Found:
    boxes = [(text, text.box) for text in scene.texts if text.text]
    for number, (one, box) in enumerate(boxes):
        for other, second in boxes[number + 1 :]:
            across, down = box.overlap(second)
            if across > OVERLAP_PX and down > OVERLAP_PX:
                yield "overlap", f"'{one.text}' and '{other.text}'"


def _struck(scene: Scene) -> Found:
    """Find level lines that run through text: rules, rails, joins and brackets painted over letters."""
    for text in scene.texts:
        box = text.box
        inner = Rect(box.x + 1, box.y + 2, max(box.w - 2, 0), max(box.h - 0.16 * text.px - 3, 0))
        for item in scene.items:
            if (
                isinstance(item, Path)
                and not item.filled
                and item.name in ("leader", "gap leader", "rule", "bracket")
            ):
                for a, b in zip(item.points, item.points[1:], strict=False):
                    if _crosses(a, b, inner):
                        yield "struck through", f"'{text.text}' by a {item.name}"
                        break
            elif (
                isinstance(item, Box)
                and item.name == "slab"
                and item.of != text.of
                and text.role is not Role.SLAB_TEXT
            ):
                across, down = item.rect.overlap(inner)
                if across > 1 and down > 1:
                    yield "covered", f"'{text.text}' by a slab"


def _crosses(a: tuple[float, float], b: tuple[float, float], rect: Rect) -> bool:
    """Whether a line goes through a rectangle (its part inside, clipped edge by edge, is not empty)."""
    begin, end = 0.0, 1.0
    for p, q, low, high in ((a[0], b[0], rect.x, rect.right), (a[1], b[1], rect.y, rect.bottom)):
        if abs(q - p) < 1e-9:
            if not low < p < high:
                return False
            continue
        first, last = sorted(((low - p) / (q - p), (high - p) / (q - p)))
        begin, end = max(begin, first), min(end, last)
    return begin < end


def _cues(scene: Scene) -> Found:
    """Every abnormal value has a slab with word and arrow; nothing else is coloured."""
    flagged = {flag.symbol for flag in scene.flags}
    slabs = {item.of for item in scene.items if isinstance(item, Box) and item.name == "slab"}
    arrows = {item.of for item in scene.items if isinstance(item, Path) and item.name == "arrow"}
    words = {(item.of, item.text) for item in scene.texts if item.role is Role.SLAB_TEXT}
    for flag in scene.flags:
        if flag.symbol not in slabs or (flag.symbol, flag.word) not in words:
            yield "colour alone", f"{flag.symbol} has no slab with the word {flag.word}"
        if flag.symbol not in arrows:
            yield "colour alone", f"{flag.symbol} has no arrow"
    for item in scene.items:
        if isinstance(item, Trace):
            continue
        role = item.fill if isinstance(item, Box) else item.role
        if role in _ABNORMAL and item.of and item.of not in flagged | slabs | arrows:
            what = item.text if isinstance(item, Text) else item.name
            yield "colour without a cause", f"{what} of {item.of}"


def _contrasts(scene: Scene, look: LookName) -> Found:
    if look in CONTRAST_WAIVED:
        return
    colours = LOOKS[look]
    seen: set[tuple[Role, Role, bool]] = set()
    for item in scene.items:
        if isinstance(item, Text):
            pair = (item.role, item.on, True)
        elif isinstance(item, Path | Hatch) and item.role not in _DECOR:
            pair = (item.role, Role.GROUND, False)
            if isinstance(item, Path) and item.name == "arrow":
                continue
        else:
            continue
        if pair in seen:
            continue
        seen.add(pair)
        ratio = contrast(colours.colour(pair[0]), colours.colour(pair[1]))
        least = TEXT_CONTRAST if pair[2] else MARK_CONTRAST
        if ratio < least:
            yield "weak contrast", f"{pair[0].value} on {pair[1].value}: {ratio} to 1, at least {least:g}"


def _units(scene: Scene) -> Found:
    """Every shown value has its unit, on the same line or right behind it; no unit of another preset."""
    values = [text for text in scene.texts if text.of]
    own = (*_UNITS[scene.preset], *_NEUTRAL)
    foreign = set(_UNITS["us" if scene.preset == "si" else "si"]) - set(own)
    for text in values:
        bare = _TIME.sub("", text.text)
        if not _NUMBER.search(bare):
            continue
        if any(bare.rstrip().endswith(unit) for unit in own) or text.text.startswith("±"):
            continue
        if any(f" {unit}" in bare for unit in own):
            continue
        beside = any(
            other is not text and other.of == text.of and other.text in own
            and abs(other.y - text.y) < 2 and -2 <= other.left - text.box.right < 40
            for other in scene.texts
        )  # fmt: skip
        if not beside and not _without_unit(text.of):
            yield "number without a unit", f"'{text.text}' of {text.of}"
    for text in scene.texts:
        for word in re.findall(r"[\d.]\s([^\s\d·,;:]+)", text.text):
            if word in foreign:
                yield "unit of another preset", f"'{text.text}'"


def _without_unit(symbol: str) -> bool:
    """Whether a symbol is a plain ratio; in a table the symbol is followed by its column."""
    symbol = symbol.partition("@")[0]
    return symbol in BY_SYMBOL and BY_SYMBOL[symbol].quantity.value == "ratio"


def _derived(scene: Scene) -> Found:
    """Find items that show the value of something that has none."""
    for item in scene.items:
        symbol = getattr(item, "of", "")
        if symbol and symbol in scene.missing and not isinstance(item, Trace) and not _slab_of_silence(item):
            what = item.text if isinstance(item, Text) else getattr(item, "name", "")
            yield "value that is missing", f"{what} of {symbol}"


def _slab_of_silence(item: object) -> bool:
    return isinstance(item, Box) and item.name == "slab"


def _touches(scene: Scene) -> Found:
    for target in scene.targets:
        act = target.act.split(" ")[0]
        if act in _TOUCH_FREE:
            continue
        if min(target.rect.w, target.rect.h) < LEAST_TOUCH:
            yield "touch too small", f"{target.act}: {target.rect.w:.0f} x {target.rect.h:.0f} px"
