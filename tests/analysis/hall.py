"""The community hall's three visits as typed values, and the machine's card."""

from __future__ import annotations

from pathlib import Path

from analysis.card_file import CardFile
from analysis.case_file import CaseFile, visit_of_case
from analysis.evidence import Visit
from analysis.unit_card import UnitCard, unit_card
from drivers.strict_toml import decode

CARDS = Path(__file__).parents[2] / "recordings" / "cards"


def read_card(name: str = "hall") -> UnitCard:
    return unit_card(decode((CARDS / f"{name}.toml").read_text(encoding="utf-8"), CardFile))


_CLASS = {
    "pressure": "0.05 bar", "temperature": "0.4 K", "pressure_difference": "0.3 kPa", "flow": "3 %",
    "power": "2 %", "current": "2 %",
}  # fmt: skip
_ORDER = (
    ("source_pressure_drop", "kPa"), ("source_entering_temperature", "degC"),
    ("source_leaving_temperature", "degC"), ("suction_pressure", "bar(g)"), ("suction_temperature", "degC"),
    ("discharge_pressure", "bar(g)"), ("liquid_temperature", "degC"), ("discharge_temperature", "degC"),
    ("load_entering_temperature", "degC"), ("load_leaving_temperature", "degC"), ("load_flow", "L/s"),
    ("compressor_power", "kW"), ("pump_current", "A"),
)  # fmt: skip
_PHASES = {
    "as-found": (9.8, 4.0, -2.4, 5.15, -2.4, 24.59, 30.6, 85.0, 30.0, 35.1, 0.53, 3.00, 1.16),
    "water-right": (28.8, 4.0, 0.1, 5.86, 0.6, 25.61, 31.6, 84.0, 30.0, 35.6, 0.53, 3.19, 0.92),
    "as-left": (28.8, 4.0, 0.1, 5.89, 1.3, 22.85, 34.0, 77.0, 30.0, 35.5, 0.53, 2.96, 0.92),
}


def phase(name: str, **changed: str) -> Visit:
    """Give one visit; a reading may be replaced, or left out by an empty text."""
    readings = {
        symbol: f"{value} {unit}" for (symbol, unit), value in zip(_ORDER, _PHASES[name], strict=True)
    }
    readings |= changed
    case = CaseFile(
        title=name, mode="heating", refrigerant="R410A", barometer="94.32 kPa(a)", gauge_class=_CLASS,
        readings={symbol: text for symbol, text in readings.items() if text},
    )  # fmt: skip
    return visit_of_case(case, read_card())
