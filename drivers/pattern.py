"""Which regular expressions a profile may hold: only those that read any line in a short, bounded time.

An expression such as ``(a+)+b`` takes time that doubles with each character of a line it does not fit. A
line of noise could then stop the program, so expressions with that property are refused on loading.
"""

from __future__ import annotations

import re
from typing import Any

PATTERN_LIMIT = 500
"""Longest expression [characters]."""
LINE_LIMIT = 512
"""Longest line that is tried against an expression [bytes]."""
_WAYS_LIMIT = 20_000
"""Most ways in which a line may be divided among the repeats of an expression."""


class PatternError(ValueError):
    """An expression that cannot be allowed; the text says what to write."""


def check_pattern(pattern: str) -> set[str]:
    r"""Check an expression and give the names of its groups.

    Raises
    ------
    PatternError
        If it is not a regular expression, is too long, or could take very long on some line.

    Examples
    --------
    >>> check_pattern(r"T=(?P<t>[+-]?\d+(?:\.\d+)?)")
    {'t'}
    >>> check_pattern(r"(a+)+b")
    Traceback (most recent call last):
    drivers.pattern.PatternError: a repeat inside a repeat could take very long on noise; write it flat.
    """
    if len(pattern) > PATTERN_LIMIT:
        raise PatternError(f"it has {len(pattern)} characters; write at most {PATTERN_LIMIT}.")
    try:
        compiled = re.compile(pattern)
        # The parser is not public, but the compiled object does not show its parts.
        tree = re._parser.parse(pattern)  # type: ignore[attr-defined]
    except (re.error, RecursionError, OverflowError) as refused:
        raise PatternError(f"it is not a regular expression: {refused}.") from None
    _refuse(tree, inside=False)
    if _ways(list(tree), frozenset()) > _WAYS_LIMIT:
        raise PatternError(
            "neighbouring repeats can match the same characters, which could take very long on noise; "
            r"write numbers as [+-]?\d+(?:\.\d+)? and separate fields by a fixed character."
        )
    return set(compiled.groupindex)


def _name(op: object) -> str:
    return str(op)


_REPEATS = ("MAX_REPEAT", "MIN_REPEAT", "POSSESSIVE_REPEAT")
_PLAIN = (
    "LITERAL",
    "NOT_LITERAL",
    "ANY",
    "IN",
    "CATEGORY",
    "RANGE",
    "AT",
    "SUBPATTERN",
    "BRANCH",
    "ATOMIC_GROUP",
)


def _refuse(tree: Any, *, inside: bool) -> None:
    """Refuse what makes the time unbounded: nested repeats, references back, looking around."""
    for op, argument in tree:
        name = _name(op)
        if name in _REPEATS:
            low, high, body = argument
            many = high > 1
            if inside and low != high:
                raise PatternError("a repeat inside a repeat could take very long on noise; write it flat.")
            _refuse(body, inside=inside or many)
        elif name == "SUBPATTERN":
            _refuse(argument[-1], inside=inside)
        elif name == "ATOMIC_GROUP":
            _refuse(argument, inside=inside)
        elif name == "BRANCH":
            if inside:
                raise PatternError("a choice inside a repeat could take very long on noise; write it flat.")
            for branch in argument[1]:
                _refuse(branch, inside=inside)
        elif name not in _PLAIN:
            raise PatternError("references back and looking around are not allowed; describe the whole line.")


_ALL = frozenset(range(128))
_Set = frozenset[int]


def _single(op: Any, argument: Any) -> _Set:
    """ASCII characters that one single-character item can match, found by trying."""
    name = _name(op)
    if name == "LITERAL":
        return frozenset({argument}) & _ALL
    if name == "NOT_LITERAL":
        return _ALL - {argument}
    if name == "ANY":
        return _ALL - {10}
    chosen: set[int] = set()
    negate = False
    for part, value in argument:
        kind = _name(part)
        if kind == "NEGATE":
            negate = True
        elif kind == "LITERAL":
            chosen.add(value)
        elif kind == "RANGE":
            chosen |= set(range(value[0], min(value[1], 127) + 1))
        elif kind == "CATEGORY":
            chosen |= _CATEGORIES.get(str(value), _ALL)
    return (_ALL - chosen) if negate else frozenset(chosen) & _ALL


_CATEGORIES = {
    f"CATEGORY_{name}": frozenset(c for c in range(128) if re.match(escape, chr(c)))
    for name, escape in (
        ("DIGIT", r"\d"), ("NOT_DIGIT", r"\D"), ("SPACE", r"\s"), ("NOT_SPACE", r"\S"),
        ("WORD", r"\w"), ("NOT_WORD", r"\W"),
    )
}  # fmt: skip


def _first(items: list[Any], follow: _Set) -> _Set:
    """Characters that a sequence can begin with, given what may follow it."""
    begun: _Set = frozenset()
    for op, argument in items:
        name = _name(op)
        if name == "AT":
            continue
        if name in _REPEATS:
            low, _, body = argument
            begun |= _first(list(body), frozenset())
            if low == 0:
                continue
            return begun
        if name in ("SUBPATTERN", "ATOMIC_GROUP"):
            inner = list(argument[-1] if name == "SUBPATTERN" else argument)
            begun |= _first(inner, frozenset())
            if _may_be_empty(inner):
                continue
            return begun
        if name == "BRANCH":
            for branch in argument[1]:
                begun |= _first(list(branch), frozenset())
            if any(_may_be_empty(list(branch)) for branch in argument[1]):
                continue
            return begun
        return begun | _single(op, argument)
    return begun | follow


def _may_be_empty(items: list[Any]) -> bool:
    for op, argument in items:
        name = _name(op)
        if name == "AT":
            continue
        if name in _REPEATS:
            if argument[0] == 0 or _may_be_empty(list(argument[2])):
                continue
            return False
        if name in ("SUBPATTERN", "ATOMIC_GROUP"):
            if _may_be_empty(list(argument[-1] if name == "SUBPATTERN" else argument)):
                continue
            return False
        if name == "BRANCH":
            if any(_may_be_empty(list(branch)) for branch in argument[1]):
                continue
            return False
        return False
    return True


def _ways(items: list[Any], follow: _Set) -> int:
    """Bound the number of ways in which a line can be divided among the repeats."""
    total = 1
    for index, (op, argument) in enumerate(items):
        name = _name(op)
        after = _first(items[index + 1 :], follow)
        if name in _REPEATS:
            low, high, body = argument
            inner = list(body)
            # A repeat is decided by the next character alone if what may follow cannot continue it.
            if low != high and _first(inner, frozenset()) & after and name != "POSSESSIVE_REPEAT":
                total *= min(int(high), LINE_LIMIT) - int(low) + 1
            total *= _ways(inner, after | _first(inner, frozenset()) if high > 1 else after)
        elif name == "SUBPATTERN":
            total *= _ways(list(argument[-1]), after)
        elif name == "ATOMIC_GROUP":
            total *= _ways(list(argument), after)
        elif name == "BRANCH":
            total *= sum(_ways(list(branch), after) for branch in argument[1])
    return total
