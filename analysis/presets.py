"""How numbers are shown: one unit and so many decimals for each quantity, in two presets that practice pairs.

A preset is a whole practice and is never mixed; a person may still choose the unit of a single quantity.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Literal, NamedTuple

from analysis.units import Quantity, from_si, unit

PresetName = Literal["si", "us"]
MINUS = "−"
NO_VALUE = "no value"


class Shown(NamedTuple):
    """Unit and decimals of one quantity."""

    unit: str
    decimals: int


_COMMON: dict[Quantity, Shown] = {
    Quantity.POWER: Shown("kW", 2),
    Quantity.ENERGY: Shown("kWh", 2),
    Quantity.VOLTAGE: Shown("V", 1),
    Quantity.CURRENT: Shown("A", 2),
    Quantity.RESISTANCE: Shown("ohm", 1),
    Quantity.CAPACITANCE: Shown("uF", 1),
    Quantity.FREQUENCY: Shown("Hz", 1),
    Quantity.ROTATION: Shown("rpm", 0),
    Quantity.RELATIVE_HUMIDITY: Shown("%", 0),
    Quantity.RATIO: Shown("1", 2),
    Quantity.TIME: Shown("s", 0),
}
PRESETS: Mapping[PresetName, Mapping[Quantity, Shown]] = {
    "si": _COMMON
    | {
        Quantity.TEMPERATURE: Shown("degC", 1),
        Quantity.TEMPERATURE_DIFFERENCE: Shown("K", 1),
        Quantity.GAUGE_PRESSURE: Shown("bar(g)", 2),
        Quantity.ABSOLUTE_PRESSURE: Shown("bar(a)", 2),
        Quantity.PRESSURE_DIFFERENCE: Shown("kPa", 1),
        Quantity.VOLUME_FLOW: Shown("L/s", 2),
        Quantity.MASS_FLOW: Shown("kg/s", 4),
        Quantity.HEAT_RATE: Shown("kW", 1),
        Quantity.SPECIFIC_ENTHALPY: Shown("kJ/kg", 1),
        Quantity.MASS: Shown("kg", 2),
        Quantity.VOLUME: Shown("L", 1),
        Quantity.LENGTH: Shown("m", 1),
        Quantity.SPEED: Shown("m/s", 2),
    },
    "us": _COMMON
    | {
        Quantity.TEMPERATURE: Shown("degF", 1),
        Quantity.TEMPERATURE_DIFFERENCE: Shown("degF", 1),
        Quantity.GAUGE_PRESSURE: Shown("psig", 1),
        Quantity.ABSOLUTE_PRESSURE: Shown("psia", 1),
        Quantity.PRESSURE_DIFFERENCE: Shown("psi", 2),
        Quantity.VOLUME_FLOW: Shown("gpm", 2),
        Quantity.MASS_FLOW: Shown("lb/h", 1),
        Quantity.HEAT_RATE: Shown("Btu/h", 0),
        Quantity.SPECIFIC_ENTHALPY: Shown("Btu/lb", 1),
        Quantity.MASS: Shown("lb", 2),
        Quantity.VOLUME: Shown("gal", 2),
        Quantity.LENGTH: Shown("ft", 0),
        Quantity.SPEED: Shown("ft/s", 2),
    },
}


MORE_DECIMALS = 3
"""A value closer to its limit than that is at its limit."""


def number(value: float, decimals: int) -> str:
    """Write a number with a true minus sign and without a negative zero.

    Examples
    --------
    >>> number(-2.44, 1), number(-0.04, 1), number(11200.0, 0)
    ('−2.4', '0.0', '11200')
    """
    text = f"{value:.{decimals}f}"
    if float(text) == 0.0:
        text = text.lstrip("-")
    return text.replace("-", MINUS)


def show(quantity: Quantity, value: float, preset: PresetName = "si") -> str:
    """Write an SI value in the preset's unit; what is unknown is said so, never shown as a number.

    Examples
    --------
    >>> show(Quantity.TEMPERATURE, 270.75), show(Quantity.TEMPERATURE_DIFFERENCE, 5.8, "us")
    ('−2.4 °C', '10.4 °F')
    >>> show(Quantity.TEMPERATURE, float("nan"))
    'no value'
    """
    chosen = PRESETS[preset][quantity]
    if not math.isfinite(value):
        return NO_VALUE
    sign = unit(chosen.unit, quantity).shown
    return f"{number(from_si(quantity, chosen.unit, value), chosen.decimals)} {sign}".rstrip()


def show_among(
    quantity: Quantity, value: float, limits: Sequence[float], preset: PresetName = "si"
) -> list[str]:
    """Write a value and the limits that it is held against, so that the shown numbers stand as the true ones.

    A value rounded to its usual decimals may seem to lie on the other side of a limit; then all get more.

    Examples
    --------
    >>> show_among(Quantity.TEMPERATURE_DIFFERENCE, 1.96, [2.0])
    ['1.96 K', '2.00 K']
    >>> show_among(Quantity.TEMPERATURE_DIFFERENCE, 6.5, [3.0, 5.0])
    ['6.5 K', '3.0 K', '5.0 K']
    """
    chosen = PRESETS[preset][quantity]
    if not math.isfinite(value):
        return [NO_VALUE, *(show(quantity, limit, preset) for limit in limits)]
    sign = unit(chosen.unit, quantity).shown
    amounts = [from_si(quantity, chosen.unit, one) for one in (value, *limits)]
    decimals = chosen.decimals
    while decimals < chosen.decimals + MORE_DECIMALS and not _in_order(amounts, decimals):
        decimals += 1
    return [f"{number(one, decimals)} {sign}".rstrip() for one in amounts]


def _in_order(amounts: Sequence[float], decimals: int) -> bool:
    """Whether the first of some numbers lies on the same side of each of the others when all are rounded."""
    first, *others = amounts
    far = [one for one in others if math.isfinite(one) and not math.isclose(first, one, rel_tol=1e-9)]
    return all((round(first, decimals) - round(one, decimals)) * (first - one) > 0.0 for one in far)


def show_expanded(quantity: Quantity, u: float, preset: PresetName = "si") -> str:
    """Write an expanded uncertainty (k = 2) for a standard one; blank where nothing is promised.

    An uncertainty is rounded up at the last shown digit, so that it is never understated.

    Examples
    --------
    >>> show_expanded(Quantity.TEMPERATURE_DIFFERENCE, 0.31)
    '± 0.7'
    """
    if not math.isfinite(u):
        return "± not known"
    difference = {Quantity.TEMPERATURE: Quantity.TEMPERATURE_DIFFERENCE}.get(quantity, quantity)
    chosen = PRESETS[preset][difference]
    expanded = 2.0 * u / unit(chosen.unit, difference).factor
    step = 10.0**-chosen.decimals
    return f"± {math.ceil(expanded / step - 1e-9) * step:.{chosen.decimals}f}"


def show_gauge(absolute_pa: float, barometer_pa: float, preset: PresetName = "si") -> str:
    """Write an absolute pressure as the gauge on the machine would show it.

    Examples
    --------
    >>> show_gauge(609_320.0, 94_320.0)
    '5.15 bar(g)'
    """
    return show(Quantity.GAUGE_PRESSURE, absolute_pa - barometer_pa, preset)


def duration(seconds: float) -> str:
    """Write a length of time as h:mm:ss or m:ss.

    Examples
    --------
    >>> duration(200.0), duration(4360.0)
    ('3:20', '1:12:40')
    """
    whole = max(int(seconds), 0)
    hours, minutes, rest = whole // 3600, whole // 60 % 60, whole % 60
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"
