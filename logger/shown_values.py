"""Values and changes as a person reads them, alike in a terminal and on a page."""

from __future__ import annotations

import math
import unicodedata

from analysis.derived import BY_SYMBOL
from analysis.points import POINTS
from analysis.presets import MINUS, NO_VALUE, PRESETS, PresetName, number, show, show_expanded, show_gauge
from analysis.settings import Settings
from analysis.units import Quantity, unit
from analysis.windows import Mean

_ABSOLUTE_POINTS = frozenset({"barometric_pressure"})
_DIFFERENCE_UNIT = {"si": "bar", "us": "psi"}


def plain(text: str) -> str:
    r"""Take control characters out of a text that somebody typed or a device sent.

    Examples
    --------
    >>> plain("hall\x1b[31m, unit 2")
    'hall[31m, unit 2'
    """
    return "".join(c for c in text if unicodedata.category(c) not in ("Cc", "Cf", "Cs"))


def shown_value(symbol: str, quantity: Quantity, value: float, held: Settings, preset: PresetName) -> str:
    """Write an SI value; a pressure as the gauge on the machine would show it."""
    if quantity is Quantity.ABSOLUTE_PRESSURE and symbol not in _ABSOLUTE_POINTS and math.isfinite(value):
        return show_gauge(value, held.barometer_pa, preset)
    return show(quantity, value, preset)


def expanded(symbol: str, quantity: Quantity, u: float, preset: PresetName) -> str:
    """Write an expanded uncertainty (k = 2) beside its value, whose unit it has."""
    gauge = quantity is Quantity.ABSOLUTE_PRESSURE and symbol not in _ABSOLUTE_POINTS
    return show_expanded(Quantity.GAUGE_PRESSURE if gauge else quantity, u, preset)


def named(symbol: str) -> tuple[str, Quantity]:
    """Give label and quantity of a derived value or a measuring point."""
    row = BY_SYMBOL.get(symbol) or POINTS[symbol]
    return row.label, row.quantity


def shown_uncertainty(symbol: str, quantity: Quantity, mean: Mean, preset: PresetName) -> str:
    """Write the expanded uncertainty (k = 2) of a mean; blank where there is no value."""
    if not math.isfinite(mean.value):
        return ""
    if not math.isfinite(mean.u):
        return "not known"
    text = expanded(symbol, quantity, mean.u, preset)
    return f"{text} {_difference_unit(quantity, preset)[1]}".rstrip()


def shown_change(quantity: Quantity, difference: float, expanded: float, preset: PresetName) -> str:
    """Write a difference with its expanded uncertainty, in steps no finer than a twentieth of that.

    So an uncertainty of 2 or more leaves no decimals (GUM 7.2.6: two significant digits at most).

    Examples
    --------
    >>> shown_change(Quantity.TEMPERATURE, -2.94, 0.47, "si")
    '−2.9 ± 0.5 K'
    >>> shown_change(Quantity.HEAT_RATE, 900.0, 530.0, "us")
    '+3100 ± 1900 Btu/h'
    >>> shown_change(Quantity.ABSOLUTE_PRESSURE, 74_000.0, 2_000.0, "si")
    '+0.74 ± 0.02 bar'
    """
    if not math.isfinite(difference):
        return NO_VALUE
    factor, sign, decimals = _difference_unit(quantity, preset)
    change, u = difference / factor, expanded / factor
    if not math.isfinite(u):
        return f"{_signed(change, decimals)} {sign}".rstrip()
    if u > 0.0:
        decimals = min(decimals, math.floor(-math.log10(u / 20.0) + 1e-9))
    step = 10.0**-decimals
    u = math.ceil(u / step - 1e-9) * step
    return f"{_signed(change, decimals)} ± {number(u, max(decimals, 0))} {sign}".rstrip()


def _difference_unit(quantity: Quantity, preset: PresetName) -> tuple[float, str, int]:
    """Give factor to SI, sign and decimals of a difference of this quantity."""
    if quantity in (Quantity.ABSOLUTE_PRESSURE, Quantity.GAUGE_PRESSURE):
        found = unit(_DIFFERENCE_UNIT[preset], Quantity.PRESSURE_DIFFERENCE)
        return found.factor, found.shown, PRESETS[preset][Quantity.GAUGE_PRESSURE].decimals
    if quantity is Quantity.TEMPERATURE:
        quantity = Quantity.TEMPERATURE_DIFFERENCE
    chosen = PRESETS[preset][quantity]
    found = unit(chosen.unit, quantity)
    return found.factor, found.shown, chosen.decimals


def _signed(value: float, decimals: int) -> str:
    text = number(round(value, decimals), max(decimals, 0))
    return text if text.startswith(MINUS) or float(text) == 0.0 else f"+{text}"
