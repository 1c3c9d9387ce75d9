"""Quantities and their units: the only place where a number changes its unit.

Inside evenrun every number is SI. Conversion happens at two borders: when a reading enters a frame, and
when something is shown or exported. Gauge and absolute pressure are different quantities, so a bare
``psi`` or ``bar`` only ever means a pressure difference.
"""

from __future__ import annotations

import difflib
import math
import re
from enum import StrEnum
from typing import NamedTuple


class Quantity(StrEnum):
    """What kind of thing a number measures; it decides which units are allowed."""

    TEMPERATURE = "temperature"
    TEMPERATURE_DIFFERENCE = "temperature_difference"
    GAUGE_PRESSURE = "gauge_pressure"
    ABSOLUTE_PRESSURE = "absolute_pressure"
    PRESSURE_DIFFERENCE = "pressure_difference"
    VOLUME_FLOW = "volume_flow"
    MASS_FLOW = "mass_flow"
    HEAT_RATE = "heat_rate"
    SPECIFIC_ENTHALPY = "specific_enthalpy"
    POWER = "power"
    ENERGY = "energy"
    VOLTAGE = "voltage"
    CURRENT = "current"
    RESISTANCE = "resistance"
    CAPACITANCE = "capacitance"
    FREQUENCY = "frequency"
    ROTATION = "rotation"
    RELATIVE_HUMIDITY = "relative_humidity"
    RATIO = "ratio"
    MASS = "mass"
    VOLUME = "volume"
    LENGTH = "length"
    SPEED = "speed"
    TIME = "time"


class Unit(NamedTuple):
    """One unit of one quantity: SI value = indicated value x factor + offset."""

    name: str
    factor: float
    offset: float = 0.0
    sign: str | None = None
    """How it is written on a screen, where that differs from the plain name used in files."""

    @property
    def shown(self) -> str:
        """The sign for people, for example ``°C`` for ``degC``."""
        return self.name if self.sign is None else self.sign


class UnitError(ValueError):
    """A unit that is unknown, ambiguous or of another quantity; the text says what to write."""


_PSI = 6894.757293168361  # lbf/in2, exact by definition of the pound and the inch
_INHG = 3386.389  # conventional inch of mercury at 0 degC, NIST SP 811 table B.9
_BTU_PER_H = 0.29307107017222222  # Btu(IT)/h, NIST SP 811
_GPM = 6.30901964e-5  # US gallon per minute
_PRESSURES = {
    "Pa": 1.0, "hPa": 100.0, "mbar": 100.0, "kPa": 1e3, "MPa": 1e6, "bar": 1e5, "mmHg": 133.322387415,
}  # fmt: skip


def _pressures(suffix: str, psi: str) -> tuple[Unit, ...]:
    metric = tuple(Unit(f"{name}{suffix}", factor) for name, factor in _PRESSURES.items())
    return (*metric, Unit(psi, _PSI), Unit(f"inHg{suffix}", _INHG))


