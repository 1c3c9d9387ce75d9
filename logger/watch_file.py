"""WATCH.toml: what a watch over night keeps at full rate, and which bands are given instead of learnt."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import msgspec

from analysis.points import UnknownPointError, point
from analysis.units import Quantity, UnitError, parse_amount
from logger.errors import DamagedInputError
from logger.lengths import parse_length
from logger.written_file import read_table

MOST_BEFORE_S = 50.0
"""A session's readings may lie at most a minute behind each other [s]."""


class WatchTable(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Everything that a watch can be told; each key has a default."""

    every: str = "1s"
    """While nothing happens, one reading of each channel is kept in this time."""
    before: str = "15s"
    """So much before a trigger is kept whole."""
    after: str = "60s"
    learn: str = "300s"
    """Length of the steady stretch from which bands are learnt."""
    dip: float = 0.9
    """A voltage below this part of what it was is a dip."""
    band: dict[str, str] = {}
    """Measuring point to band, ``suction_pressure = "4.5 to 7 bar(g)"``."""


@dataclass(frozen=True, slots=True)
class WatchOptions:
    """A watch as it is carried out: microseconds and SI."""

    every_us: int = 1_000_000
    before_us: int = 15_000_000
    after_us: int = 60_000_000
    learn_us: int = 300_000_000
    dip: float = 0.9
    bands: Mapping[str, tuple[float, float, Quantity]] = field(default_factory=dict)
    """Measuring point to limits in SI, and whether a pressure is written as gauge."""


def load_watch(name: str) -> WatchOptions:
    """Read a WATCH.toml; the defaults where none is named.

    Raises
    ------
    CommandError
        If it is missing or wrong; one sentence with the key and what to write.
    """
    if not name:
        return WatchOptions()
    path = Path(name)
    table = read_table(path, WatchTable, "watch file")
    lengths = {key: parse_length(getattr(table, key)) for key in ("every", "before", "after", "learn")}
    if not 0 <= lengths["before"] <= MOST_BEFORE_S:
        raise DamagedInputError(f"{path}: 'before': write at most {MOST_BEFORE_S:g}s; it is held in memory.")
    if lengths["every"] <= 0 or not 0.0 < table.dip < 1.0:
        raise DamagedInputError(f"{path}: 'every' must be more than nothing, and 'dip' lie between 0 and 1.")
    bands = {}
    for place, text in table.band.items():
        try:
            bands[place] = _band(place, text)
        except (UnitError, UnknownPointError, ValueError) as refused:
            raise DamagedInputError(f"{path}: band.{place}: {str(refused).rstrip('.')}.") from None
    us = {key: round(seconds * 1e6) for key, seconds in lengths.items()}
    return WatchOptions(us["every"], us["before"], us["after"], us["learn"], table.dip, bands)


def _band(place: str, text: str) -> tuple[float, float, Quantity]:
    accepted = tuple(quantity for quantity in Quantity if point(place).accepts(quantity))
    low_text, to, high_text = text.partition(" to ")
    if not to:
        raise ValueError(f"'{text}' is no band; write it like '4.5 to 7 bar(g)'")
    high = parse_amount(high_text, *accepted)
    low_text = low_text.strip()
    low = parse_amount(low_text if not _number(low_text) else f"{low_text} {high.unit}", *accepted)
    if low.quantity is not high.quantity or not low.si < high.si:
        raise ValueError(f"'{text}' does not go from a lower to a higher value of one kind")
    return low.si, high.si, high.quantity


def _number(text: str) -> bool:
    try:
        float(text.replace("−", "-"))
    except ValueError:
        return False
    return True
