"""The three looks: dark, sun and night, and the contrast between their colours (WCAG 2)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from logger.desktop.scene import Role

LookName = Literal["dark", "sun", "night"]
NEXT_LOOK: Mapping[LookName, LookName] = {"dark": "sun", "sun": "night", "night": "dark"}
TEXT_CONTRAST, MARK_CONTRAST = 7.0, 3.0
"""Least contrast of text and of marks that carry a meaning (WCAG 2.2, criteria 1.4.6 and 1.4.11)."""


@dataclass(frozen=True, slots=True)
class Look:
    """Colours by role, as #RRGGBB."""

    name: LookName
    colours: Mapping[Role, str]
    dimmed: float = 1.0
    """What is left of the light; below 1 the contrast test is waived, and the program says so."""

    def colour(self, role: Role) -> str:
        """Give a role's colour, dimmed where the look is."""
        red, green, blue = (round(part * self.dimmed) for part in rgb(self.colours[role]))
        return f"#{red:02X}{green:02X}{blue:02X}"


def rgb(colour: str) -> tuple[int, int, int]:
    """Take #RRGGBB apart."""
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, definition)."""
    parts = [part / 255.0 for part in rgb(colour)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours (WCAG 2.2, definition).

    Examples
    --------
    >>> contrast("#FFFFFF", "#000000")
    21.0
    """
    bright, dim = sorted((luminance(one), luminance(other)), reverse=True)
    return round((bright + 0.05) / (dim + 0.05), 2)


_DARK = {
    Role.GROUND: "#1B1E21", Role.PANEL: "#262A2E", Role.FOOT: "#31363B", Role.KEY: "#2E3338",
    Role.TEXT: "#F1EEE6", Role.SECOND: "#C9CBC7", Role.EDGE: "#A7AEB3", Role.MARK: "#8E969C",
    Role.HAIRLINE: "#565D64", Role.BAND: "#454C53", Role.OUT: "#FFB638", Role.ACT: "#FF8F74",
    Role.SLAB_TEXT: "#14171A",
}  # fmt: skip
_SUN = {
    Role.GROUND: "#F5F5F2", Role.PANEL: "#E9EAE6", Role.FOOT: "#DCDEDA", Role.KEY: "#D3D6D2",
    Role.TEXT: "#0A0C0D", Role.SECOND: "#33383C", Role.EDGE: "#4E565C", Role.MARK: "#5F676D",
    Role.HAIRLINE: "#9AA1A6", Role.BAND: "#C3C9CC", Role.OUT: "#6E3500", Role.ACT: "#96001A",
    Role.SLAB_TEXT: "#FFFFFF",
}  # fmt: skip
NIGHT_LIGHT = 0.55
LOOKS: Mapping[LookName, Look] = {
    "dark": Look("dark", _DARK),
    "sun": Look("sun", _SUN),
    "night": Look("night", _DARK, NIGHT_LIGHT),
}
