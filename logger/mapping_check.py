"""Reading a map, and what can be wrong with it: each refusal names the key and what to write."""

from __future__ import annotations

import math
from collections.abc import Iterable
from pathlib import Path

from analysis.barometer import parse_barometer
from analysis.correction import CorrectionError, parse_correction
from analysis.liquids import LiquidError, parse_liquid
from analysis.points import UnknownPointError, point
from analysis.units import Quantity, UnitError
from logger.csv_line import has_control
from logger.errors import CommandError, DamagedInputError
from logger.mapping import ColumnTable, Mapping, channel_id, channel_of, quantity_of_column
from logger.mapping_time import start_utc_us, time_rule
from logger.setup_file import find_curve
from logger.written_file import decode_written, read_written


def load_mapping(path: Path) -> tuple[Mapping, str]:
    """Read a map; gives it and its text.

    Raises
    ------
    CommandError
        If it is missing or wrong; one sentence with the key and what to write.
    """
    text = read_written(path, "map")
    return parse_mapping(text, str(path)), text


def parse_mapping(text: str, name: str) -> Mapping:
    """Read a map from its text; ``name`` is what a refusal calls it.

    Raises
    ------
    CommandError
        If it is wrong.
    """
    mapping = decode_written(text, Mapping, name)
    for problem in problems(mapping):
        raise DamagedInputError(f"{name}: {problem}")
    return mapping


def problems(mapping: Mapping) -> Iterable[str]:
    """Say what is wrong with a map, each by its key path."""
    if not mapping.column:
        yield "no [[column]]: name at least one column of the file."
    seen: dict[tuple[str, str], int] = {}
    for number, column in enumerate(mapping.column, 1):
        yield from (f"column[{number}].{problem}" for problem in _column_problems(column))
        for key, value in (("channel", channel_id(column)), ("assign", column.assign)):
            if value and (before := seen.setdefault((key, value), number)) != number:
                yield f"column[{number}].{key}: '{value}' stands in column[{before}] too; one must go."
    try:
        rule = time_rule(mapping.time)
        start_utc_us(mapping.time)
        if mapping.time.start and rule.wall:
            yield "time.start has no use where the rows state their date; leave it out."
    except ValueError as refused:
        yield str(refused)
    yield from _site_problems(mapping)


def _column_problems(column: ColumnTable) -> Iterable[str]:
    if not channel_id(column) or has_control(channel_id(column)):
        yield "channel: give it one line of plain text."
    for key in ("assign", "saturation_of"):
        try:
            if name := getattr(column, key):
                point(name)
        except UnknownPointError as unknown:
            yield f"{key}: {unknown}"
            return
    try:
        quantity = quantity_of_column(column)
    except UnitError as refused:
        yield f"unit: {refused}"
        return
    if column.assign and not point(column.assign).accepts(quantity):
        words = quantity.value.replace("_", " ")
        yield f"assign: a column of {words} cannot feed {column.assign}."
    if column.heat_of and quantity is not Quantity.HEAT_RATE:
        yield "heat_of: only a column of heat_rate can have it."
    if column.saturation_of and quantity is not Quantity.TEMPERATURE:
        yield "saturation_of: only a column of temperature can have it."
    if not math.isfinite(column.scale) or column.scale == 0.0:
        yield "scale: must be a number other than zero."
    if not all(math.isfinite(number) for number in column.sentinels):
        yield "sentinels: must be plain numbers."
    try:
        channel = channel_of(column)
    except ValueError as refused:
        yield f"uncertainty: {refused}."
        return
    try:
        if column.offset:
            parse_correction(column.offset, channel.quantity)
    except CorrectionError as refused:
        yield f"offset: {refused}"


def _site_problems(mapping: Mapping) -> Iterable[str]:
    if mapping.barometer:
        try:
            parse_barometer(mapping.barometer)
        except UnitError as refused:
            yield f"barometer: {refused}"
    for key in ("fluid", "load_fluid"):
        try:
            if text := getattr(mapping, key):
                parse_liquid(text)
        except LiquidError as refused:
            yield f"{key}: {refused}"
    if mapping.refrigerant:
        try:
            find_curve(mapping.refrigerant)
        except CommandError as refused:
            yield f"refrigerant: {refused}"
