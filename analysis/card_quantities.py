"""What a unit card may state a band for: symbol, kind, and the range in which it can lie."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.units import Quantity

_T, _DT = Quantity.TEMPERATURE, Quantity.TEMPERATURE_DIFFERENCE


@dataclass(frozen=True, slots=True)
class CardQuantity:
    """One quantity with bands."""

    label: str
    quantity: Quantity
    least: float
    """No machine of this trade lies below [SI]; common practice, no source."""
    most: float


CARD_QUANTITIES: dict[str, CardQuantity] = {
    "superheat": CardQuantity("superheat", _DT, 0.0, 30.0),
    "subcooling": CardQuantity("subcooling", _DT, 0.0, 25.0),
    "evaporating_approach": CardQuantity("evaporating approach", _DT, 0.0, 20.0),
    "condensing_approach": CardQuantity("condensing approach", _DT, -2.0, 25.0),
    "liquid_approach": CardQuantity("liquid line less entering water", _DT, -2.0, 25.0),
    "source_change": CardQuantity("source water change", _DT, 0.5, 20.0),
    "load_change": CardQuantity("load change", _DT, 0.5, 35.0),
    "desuperheater_change": CardQuantity("desuperheater water change", _DT, 0.2, 25.0),
    "desuperheater_leaving_temperature": CardQuantity("desuperheater water out", _T, 293.15, 363.15),
    "freeze_margin": CardQuantity("freeze margin", _DT, 0.0, 30.0),
    "source_volume_flow": CardQuantity("source flow", Quantity.VOLUME_FLOW, 1e-5, 0.1),
    "load_flow": CardQuantity("load flow", Quantity.VOLUME_FLOW, 1e-5, 5.0),
    "source_pressure_drop": CardQuantity(
        "source coil pressure drop", Quantity.PRESSURE_DIFFERENCE, 500.0, 3e5
    ),
    "strainer_pressure_drop": CardQuantity("strainer pressure drop", Quantity.PRESSURE_DIFFERENCE, 0.0, 1e5),
    "pump_current": CardQuantity("pump current", Quantity.CURRENT, 0.05, 60.0),
    "compressor_current": CardQuantity("compressor current", Quantity.CURRENT, 0.5, 400.0),
    "compressor_power": CardQuantity("compressor power", Quantity.POWER, 100.0, 2e5),
    "supply_voltage": CardQuantity("supply voltage", Quantity.VOLTAGE, 90.0, 700.0),
    "control_voltage": CardQuantity("control voltage", Quantity.VOLTAGE, 8.0, 260.0),
    "discharge_temperature": CardQuantity("discharge line", _T, 283.15, 403.15),
    "source_entering_temperature": CardQuantity("source water in", _T, 253.15, 333.15),
    "load_entering_temperature": CardQuantity("load water in", _T, 263.15, 343.15),
    "source_static_gauge": CardQuantity("source loop static pressure", Quantity.GAUGE_PRESSURE, 0.0, 1e6),
    "heat_moved": CardQuantity("heat moved", Quantity.HEAT_RATE, 300.0, 1e6),
}
