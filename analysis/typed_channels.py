"""The channels of typed rows: what is assumed about a gauge, a clamp or a meter of which nothing is known."""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.measure import Channel, Specification
from analysis.points import POINTS, point
from analysis.units import Amount, Quantity, UnitError, parse_amount, unit

TYPED_HOLD_S = 1200.0
"""How long a typed row counts as present (design rule; common practice, no source)."""
GAUGE_SPANS_PA = (16e5, 25e5, 40e5, 60e5, 100e5)
"""Usual spans of gauges (EN 837-1, table of ranges, from memory); -1 to 15 bar is a span of 16."""
GAUGE_USE = 0.75
"""A gauge is chosen so that steady pressure is below three quarters of its range (EN 837-2, from memory)."""
WATER_SPAN_PA = 4e5
PRESSURE_POINTS_OF_WATER = (
    "source_entering_pressure", "source_leaving_pressure", "source_static_pressure",
)  # fmt: skip

MATCHED_POINTS = (
    "source_entering_temperature", "source_leaving_temperature", "load_entering_temperature",
    "load_leaving_temperature",
)  # fmt: skip

_RANGES: dict[Quantity, tuple[float, float, str]] = {
    Quantity.TEMPERATURE: (213.15, 473.15, "−60 to 200 °C"),
    Quantity.GAUGE_PRESSURE: (-1.0e5, 100e5, "−1 to 100 bar(g)"),
    Quantity.ABSOLUTE_PRESSURE: (0.0, 101e5, "0 to 101 bar(a)"),
    Quantity.PRESSURE_DIFFERENCE: (0.0, 10e5, "0 to 10 bar"),
    Quantity.VOLUME_FLOW: (0.0, 0.2, "0 to 200 L/s"),
    Quantity.VOLTAGE: (0.0, 700.0, "0 to 700 V"),
    Quantity.CURRENT: (0.0, 500.0, "0 to 500 A"),
    Quantity.POWER: (0.0, 500e3, "0 to 500 kW"),
}


class TypedError(ValueError):
    """An entry that cannot be right; the text asks again, with the unit."""


@dataclass(frozen=True, slots=True)
class Instruments:
    """What a person says about the instruments in hand; the defaults are assumptions."""

    gauge_class: float = 1.0
    """Class of the gauges: largest error in percent of the span (EN 837-1)."""
    clamp_k: float = 1.0
    """Largest error of clamp thermometers [K], contact with the pipe included."""
    water_matched_k: float = math.nan
    """Bound of two water thermometers that were compared in one cup [K]; NaN where they were not."""
    gauge_stated: bool = False
    clamp_stated: bool = False

    def __post_init__(self) -> None:
        if not 0.05 <= self.gauge_class <= 10.0:
            raise TypedError(
                f"a gauge's class lies between 0.05 and 10 % of its span, not {self.gauge_class:g}."
            )
        if self.water_matched_k < 0.02 or self.water_matched_k > 5.0:
            raise TypedError(f"matched thermometers lie within 0.02 to 5 K, not {self.water_matched_k:g}.")
        if not 0.02 <= self.clamp_k <= 20.0:
            raise TypedError(f"a clamp's error lies between 0.02 and 20 K, not {self.clamp_k:g}.")


@dataclass(frozen=True, slots=True)
class TypedRow:
    """One value as a person read it."""

    t_s: float
    point: str
    value: float
    """As indicated, in the channel's unit."""
    channel: Channel
    who: str = ""


def typed_row(
    t_s: float, name: str, text: str | Amount, instruments: Instruments | None = None, who: str = ""
) -> TypedRow:
    """Make a row of what was typed for a measuring point.

    Parameters
    ----------
    t_s
        When it was read [s].
    name
        Measuring point.
    text
        Number with unit: ``5.2 bar(g)``.
    instruments
        What is said about gauge and clamp.
    who
        Who read it.

    Raises
    ------
    TypedError
        If it is no number with a unit of the point, or cannot be right.

    Examples
    --------
    >>> typed_row(0.0, "suction_pressure", "5.2 bar(g)").channel.source
    'assumed: gauge of class 1.0 over 16 bar, ± 0.16 bar (EN 837-1)'
    >>> typed_row(0.0, "suction_temperature", "-240 degC")
    Traceback (most recent call last):
    analysis.typed_channels.TypedError: suction line: -240 degC is outside of −60 to 200 °C; type it again.
    """
    place = point(name)
    amount = parse_entry(name, text) if isinstance(text, str) else text
    low, high, words = _RANGES.get(amount.quantity, (-math.inf, math.inf, ""))
    if not low <= amount.si <= high:
        raise TypedError(
            f"{place.label}: {amount.value:g} {amount.unit} is outside of {words}; type it again."
        )
    return TypedRow(t_s, name, amount.value, channel_of(name, amount, instruments or Instruments()), who)


