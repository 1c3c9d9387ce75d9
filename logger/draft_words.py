"""Words in the headers of foreign tables: units, quantities and places they may mean."""

from __future__ import annotations

import re

from analysis.units import Quantity

_Q = Quantity
_UNIT_WORDS: dict[str, tuple[Quantity, str]] = {
    "°c": (_Q.TEMPERATURE, "degC"), "℃": (_Q.TEMPERATURE, "degC"), "degc": (_Q.TEMPERATURE, "degC"),
    "c": (_Q.TEMPERATURE, "degC"), "celsius": (_Q.TEMPERATURE, "degC"), "ºc": (_Q.TEMPERATURE, "degC"),
    "°f": (_Q.TEMPERATURE, "degF"), "℉": (_Q.TEMPERATURE, "degF"), "degf": (_Q.TEMPERATURE, "degF"),
    "f": (_Q.TEMPERATURE, "degF"), "k": (_Q.TEMPERATURE, "K"),
    "pa": (_Q.PRESSURE_DIFFERENCE, "Pa"), "hpa": (_Q.PRESSURE_DIFFERENCE, "hPa"),
    "kpa": (_Q.PRESSURE_DIFFERENCE, "kPa"), "mpa": (_Q.PRESSURE_DIFFERENCE, "MPa"),
    "bar": (_Q.PRESSURE_DIFFERENCE, "bar"), "mbar": (_Q.PRESSURE_DIFFERENCE, "mbar"),
    "psi": (_Q.PRESSURE_DIFFERENCE, "psi"), "inhg": (_Q.PRESSURE_DIFFERENCE, "inHg"),
    "psig": (_Q.GAUGE_PRESSURE, "psig"), "psia": (_Q.ABSOLUTE_PRESSURE, "psia"),
    "barg": (_Q.GAUGE_PRESSURE, "bar(g)"), "bara": (_Q.ABSOLUTE_PRESSURE, "bar(a)"),
    "bar(g)": (_Q.GAUGE_PRESSURE, "bar(g)"), "bar(a)": (_Q.ABSOLUTE_PRESSURE, "bar(a)"),
    "kpa(g)": (_Q.GAUGE_PRESSURE, "kPa(g)"), "kpa(a)": (_Q.ABSOLUTE_PRESSURE, "kPa(a)"),
    "kpag": (_Q.GAUGE_PRESSURE, "kPa(g)"), "kpaa": (_Q.ABSOLUTE_PRESSURE, "kPa(a)"),
    "gpm": (_Q.VOLUME_FLOW, "gpm"), "l/s": (_Q.VOLUME_FLOW, "L/s"), "lps": (_Q.VOLUME_FLOW, "L/s"),
    "l/min": (_Q.VOLUME_FLOW, "L/min"), "lpm": (_Q.VOLUME_FLOW, "L/min"), "l/h": (_Q.VOLUME_FLOW, "L/h"),
    "m3/h": (_Q.VOLUME_FLOW, "m3/h"), "m³/h": (_Q.VOLUME_FLOW, "m3/h"), "m3/s": (_Q.VOLUME_FLOW, "m3/s"),
    "cfm": (_Q.VOLUME_FLOW, "cfm"), "kg/s": (_Q.MASS_FLOW, "kg/s"), "kg/h": (_Q.MASS_FLOW, "kg/h"),
    "lb/h": (_Q.MASS_FLOW, "lb/h"), "lb/min": (_Q.MASS_FLOW, "lb/min"), "lbm/min": (_Q.MASS_FLOW, "lb/min"),
    "w": (_Q.POWER, "W"), "kw": (_Q.POWER, "kW"), "btu/h": (_Q.HEAT_RATE, "Btu/h"),
    "tons": (_Q.HEAT_RATE, "ton"), "ton": (_Q.HEAT_RATE, "ton"), "kwh": (_Q.ENERGY, "kWh"),
    "v": (_Q.VOLTAGE, "V"), "a": (_Q.CURRENT, "A"), "hz": (_Q.FREQUENCY, "Hz"), "rpm": (_Q.ROTATION, "rpm"),
    "%": (_Q.RATIO, "%"), "%rh": (_Q.RELATIVE_HUMIDITY, "%"), "m/s": (_Q.SPEED, "m/s"),
    "ohm": (_Q.RESISTANCE, "ohm"), "ω": (_Q.RESISTANCE, "ohm"),
}  # fmt: skip
_KINDS: tuple[tuple[str, Quantity, str], ...] = (
    (r"press|\bpres\b|\bp\b", _Q.GAUGE_PRESSURE, "bar(g), psig; absolute: bar(a), psia"),
    (r"flow", _Q.VOLUME_FLOW, "L/s, m3/h, gpm or cfm"),
    (r"power|watt", _Q.POWER, "W or kW"),
    (r"temp|\bt\d*\b", _Q.TEMPERATURE, "degC or degF"),
    (r"curr|amp", _Q.CURRENT, "A"),
    (r"volt", _Q.VOLTAGE, "V"),
    (r"humid|\brh\b", _Q.RELATIVE_HUMIDITY, "%"),
)
_BRACKETS = re.compile(r"[(\[]\s*([^()\[\]]+(?:\([ga]\))?)\s*[)\]]")
_LAST = re.compile(r"(?:[\s_,/]|^)([^\s_,]+)$")
_PLACES: tuple[tuple[str, Quantity, str], ...] = (
    (r"suction|\blow\b|evap.*press|\bps\b", _Q.ABSOLUTE_PRESSURE, "suction_pressure"),
    (r"discharge|head|\bhigh\b|cond.*press|\bpd\b", _Q.ABSOLUTE_PRESSURE, "discharge_pressure"),
    (r"liquid", _Q.ABSOLUTE_PRESSURE, "liquid_pressure"),
    (r"baro|local_pres|atmos", _Q.ABSOLUTE_PRESSURE, "barometric_pressure"),
    (r"suction|t_?suc", _Q.TEMPERATURE, "suction_temperature"),
    (r"discharge|t_?dis|hot gas", _Q.TEMPERATURE, "discharge_temperature"),
    (r"liquid", _Q.TEMPERATURE, "liquid_temperature"),
    (r"\bewt\b|(source|ground|brine|well|loop).*(in|ent|sup)", _Q.TEMPERATURE, "source_entering_temperature"),
    (r"\blwt\b|(source|ground|brine|well|loop).*(out|lea|ret)", _Q.TEMPERATURE, "source_leaving_temperature"),
    (r"(load|floor|heating|hydronic).*(in|enter|return)", _Q.TEMPERATURE, "load_entering_temperature"),
    (r"(load|floor|heating|hydronic).*(out|leav|supply)", _Q.TEMPERATURE, "load_leaving_temperature"),
    (r"\b(ra|return).*", _Q.TEMPERATURE, "return_air_temperature"),
    (r"\b(sa|supply).*", _Q.TEMPERATURE, "supply_air_temperature"),
    (r"\boa|outdoor|ambient", _Q.TEMPERATURE, "ambient_temperature"),
    (r"source|ground|brine|well|loop", _Q.VOLUME_FLOW, "source_flow"),
    (r"load|floor|hydronic", _Q.VOLUME_FLOW, "load_flow"),
    (r"air|fan|sa_flow", _Q.VOLUME_FLOW, "air_flow"),
    (r"comp", _Q.POWER, "compressor_power"),
    (r"comp", _Q.CURRENT, "compressor_current"),
    (r"pump", _Q.CURRENT, "pump_current"),
    (r"supply|mains|line", _Q.VOLTAGE, "supply_voltage"),
)  # fmt: skip


