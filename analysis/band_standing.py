"""How a value stands to the band of the unit card, with its uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from analysis.unit_card import Band, UnitCard

COVERAGE = 2.0
"""A value is out of band, or near a limit, judged with its expanded uncertainty (k = 2)."""
CARD_NAME = {"source_delta_t": "source_change", "load_delta_t": "load_change"}
"""Derived values that the card states without sign."""


class Standing(StrEnum):
    """What is said beside a value."""

    IN_BAND = "in band"
    NEAR_LIMIT = "near limit"
    LOW = "LOW"
    HIGH = "HIGH"
    ACT = "ACT"
    NO_BAND = "no band on card"
    NO_VALUE = "no value"

    @property
    def out(self) -> bool:
        """Whether the value lies outside its band."""
        return self in (Standing.LOW, Standing.HIGH, Standing.ACT)


@dataclass(frozen=True, slots=True)
class Judged:
    """A value against its band."""

    standing: Standing
    below: bool = False
    """Which side it is out of, or near to."""
    band: Band | None = None


def judge(card: UnitCard | None, symbol: str, mode: str, value: float, u: float) -> Judged:
    """Hold a value against the card.

    Parameters
    ----------
    card
        The machine's card; without one there is no band.
    symbol
        Measuring point or derived value; water changes count without their sign.
    mode
        ``heating`` or ``cooling``.
    value, u
        SI, u standard (k = 1).

    Returns
    -------
    Judged
        ``HIGH`` or ``LOW`` where the value itself lies outside, ``near limit`` where value ± U reaches over
        a limit, ``ACT`` beyond the limit at which one must act.

    Examples
    --------
    >>> from analysis.unit_card import EXAMPLE, unit_card
    >>> card = unit_card(EXAMPLE)  # superheat 4 to 9 K
    >>> [judge(card, "superheat", "heating", v, 0.3).standing.value for v in (6.0, 8.7, 9.4)]
    ['in band', 'near limit', 'HIGH']
    """
    name = CARD_NAME.get(symbol, symbol)
    if name != symbol:
        value = abs(value)
    if not math.isfinite(value):
        return Judged(Standing.NO_VALUE)
    band = card.band(name, mode) if card is not None else None
    if band is None:
        return Judged(Standing.NO_BAND)
    if value < band.act_below or value > band.act_above:
        return Judged(Standing.ACT, value < band.act_below, band)
    low = band.low if math.isfinite(band.low) else band.act_below
    high = band.high if math.isfinite(band.high) else band.act_above
    if value < low or value > high:
        return Judged(Standing.LOW if value < low else Standing.HIGH, value < low, band)
    reach = COVERAGE * u if math.isfinite(u) else 0.0
    if value - reach < low or value + reach > high:
        return Judged(Standing.NEAR_LIMIT, value - reach < low, band)
    return Judged(Standing.IN_BAND, band=band)