def parse_entry(name: str, text: str) -> Amount:
    """Read a number with a unit that suits a measuring point.

    Raises
    ------
    TypedError
        If it is none.
    """
    place = point(name)
    among: tuple[Quantity, ...] = (place.quantity,)
    if place.quantity is Quantity.ABSOLUTE_PRESSURE:
        among = (Quantity.GAUGE_PRESSURE, Quantity.ABSOLUTE_PRESSURE)
    try:
        return parse_amount(text, *among)
    except UnitError as refused:
        raise TypedError(f"{place.label}: {refused}") from None


def channel_of(name: str, amount: Amount, instruments: Instruments) -> Channel:
    """Give the channel of a typed point, with what is assumed or stated about its instrument.

    The bounds are taken as expanded uncertainties (k = 2).
    """
    fixed, share, source = _bounds(name, amount, instruments)
    factor = unit(amount.unit, amount.quantity).factor
    return Channel(
        id=f"typed/{name}",
        quantity=amount.quantity,
        unit=amount.unit,
        label=POINTS[name].label,
        uncertainty=Specification(fixed=fixed / factor, of_reading=share),
        expected_interval_s=TYPED_HOLD_S / 3.0,
        hold_s=TYPED_HOLD_S,
        source=source,
    )


def _bounds(name: str, amount: Amount, instruments: Instruments) -> tuple[float, float, str]:
    """Give fixed bound [SI], bound relative to the reading, and where they come from."""
    quantity = amount.quantity
    if quantity in (Quantity.GAUGE_PRESSURE, Quantity.ABSOLUTE_PRESSURE):
        span = gauge_span(name, amount.si)
        bound = instruments.gauge_class / 100.0 * span
        how = "stated" if instruments.gauge_stated else "assumed"
        text = (
            f"gauge of class {instruments.gauge_class:.1f} over {span / 1e5:g} bar, ± {bound / 1e5:.2g} bar"
        )
        return bound, 0.0, f"{how}: {text} (EN 837-1)"
    if name in MATCHED_POINTS and math.isfinite(instruments.water_matched_k):
        bound = instruments.water_matched_k
        return bound, 0.0, f"stated: water thermometers matched in one cup, ± {bound:.1f} K"
    if quantity is Quantity.TEMPERATURE:
        how = "stated" if instruments.clamp_stated else "assumed"
        return instruments.clamp_k, 0.0, f"{how}: thermometer ± {instruments.clamp_k:.1f} K"
    other = {
        Quantity.PRESSURE_DIFFERENCE: (2e3, 0.0, "one gauge moved between the ports, ± 2 kPa"),
        Quantity.VOLUME_FLOW: (0.0, 0.05, "flow ± 5 %"),
        Quantity.VOLTAGE: (1.0, 0.01, "meter ± (1 % + 1 V)"),
        Quantity.CURRENT: (0.05, 0.02, "clamp ammeter ± (2 % + 0.05 A)"),
        Quantity.POWER: (0.0, 0.03, "power meter ± 3 %"),
    }
    fixed, share, text = other.get(quantity, (0.0, 0.05, "± 5 %"))
    return fixed, share, f"assumed: {text} (common practice, no source)"


def gauge_span(name: str, gauge_pa: float) -> float:
    """Give the span of a gauge that suits a pressure [Pa]: the smallest usual one that is not overloaded.

    Examples
    --------
    >>> gauge_span("suction_pressure", 5.2e5) / 1e5, gauge_span("discharge_pressure", 24.5e5) / 1e5
    (16.0, 40.0)
    """
    spans = (WATER_SPAN_PA, *GAUGE_SPANS_PA) if name in PRESSURE_POINTS_OF_WATER else GAUGE_SPANS_PA
    return next((span for span in spans if gauge_pa <= GAUGE_USE * span), spans[-1])
