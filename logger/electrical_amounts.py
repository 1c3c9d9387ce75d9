"""Amounts of ELECTRICAL.toml: volts, ohms, ranges and times as a person writes them, refused by key path."""

from __future__ import annotations

import math
import re

from analysis.units import Quantity, UnitError, parse_amount


def amount(path: str, text: str, quantity: Quantity, absent: float = math.nan) -> float:
    """Read a number with its unit [SI]; empty gives ``absent``."""
    if not text.strip():
        return absent
    try:
        value = parse_amount(text, quantity).si
    except UnitError as refused:
        raise ValueError(f"'{path}': {refused}") from None
    if value < 0.0:
        raise ValueError(f"'{path}': '{text}' must be zero or more.")
    return value


def ohms(path: str, text: str, leads: float = 0.0) -> float:
    """Read ohms, or ``open``; the meter's own leads are taken off."""
    if text.strip().lower() in ("open", "ol", "o.l"):
        return math.inf
    value = amount(path, text, Quantity.RESISTANCE)
    # A reading below the leads' own ohms is a dead short within the meter's error.
    return max(value - leads, 0.0) if math.isfinite(value) else value


_NUMBER = r"(\d+(?:\.\d+)?)"
_RANGE = re.compile(rf"\s*{_NUMBER}\s*(?:-|–|to)\s*{_NUMBER}\s*V\s*", re.IGNORECASE)


def volts_range(path: str, text: str) -> tuple[float, float]:
    """Read one voltage, or two as a range [V]."""
    match = _RANGE.fullmatch(text)
    if match is None:
        value = amount(path, text, Quantity.VOLTAGE)
        return value, value
    low, high = (float(number) for number in match.groups())
    return low, high


_CLOCK = re.compile(r"([01]?\d|2[0-3]):[0-5]\d(:[0-5]\d)?")


def time_of_day(path: str, text: str) -> str:
    """Check a time of day; empty stays empty."""
    if text and not _CLOCK.fullmatch(text):
        raise ValueError(f"'{path}.time': '{text}' is no time of day; write it like 07:52.")
    return text
