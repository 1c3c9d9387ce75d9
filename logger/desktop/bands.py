"""Bands of a unit card on the screen: how a value stands to its band, calm enough to be acted on.

Out of band needs five seconds, act now two; both clear with a deadband of a tenth of the band. A value that
is not judged yet keeps no flag.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import Enum
from typing import Protocol

OUT_AFTER_S, ACT_AFTER_S = 5.0, 2.0
DEADBAND = 0.1
"""Fraction of the band by which a value must be back inside. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Band:
    """Where a value belongs (SI); NaN where there is no limit on that side."""

    low: float = math.nan
    high: float = math.nan
    act_below: float = math.nan
    act_above: float = math.nan
    source: str = ""

    @property
    def scale(self) -> float:
        """What one third of the indicator's track stands for."""
        if math.isfinite(self.low) and math.isfinite(self.high):
            return self.high - self.low
        return 5.0


Bands = Mapping[str, Band]
"""Symbol of a unit card (``superheat``, ``source_change``) to its band in the present mode."""


class Judged(Enum):
    """How a value stands to its band; the value is the word that is shown."""

    IN_BAND = "in band"
    NEAR = "near limit"
    HIGH = "HIGH"
    LOW = "LOW"
    ACT = "ACT"
    NOT_JUDGED = "not judged"
    NO_VALUE = "NO VALUE"
    NO_BAND = "no band on card"

    @property
    def abnormal(self) -> bool:
        """Whether it is shown in one of the two colours."""
        return self in (Judged.HIGH, Judged.LOW, Judged.ACT)


def judge(value: float, expanded: float, band: Band | None, *, may_be_judged: bool = True) -> Judged:
    """Say how one value stands.

    Parameters
    ----------
    value, expanded
        SI; expanded uncertainty (k = 2), NaN where nothing is promised.
    band
        None where the card has none.
    may_be_judged
        Whether the machine is steady enough for it.

    Examples
    --------
    >>> judge(6.4, 0.2, Band(3.0, 5.0)).value, judge(4.9, 0.2, Band(3.0, 5.0)).value
    ('HIGH', 'near limit')
    >>> judge(1.6, 0.8, Band(low=3.0, act_below=2.0)).value
    'ACT'
    """
    if not math.isfinite(value):
        return Judged.NO_VALUE
    if band is None:
        return Judged.NO_BAND
    if not may_be_judged:
        return Judged.NOT_JUDGED
    if value < band.act_below or value > band.act_above:
        return Judged.ACT
    if value > band.high:
        return Judged.HIGH
    if value < band.low:
        return Judged.LOW
    u = expanded if math.isfinite(expanded) else 0.0
    return Judged.NEAR if value + u > band.high or value - u < band.low else Judged.IN_BAND


@dataclass(slots=True)
class _Seen:
    shown: Judged = Judged.NOT_JUDGED
    candidate: Judged = Judged.NOT_JUDGED
    since_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Reading:
    """What :class:`BandWatch` needs of one value."""

    value: float
    expanded: float
    band: Band | None
    may_be_judged: bool


@dataclass(slots=True)
class BandWatch:
    """Remembers how long each value has stood where it stands."""

    seen: dict[str, _Seen] = field(default_factory=dict)

    def step(self, t_s: float, readings: Mapping[str, Reading]) -> dict[str, Judged]:
        """Take in the values of one moment and give what is to be shown for each.

        Examples
        --------
        >>> watch, high = BandWatch(), {"superheat": Reading(12.0, 0.5, Band(4.0, 9.0), True)}
        >>> watch.step(0.0, high)["superheat"].value, watch.step(5.0, high)["superheat"].value
        ('near limit', 'HIGH')
        """
        for gone in set(self.seen) - set(readings):
            del self.seen[gone]
        return {symbol: self._one(t_s, symbol, reading) for symbol, reading in readings.items()}

    def _one(self, t_s: float, symbol: str, reading: Reading) -> Judged:
        now = judge(reading.value, reading.expanded, reading.band, may_be_judged=reading.may_be_judged)
        seen = self.seen.setdefault(symbol, _Seen(since_s=t_s))
        if now is not seen.candidate:
            if not (now.abnormal and seen.candidate.abnormal and now is not Judged.ACT):
                seen.since_s = t_s
            seen.candidate = now
        if now.abnormal:
            wait = ACT_AFTER_S if now is Judged.ACT else OUT_AFTER_S
            if t_s - seen.since_s >= wait:
                seen.shown = now
            elif not seen.shown.abnormal:
                seen.shown = Judged.NEAR
        elif not (seen.shown.abnormal and _within_deadband(seen.shown, reading)):
            seen.shown = now
        return seen.shown


def _within_deadband(shown: Judged, reading: Reading) -> bool:
    """Whether a value is inside again, but by less than the deadband."""
    band = reading.band
    if band is None or not reading.may_be_judged or not math.isfinite(reading.value):
        return False
    slack = DEADBAND * band.scale
    if shown is Judged.HIGH:
        return reading.value > band.high - slack
    if shown is Judged.LOW:
        return reading.value < band.low + slack
    return reading.value < band.act_below + slack or reading.value > band.act_above - slack


class CardBand(Protocol):
    """A band as a unit card states it."""

    @property
    def symbol(self) -> str: ...  # noqa: D102
    @property
    def low(self) -> float: ...  # noqa: D102
    @property
    def high(self) -> float: ...  # noqa: D102
    @property
    def act_below(self) -> float: ...  # noqa: D102
    @property
    def act_above(self) -> float: ...  # noqa: D102
    @property
    def mode(self) -> str: ...  # noqa: D102
    @property
    def source(self) -> str: ...  # noqa: D102


def bands_of(limits: Iterable[CardBand], mode: str) -> dict[str, Band]:
    """Give the bands of a unit card that hold in a mode; one stated for the mode goes before one for both."""
    found: dict[str, Band] = {}
    for limit in sorted(limits, key=lambda one: bool(one.mode)):
        if limit.mode in ("", mode):
            found[limit.symbol] = Band(limit.low, limit.high, limit.act_below, limit.act_above, limit.source)
    return found
