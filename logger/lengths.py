"""Lengths of time as a person writes them: ``90s``, ``10m``, ``8h``."""

from __future__ import annotations

import re

from logger.errors import CommandError

_FORM = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(s|m|min|h)\s*")
_SECONDS = {"s": 1.0, "m": 60.0, "min": 60.0, "h": 3600.0}


def parse_length(text: str) -> float:
    """Read a length of time [s].

    Examples
    --------
    >>> parse_length("10m")
    600.0
    """
    match = _FORM.fullmatch(text)
    if match is None:
        raise CommandError(f"'{text}' is no length of time; write it like 90s, 10m or 8h.")
    return float(match.group(1)) * _SECONDS[match.group(2)]
