"""Measuring points: named places on the machine where a quantity is measured."""

from __future__ import annotations

import difflib
from dataclasses import dataclass

from analysis.units import Quantity


@dataclass(frozen=True, slots=True)
class Point:
    """A place on the machine; pressures are absolute once they are in a frame."""

    name: str
    quantity: Quantity
    label: str

    def accepts(self, quantity: Quantity) -> bool:
        """Whether a channel of this quantity may feed the point; gauge pressure becomes absolute."""
        if self.quantity is Quantity.ABSOLUTE_PRESSURE:
            return quantity in (Quantity.GAUGE_PRESSURE, Quantity.ABSOLUTE_PRESSURE)
        return quantity is self.quantity


class UnknownPointError(ValueError):
    """A measuring point that does not exist; the text offers near names."""


POINTS: dict[str, Point] = {
    point.name: point
    for point in (
        Point("suction_pressure", Quantity.ABSOLUTE_PRESSURE, "suction pressure"),
        Point("discharge_pressure", Quantity.ABSOLUTE_PRESSURE, "discharge pressure"),
        Point("liquid_pressure", Quantity.ABSOLUTE_PRESSURE, "liquid line pressure"),
        Point("suction_temperature", Quantity.TEMPERATURE, "suction line"),
        Point("discharge_temperature", Quantity.TEMPERATURE, "discharge line"),
        Point("liquid_temperature", Quantity.TEMPERATURE, "liquid line"),
        Point("source_entering_temperature", Quantity.TEMPERATURE, "source water in"),
        Point("source_leaving_temperature", Quantity.TEMPERATURE, "source water out"),
        Point("source_entering_pressure", Quantity.ABSOLUTE_PRESSURE, "source water pressure in"),
        Point("source_leaving_pressure", Quantity.ABSOLUTE_PRESSURE, "source water pressure out"),
        Point("source_pressure_drop", Quantity.PRESSURE_DIFFERENCE, "source coil pressure drop"),
        Point("source_static_pressure", Quantity.ABSOLUTE_PRESSURE, "source loop static pressure"),
        Point("source_flow", Quantity.VOLUME_FLOW, "source water flow"),
        Point("load_entering_temperature", Quantity.TEMPERATURE, "load water in"),
        Point("load_leaving_temperature", Quantity.TEMPERATURE, "load water out"),
        Point("load_flow", Quantity.VOLUME_FLOW, "load water flow"),
        Point("desuperheater_entering_temperature", Quantity.TEMPERATURE, "desuperheater water in"),
        Point("desuperheater_leaving_temperature", Quantity.TEMPERATURE, "desuperheater water out"),
        Point("desuperheater_flow", Quantity.VOLUME_FLOW, "desuperheater water flow"),
        Point("return_air_temperature", Quantity.TEMPERATURE, "return air"),
        Point("return_air_wet_bulb", Quantity.TEMPERATURE, "return air wet bulb"),
        Point("supply_air_temperature", Quantity.TEMPERATURE, "supply air"),
        Point("supply_air_wet_bulb", Quantity.TEMPERATURE, "supply air wet bulb"),
        Point("air_flow", Quantity.VOLUME_FLOW, "air flow"),
        Point("supply_voltage", Quantity.VOLTAGE, "supply voltage"),
        Point("transformer_primary_voltage", Quantity.VOLTAGE, "transformer primary"),
        Point("transformer_secondary_voltage", Quantity.VOLTAGE, "transformer secondary"),
        Point("control_voltage", Quantity.VOLTAGE, "control voltage R to C"),
        Point("contactor_coil_voltage", Quantity.VOLTAGE, "contactor coil"),
        Point("compressor_current", Quantity.CURRENT, "compressor current"),
        Point("compressor_power", Quantity.POWER, "compressor power"),
        Point("pump_voltage", Quantity.VOLTAGE, "pump voltage"),
        Point("pump_current", Quantity.CURRENT, "pump current"),
        Point("fan_current", Quantity.CURRENT, "fan current"),
        Point("barometric_pressure", Quantity.ABSOLUTE_PRESSURE, "barometric pressure"),
        Point("ambient_temperature", Quantity.TEMPERATURE, "ambient air"),
    )
}


def point(name: str) -> Point:
    """Find a measuring point.

    Raises
    ------
    UnknownPointError
        If there is none of this name.

    Examples
    --------
    >>> point("suction_presure")
    Traceback (most recent call last):
    analysis.points.UnknownPointError: 'suction_presure' is not a measuring point; near it: suction_pressure.
    """
    try:
        return POINTS[name]
    except KeyError:
        near = difflib.get_close_matches(name, POINTS, n=1, cutoff=0.6)
        hint = f"near it: {', '.join(near)}" if near else f"known are {', '.join(POINTS)}"
        raise UnknownPointError(f"'{name}' is not a measuring point; {hint}.") from None