_UNITS: dict[Quantity, tuple[Unit, ...]] = {
    Quantity.TEMPERATURE: (
        Unit("K", 1.0),
        Unit("degC", 1.0, 273.15, "°C"),
        Unit("degF", 5 / 9, 273.15 - 32 * 5 / 9, "°F"),
    ),
    Quantity.TEMPERATURE_DIFFERENCE: (Unit("K", 1.0), Unit("degF", 5 / 9, 0.0, "°F")),
    Quantity.GAUGE_PRESSURE: _pressures("(g)", "psig"),
    Quantity.ABSOLUTE_PRESSURE: _pressures("(a)", "psia"),
    Quantity.PRESSURE_DIFFERENCE: (*_pressures("", "psi"), Unit("ftH2O", 2989.067), Unit("mH2O", 9806.65)),
    Quantity.VOLUME_FLOW: (
        Unit("m3/s", 1.0, 0.0, "m³/s"), Unit("L/s", 1e-3), Unit("L/min", 1e-3 / 60), Unit("L/h", 1e-3 / 3600),
        Unit("m3/h", 1 / 3600, 0.0, "m³/h"), Unit("gpm", _GPM), Unit("cfm", 0.028316846592 / 60),
    ),
    Quantity.MASS_FLOW: (
        Unit("kg/s", 1.0), Unit("g/s", 1e-3), Unit("kg/h", 1 / 3600), Unit("lb/h", 0.45359237 / 3600),
        Unit("lb/min", 0.45359237 / 60),
    ),
    Quantity.SPECIFIC_ENTHALPY: (Unit("J/kg", 1.0), Unit("kJ/kg", 1e3), Unit("Btu/lb", 2326.0)),
    Quantity.HEAT_RATE: (Unit("W", 1.0), Unit("kW", 1e3), Unit("Btu/h", _BTU_PER_H), Unit("ton", 12000 * _BTU_PER_H)),
    Quantity.POWER: (Unit("W", 1.0), Unit("kW", 1e3)),
    Quantity.ENERGY: (Unit("J", 1.0), Unit("kWh", 3.6e6), Unit("Wh", 3600.0)),
    Quantity.VOLTAGE: (Unit("V", 1.0), Unit("mV", 1e-3)),
    Quantity.CURRENT: (Unit("A", 1.0), Unit("mA", 1e-3)),
    Quantity.RESISTANCE: (Unit("ohm", 1.0, 0.0, "Ω"), Unit("kohm", 1e3, 0.0, "kΩ"), Unit("Mohm", 1e6, 0.0, "MΩ")),
    Quantity.CAPACITANCE: (Unit("F", 1.0), Unit("uF", 1e-6, 0.0, "µF")),
    Quantity.FREQUENCY: (Unit("Hz", 1.0),),
    Quantity.ROTATION: (Unit("1/s", 1.0), Unit("rpm", 1 / 60)),
    Quantity.RELATIVE_HUMIDITY: (Unit("1", 1.0), Unit("%", 0.01)),
    Quantity.RATIO: (Unit("1", 1.0, 0.0, ""), Unit("%", 0.01)),
    Quantity.MASS: (Unit("kg", 1.0), Unit("g", 1e-3), Unit("lb", 0.45359237), Unit("oz", 0.028349523125)),
    Quantity.VOLUME: (Unit("m3", 1.0, 0.0, "m³"), Unit("L", 1e-3), Unit("gal", 3.785411784e-3)),
    Quantity.LENGTH: (Unit("m", 1.0), Unit("mm", 1e-3), Unit("ft", 0.3048), Unit("in", 0.0254)),
    Quantity.SPEED: (Unit("m/s", 1.0), Unit("ft/s", 0.3048)),
    Quantity.TIME: (Unit("s", 1.0), Unit("min", 60.0), Unit("h", 3600.0)),
}  # fmt: skip

_BY_NAME: dict[Quantity, dict[str, Unit]] = {
    quantity: {unit.name: unit for unit in units} for quantity, units in _UNITS.items()
}
#: Other spellings people type; each means exactly one unit of the quantity asked for.
_SPELLINGS = {
    "°c": "degC", "c": "degC", "degc": "degC", "°f": "degF", "f": "degF", "degf": "degF", "k": "K",
    "barg": "bar(g)", "bara": "bar(a)", "kpag": "kPa(g)", "kpaa": "kPa(a)", "mpag": "MPa(g)", "mpaa": "MPa(a)",
    "l/s": "L/s", "lps": "L/s", "l/min": "L/min", "lpm": "L/min", "l/h": "L/h", "m³/h": "m3/h", "m³/s": "m3/s",
    "µf": "uF", "μf": "uF", "uf": "uF", "ω": "ohm", "kω": "kohm", "mω": "Mohm", "btu/h": "Btu/h", "btuh": "Btu/h",
}  # fmt: skip
_GAUGE_OR_ABSOLUTE = (Quantity.GAUGE_PRESSURE, Quantity.ABSOLUTE_PRESSURE)


