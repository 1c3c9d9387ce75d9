"""``[time]`` of a map: how the rows of a foreign table state their time."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from analysis.units import Quantity, UnitError, parse_amount
from drivers.table_times import TimeRule
from logger.mapping import TimeTable


def time_rule(time: TimeTable) -> TimeRule:
    """Turn ``[time]`` into the rule of the reader.

    Raises
    ------
    ValueError
        With the key and what to write.
    """
    stated = [key for key in ("elapsed", "format", "every") if getattr(time, key)]
    if len(stated) != 1:
        raise ValueError("[time] needs exactly one of elapsed, format and every.")
    columns = (time.column,) if isinstance(time.column, str) else time.column
    if time.every:
        if columns:
            raise ValueError("time.column has no use beside time.every; leave one out.")
        try:
            step = parse_amount(time.every, Quantity.TIME).si
        except UnitError as refused:
            raise ValueError(f"time.every: {refused}") from None
        if not step > 0:
            raise ValueError("time.every must be more than zero.")
        return TimeRule("every", seconds=step)
    if not columns:
        raise ValueError("time.column must name the column that holds the time.")
    if time.elapsed:
        if time.elapsed == "h:mm:ss":
            return TimeRule("clock", columns)
        factor = {"us": 1e-6, "ms": 1e-3, "s": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}[time.elapsed]
        return TimeRule("elapsed", columns, factor)
    zone, stated_zone = _zone(time.zone), bool(time.zone)
    if time.format in ("unix", "unix ms"):
        return TimeRule("unix", columns, 1e-3 if time.format == "unix ms" else 1.0)
    if time.format in ("iso", "serial", "serial1904"):
        return TimeRule(time.format, columns, zone=zone, zone_stated=stated_zone)  # type: ignore[arg-type]
    if "%" not in time.format:
        raise ValueError(
            f"time.format: '{time.format}' is none; write iso, serial, unix or as %d.%m.%Y %H:%M:%S."
        )
    if not re.search(r"%[YyGcxs]", time.format):
        if time.year is None:
            raise ValueError("time.format has no year, so time.year must say it.")
        return TimeRule(
            "format", columns, format=time.format, year=time.year, zone=zone, zone_stated=stated_zone
        )
    return TimeRule("format", columns, format=time.format, zone=zone, zone_stated=stated_zone)


def start_utc_us(time: TimeTable) -> int | None:
    """Give the declared moment of the first row [us since 1970 UTC]; None where none is."""
    if not time.start:
        return None
    try:
        moment = datetime.fromisoformat(time.start)
    except ValueError:
        raise ValueError(
            f"time.start: '{time.start}' is no date and time like 2026-01-14T08:00:00Z."
        ) from None
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=_zone(time.zone))
    return (moment - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1)


def _zone(text: str) -> tzinfo:
    if text in ("", "UTC", "Z"):
        return UTC
    if match := re.fullmatch(r"([+-])(\d\d):?(\d\d)", text):
        sign, hours, minutes = match.groups()
        shift = timedelta(hours=int(hours), minutes=int(minutes))
        if shift >= timedelta(hours=24):
            raise ValueError(f"time.zone: '{text}' is more than a day.")
        return timezone(-shift if sign == "-" else shift)
    try:
        return ZoneInfo(text)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise ValueError(
            f"time.zone: '{text}' is not known; write UTC, +01:00 or a name as Europe/Oslo."
        ) from None