def unit_word(text: str) -> tuple[Quantity, str] | None:
    """Understand a unit as loggers write it; gauge or absolute stays open where it does not say.

    Examples
    --------
    >>> unit_word("°C")[1], unit_word("bar g")[1], unit_word("volume") is None
    ('degC', 'bar(g)', True)
    """
    return _UNIT_WORDS.get(re.sub(r"\s+", "", text).lower().replace(" ", ""))


def unit_in_header(header: str, unit_cell: str = "") -> tuple[Quantity, str] | None:
    """Find the unit that a column's header, or the cell below it, states.

    Examples
    --------
    >>> unit_in_header("P.LC.High(Pa)")[1], unit_in_header("flow", "gpm")[1], unit_in_header("T_suc") is None
    ('Pa', 'gpm', True)
    """
    if unit_cell.strip(" []()"):
        return unit_word(unit_cell.strip().removeprefix("[").removesuffix("]"))
    for found in reversed(_BRACKETS.findall(header)):
        if word := unit_word(found):
            return word
    last = _LAST.search(header.strip())
    # A single letter at the end is rather a name than a unit.
    return unit_word(last[1]) if last and len(last[1]) > 1 else None


def header_unit(header: str, unit_cell: str = "") -> str:
    """Give only the unit's name; empty where none is stated."""
    found = unit_in_header(header, unit_cell)
    return found[1] if found else ""


def quantity_in_header(header: str) -> tuple[Quantity, str] | None:
    """Guess what a header without unit may measure, and in which units it is usual.

    Examples
    --------
    >>> quantity_in_header("zn_temp")
    (<Quantity.TEMPERATURE: 'temperature'>, 'degC or degF')
    """
    words = re.sub(r"[._\-]+", " ", header.lower())
    return next(((quantity, units) for pattern, quantity, units in _KINDS if re.search(pattern, words)), None)


def place_in_header(header: str, quantity: Quantity) -> str:
    """Guess the measuring point that a header may mean; empty where no word says.

    Examples
    --------
    >>> place_in_header("Suction press", Quantity.GAUGE_PRESSURE)
    'suction_pressure'
    """
    kind = quantity
    if quantity in (Quantity.GAUGE_PRESSURE, Quantity.PRESSURE_DIFFERENCE):
        kind = Quantity.ABSOLUTE_PRESSURE
    words = re.sub(r"[._\-]+", " ", header.lower())
    for pattern, wanted, place in _PLACES:
        if wanted is kind and (re.search(pattern, words) or re.search(pattern, header.lower())):
            return place
    return ""
