"""The uncertainty of a value that a person types: as given, else that of ordinary field instruments."""

from __future__ import annotations

import math

from analysis.presets import PresetName, show_expanded
from analysis.units import Quantity, UnitError, parse_amount
from analysis.usual_uncertainty import ASSUMED_U
from logger.errors import CommandError

_DIFFERENCE = {
    Quantity.TEMPERATURE: Quantity.TEMPERATURE_DIFFERENCE,
    Quantity.GAUGE_PRESSURE: Quantity.PRESSURE_DIFFERENCE,
    Quantity.ABSOLUTE_PRESSURE: Quantity.PRESSURE_DIFFERENCE,
}
_ASSUMED = ASSUMED_U | {Quantity.RELATIVE_HUMIDITY: (0.02, 0.0)}
"""Relative humidity: 2 points (common practice, no source)."""


def standard_uncertainty(text: str | None, quantity: Quantity, value: float, option: str) -> float:
    """Read an expanded uncertainty (k = 2), such as ``0.2 K`` or ``3 %``; gives the standard one (SI).

    Parameters
    ----------
    text
        As typed; empty takes that of ordinary instruments.
    quantity
        Of the value.
    value
        SI; a percentage is of it, of a relative humidity it is in points.
    option
        Named when the text is refused.

    Raises
    ------
    CommandError
        If it cannot be read or is negative.

    Examples
    --------
    >>> standard_uncertainty("0.2 K", Quantity.TEMPERATURE, 277.15, "--u-temperature")
    0.1
    >>> standard_uncertainty("", Quantity.TEMPERATURE, 277.15, "--u-temperature")
    0.5
    """
    if not text:
        fixed, relative = _ASSUMED[quantity]
        return math.hypot(fixed, relative * value)
    share = text.strip().endswith("%") and quantity is not Quantity.RELATIVE_HUMIDITY
    kind = Quantity.RATIO if share else _DIFFERENCE.get(quantity, quantity)
    try:
        found = parse_amount(text, kind).si * (abs(value) if share else 1.0)
    except UnitError as refused:
        raise CommandError(f"{option}: {refused}") from None
    if found < 0.0:
        raise CommandError(f"{option} {text}: an uncertainty cannot be below zero.")
    return 0.5 * found


def plus_minus(quantity: Quantity, u: float, preset: PresetName) -> str:
    """Write an expanded uncertainty behind its value."""
    return f" {show_expanded(quantity, u, preset)}"
