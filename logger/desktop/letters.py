"""Advance widths of B612 in thousandths of the type size, so that a scene can be laid out without Qt.

Read from the shipped fonts; a test compares them again.
"""

from __future__ import annotations

_LETTERS: dict[int, str] = {
    0: "\xad",
    200: "'|¦",
    250: ",;·",
    300: ".:Iij°²³¹ÌÍÎÏìíîï",
    350: " !l¡’‘",
    400: '"frtªº',
    450: "()-J[sš",
    500: "=]cz¢§≠“”↑↓",
    521: "ç",
    525: "a",
    550: "$*/?FLS\\_`ekvxy£¨©®¯´¸¿àáâãäåèéêë÷ýÿŠ−–",
    600: "+CEKPTYZbdghnopqu}¤¥±ÈÉÊËÝñòóôõöøùúûüþŸμ•",
    649: "{",
    650: "0123456789<>ABDGRVXµÀÁÂÃÄÅÇÐÞßð≤≥▼",
    700: "&HU«¶»ÙÚÛÜ",
    750: "N^w~¼½¾Ñ…→←",
    800: "OQÒÓÔÕÖ×ØΩω√",
    850: "#¬Ææ∞",
    900: "%Mm",
    950: "Wœ",
    1000: "@Œ",
    1050: "—",
}

_WIDTH_OF = {letter: width for width, letters in _LETTERS.items() for letter in letters}
WIDTHS: dict[bool, dict[str, int]] = {False: _WIDTH_OF, True: _WIDTH_OF}
"""Bold or not, to the width of each character that the fonts hold; both faces are cut alike."""
WIDEST = 1000
"""What a character that the fonts do not hold is taken to be."""
CAP_HEIGHT = 0.75
ASCENT, DESCENT = 0.967, 0.356
"""Fractions of the type size."""


def text_width(text: str, px: float, *, bold: bool = False) -> float:
    """Give the width of a line of text [px], without kerning.

    Examples
    --------
    >>> text_width("5.1", 56, bold=True)
    89.6
    """
    widths = WIDTHS[bold]
    return sum(widths.get(letter, WIDEST) for letter in text) * px / 1000.0
