"""Moments as they are written in a session's files: elapsed seconds with six decimals, and UTC."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

_ELAPSED = re.compile(r"(-?)([0-9]{1,12})\.([0-9]{6})", re.ASCII)
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def elapsed_text(t_us: int) -> str:
    """Write microseconds since t = 0 as seconds with exactly six decimals.

    Examples
    --------
    >>> elapsed_text(12_000_001), elapsed_text(-500_000)
    ('12.000001', '-0.500000')
    """
    digits = f"{abs(t_us):07d}"
    return f"{'-' if t_us < 0 else ''}{digits[:-6]}.{digits[-6:]}"


def parse_elapsed(text: str) -> int:
    """Read what :func:`elapsed_text` writes; fewer or more decimals mean that characters are missing.

    Raises
    ------
    ValueError
        If the text is anything else.
    """
    match = _ELAPSED.fullmatch(text)
    if match is None:
        raise ValueError(f"'{text[:40]}' is not a time in seconds with six decimals")
    sign, whole, decimals = match.groups()
    t_us = int(whole) * 1_000_000 + int(decimals)
    return -t_us if sign else t_us


def utc_text(utc_us: int) -> str:
    """Write microseconds since 1970 as ISO 8601 in UTC.

    Examples
    --------
    >>> utc_text(1_768_377_600_000_000)
    '2026-01-14T08:00:00.000000Z'
    """
    moment = _EPOCH + timedelta(microseconds=utc_us)
    return moment.replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"


def parse_utc(text: str) -> int:
    """Read an ISO 8601 moment that states its zone; gives microseconds since 1970 UTC.

    Raises
    ------
    ValueError
        If it is no such moment, or does not say UTC or an offset.
    """
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise ValueError(f"'{text[:40]}' is not a date and time like 2026-01-14T08:00:00Z") from None
    if moment.tzinfo is None:
        raise ValueError(f"'{text[:40]}' does not say its zone; write Z at the end for UTC")
    return (moment - _EPOCH) // timedelta(microseconds=1)
