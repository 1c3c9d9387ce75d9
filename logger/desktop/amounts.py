"""Numbers with their units as a screen shows them: number and unit apart, so that each has its own size."""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.points import POINTS
from analysis.presets import PRESETS, PresetName, number
from analysis.units import Quantity, from_si, unit

_DIFFERENCE = {
    Quantity.TEMPERATURE: Quantity.TEMPERATURE_DIFFERENCE,
    Quantity.GAUGE_PRESSURE: Quantity.PRESSURE_DIFFERENCE,
}
_GAUGE_DIFFERENCE_UNIT = {"si": "bar", "us": "psi"}


@dataclass(frozen=True, slots=True)
class Amount:
    """A value as shown."""

    number: str
    unit: str

    @property
    def text(self) -> str:
        """Number and unit."""
        return f"{self.number} {self.unit}".rstrip()


def decimals_for(quantity: Quantity, expanded: float, preset: PresetName) -> int:
    """Give how many decimals are shown: the preset's, none if U (k = 2) is 2 or more, fewer for Btu/h.

    Examples
    --------
    >>> decimals_for(Quantity.TEMPERATURE, 0.5, "si"), decimals_for(Quantity.TEMPERATURE, 2.5, "si")
    (1, 0)
    >>> decimals_for(Quantity.HEAT_RATE, 500.0, "us")
    -2
    """
    chosen = PRESETS[preset][quantity]
    if not math.isfinite(expanded) or expanded <= 0.0:
        return chosen.decimals
    u = expanded / unit(chosen.unit, quantity).factor
    if u >= 20.0:
        return min(chosen.decimals, 1 - math.floor(math.log10(u)))
    return min(chosen.decimals, 0) if u >= 2.0 else chosen.decimals


def amount(quantity: Quantity, value: float, preset: PresetName, expanded: float = math.nan) -> Amount:
    """Write an SI value.

    Examples
    --------
    >>> amount(Quantity.TEMPERATURE, 270.75, "si").text
    '−2.4 °C'
    >>> amount(Quantity.HEAT_RATE, 10_563.0, "us", 498.0).text
    '36 000 Btu/h'
    """
    chosen = PRESETS[preset][quantity]
    shown = unit(chosen.unit, quantity)
    decimals = decimals_for(quantity, expanded, preset)
    plain = number(round(from_si(quantity, chosen.unit, value), decimals), max(decimals, 0))
    return Amount(_grouped(plain), shown.shown)


def difference(quantity: Quantity, value: float, preset: PresetName, *, up: bool = False) -> Amount:
    """Write a difference or an uncertainty of a quantity; ``up`` rounds away from zero.

    Examples
    --------
    >>> difference(Quantity.TEMPERATURE, 0.62, "si", up=True).text
    '0.7 K'
    >>> difference(Quantity.HEAT_RATE, 498.2, "us", up=True).text
    '1 700 Btu/h'
    """
    if quantity is Quantity.GAUGE_PRESSURE:
        name, decimals = _GAUGE_DIFFERENCE_UNIT[preset], PRESETS[preset][quantity].decimals
        found = unit(name, Quantity.PRESSURE_DIFFERENCE)
    else:
        quantity = _DIFFERENCE.get(quantity, quantity)
        found = unit(PRESETS[preset][quantity].unit, quantity)
        decimals = decimals_for(quantity, abs(value), preset) if up else PRESETS[preset][quantity].decimals
    step = 10.0**-decimals
    scaled = value / found.factor
    rounded = math.ceil(scaled / step - 1e-9) * step if up else round(scaled, decimals)
    return Amount(_grouped(number(rounded, max(decimals, 0))), found.shown)


def shorter(shown: Amount, letters: int) -> Amount:
    """Take decimals off a number until it has no more letters than there is room for.

    Examples
    --------
    >>> shorter(Amount("−58.8", "K"), 4).text, shorter(Amount("88.88", "kW"), 4).text
    ('−59 K', '88.9 kW')
    """
    whole, _, rest = shown.number.partition(".")
    if len(shown.number) <= letters or not rest:
        return shown
    decimals = max(letters - len(whole) - 1, 0)
    value = float(shown.number.replace("−", "-").replace(" ", ""))
    return Amount(number(round(value, decimals), decimals), shown.unit)


def _grouped(plain: str) -> str:
    """Set a blank between thousands."""
    whole, dot, rest = plain.partition(".")
    sign = whole[:1] if whole[:1] == "−" else ""
    digits = whole.removeprefix("−")
    if len(digits) < 4:
        return plain
    return f"{sign}{int(digits):,}".replace(",", " ") + dot + rest


def point_amount(
    name: str, value: float, barometer_pa: float, preset: PresetName, expanded: float = math.nan
) -> Amount:
    """Write the value of a measuring point; a pressure as the gauge on the machine would show it."""
    quantity = POINTS[name].quantity
    if quantity is Quantity.ABSOLUTE_PRESSURE and name != "barometric_pressure":
        return amount(Quantity.GAUGE_PRESSURE, value - barometer_pa, preset)
    return amount(quantity, value, preset, expanded)
