"""Only expressions that read any line in a bounded time are allowed."""

from __future__ import annotations

import re

import pytest

from drivers.pattern import LINE_LIMIT, PatternError, check_pattern

ALLOWED = [
    r"T=(?P<t>[+-]?\d+(?:\.\d+)?)",
    r"(?P<a>\d+\.\d),(?P<b>-?\d+)",
    r"\s*(?P<a>\d+)\s+(?P<b>\d+)\s*",
    r"(?P<v>\d{1,4}\.?\d{0,3}) ?(?:psi|bar)",
    r"[^=]*=(?P<v>\d+)",
    r"(?P<t>OL|\d+)",
    r"(?:A|B)(?P<x>\d+)",
    r".*=(?P<v>\d+)",
]
REFUSED = [
    r"(a+)+b",
    r"(?:a*)*",
    r"(?:a|a)*b",
    r"(?P<x>\d+)(?P=x)",
    r"(?=a)b",
    r"(?<!a)b",
    r".*.*.*x",
    r"\d+\d+\d+x",
    r"(?P<a>\d+\.?\d*) (?P<b>\d+\.?\d*) (?P<c>\d+\.?\d*)",
    r"(",
    r"a{1,99999999999}",
    "a" * 600,
]


@pytest.mark.parametrize("pattern", ALLOWED)
def test_allowed_and_quick_on_the_worst_lines(pattern: str) -> None:
    """Were one of these slow, it would not end here."""
    check_pattern(pattern)
    compiled = re.compile(pattern)
    for filler in ("1", "a", " ", "=", "1.", "=1", "."):
        for end in ("", "\x00", "x", "=", "1"):
            compiled.fullmatch((filler * LINE_LIMIT)[: LINE_LIMIT - 1] + end)


@pytest.mark.parametrize("pattern", REFUSED)
def test_refused(pattern: str) -> None:
    with pytest.raises(PatternError):
        check_pattern(pattern)


def test_groups_are_given() -> None:
    assert check_pattern(ALLOWED[1]) == {"a", "b"}