def unit(name: str, quantity: Quantity) -> Unit:
    """Find a unit by its name within one quantity.

    Raises
    ------
    UnitError
        If the name is unknown, of another quantity, or does not say gauge or absolute.

    Examples
    --------
    >>> unit("degF", Quantity.TEMPERATURE).shown
    '°F'
    >>> unit("psi", Quantity.GAUGE_PRESSURE)
    Traceback (most recent call last):
    analysis.units.UnitError: 'psi' does not say gauge or absolute: write psig or psia.
    """
    known = _BY_NAME[quantity]
    text = name.strip()
    found = known.get(text) or known.get(_SPELLINGS.get(text.lower(), text))
    if found is not None:
        return found
    if quantity in _GAUGE_OR_ABSOLUTE and text in _BY_NAME[Quantity.PRESSURE_DIFFERENCE]:
        gauge, absolute = ("psig", "psia") if text == "psi" else (f"{text}(g)", f"{text}(a)")
        raise UnitError(f"'{text}' does not say gauge or absolute: write {gauge} or {absolute}.")
    near = difflib.get_close_matches(text, known, n=3, cutoff=0.3) or list(known)
    words = quantity.value.replace("_", " ")
    raise UnitError(f"'{text}' is not a unit of {words}; known are {', '.join(near)}.")


def quantity_of(unit_name: str, among: tuple[Quantity, ...]) -> Quantity:
    """Say which of the given quantities a unit belongs to.

    Examples
    --------
    >>> quantity_of("psig", (Quantity.GAUGE_PRESSURE, Quantity.ABSOLUTE_PRESSURE)).value
    'gauge_pressure'
    """
    error: UnitError | None = None
    for quantity in among:
        try:
            unit(unit_name, quantity)
        except UnitError as refused:
            error = error or refused
        else:
            return quantity
    assert error is not None, "at least one quantity must be asked for"
    raise error


def to_si(quantity: Quantity, unit_name: str, value: float) -> float:
    """Turn an indicated value into SI. Gauge pressure stays gauge, in Pa.

    Examples
    --------
    >>> round(to_si(Quantity.TEMPERATURE, "degF", 50.0), 2)
    283.15
    """
    found = unit(unit_name, quantity)
    return value * found.factor + found.offset


def from_si(quantity: Quantity, unit_name: str, value: float) -> float:
    """Turn an SI value into the given unit.

    Examples
    --------
    >>> round(from_si(Quantity.GAUGE_PRESSURE, "psig", 448159.2), 1)
    65.0
    """
    found = unit(unit_name, quantity)
    return (value - found.offset) / found.factor


_NUMBER_AND_UNIT = re.compile(r"\s*([+\-−]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(\S.*?)?\s*")


class Amount(NamedTuple):
    """A number with its quantity and unit as a person wrote it."""

    value: float
    quantity: Quantity
    unit: str

    @property
    def si(self) -> float:
        """The value in SI units."""
        return to_si(self.quantity, self.unit, self.value)


def parse_amount(text: str, *among: Quantity) -> Amount:
    """Read a number with its unit, such as ``118psig`` or ``94.32 kPa(a)``.

    Parameters
    ----------
    text
        Number and unit; a blank between them is optional.
    among
        The quantities that make sense here, the likeliest first.

    Raises
    ------
    UnitError
        If there is no number, no unit, or the unit is of none of the quantities.

    Examples
    --------
    >>> parse_amount("118psig", Quantity.GAUGE_PRESSURE, Quantity.ABSOLUTE_PRESSURE).unit
    'psig'
    """
    match = _NUMBER_AND_UNIT.fullmatch(text)
    example = f"5 {_UNITS[among[0]][1 if len(_UNITS[among[0]]) > 1 else 0].name}"
    if match is None:
        raise UnitError(f"'{text.strip()}' is not a number with a unit; write it like '{example}'.")
    number, unit_name = match.groups()
    if not unit_name:
        raise UnitError(f"'{text.strip()}' has no unit; write it like '{example}'.")
    value = float(number.replace("−", "-"))
    if not math.isfinite(value):
        raise UnitError(f"'{number}' is too large to be a reading.")
    quantity = quantity_of(unit_name, among)
    return Amount(value, quantity, unit(unit_name, quantity).name)
