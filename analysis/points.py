"""Measuring points: named places on the machine where a quantity is measured."""

from __future__ import annotations

import difflib
from dataclasses import dataclass

from analysis.units import Quantity as Q


@dataclass(frozen=True, slots=True)
class Point:
    """A place on the machine; pressures are absolute once they are in a frame."""

    name: str
    quantity: Q
    label: str

    def accepts(self, quantity: Q) -> bool:
        """Whether a channel of this quantity may feed the point; gauge pressure becomes absolute."""
        if self.quantity is Q.ABSOLUTE_PRESSURE:
            return quantity in (Q.GAUGE_PRESSURE, Q.ABSOLUTE_PRESSURE)
        return quantity is self.quantity


class UnknownPoint(ValueError):
    """A measuring point that does not exist; the text offers near names."""


POINTS: dict[str, Point] = {
    point.name: point
    for point in (
        Point("suction_pressure", Q.ABSOLUTE_PRESSURE, "suction pressure"),
        Point("discharge_pressure", Q.ABSOLUTE_PRESSURE, "discharge pressure"),
        Point("liquid_pressure", Q.ABSOLUTE_PRESSURE, "liquid line pressure"),
        Point("suction_temperature", Q.TEMPERATURE, "suction line"),
        Point("discharge_temperature", Q.TEMPERATURE, "discharge line"),
        Point("liquid_temperature", Q.TEMPERATURE, "liquid line"),
        Point("source_entering_temperature", Q.TEMPERATURE, "source water in"),
        Point("source_leaving_temperature", Q.TEMPERATURE, "source water out"),
        Point("source_entering_pressure", Q.ABSOLUTE_PRESSURE, "source water pressure in"),
        Point("source_leaving_pressure", Q.ABSOLUTE_PRESSURE, "source water pressure out"),
        Point("source_pressure_drop", Q.PRESSURE_DIFFERENCE, "source coil pressure drop"),
        Point("source_static_pressure", Q.ABSOLUTE_PRESSURE, "source loop static pressure"),
        Point("source_flow", Q.VOLUME_FLOW, "source water flow"),
        Point("load_entering_temperature", Q.TEMPERATURE, "load water in"),
        Point("load_leaving_temperature", Q.TEMPERATURE, "load water out"),
        Point("load_flow", Q.VOLUME_FLOW, "load water flow"),
        Point("return_air_temperature", Q.TEMPERATURE, "return air"),
        Point("return_air_wet_bulb", Q.TEMPERATURE, "return air wet bulb"),
        Point("supply_air_temperature", Q.TEMPERATURE, "supply air"),
        Point("supply_air_wet_bulb", Q.TEMPERATURE, "supply air wet bulb"),
        Point("air_flow", Q.VOLUME_FLOW, "air flow"),
        Point("supply_voltage", Q.VOLTAGE, "supply voltage"),
        Point("transformer_primary_voltage", Q.VOLTAGE, "transformer primary"),
        Point("transformer_secondary_voltage", Q.VOLTAGE, "transformer secondary"),
        Point("control_voltage", Q.VOLTAGE, "control voltage R to C"),
        Point("contactor_coil_voltage", Q.VOLTAGE, "contactor coil"),
        Point("compressor_current", Q.CURRENT, "compressor current"),
        Point("compressor_power", Q.POWER, "compressor power"),
        Point("pump_voltage", Q.VOLTAGE, "pump voltage"),
        Point("pump_current", Q.CURRENT, "pump current"),
        Point("fan_current", Q.CURRENT, "fan current"),
        Point("barometric_pressure", Q.ABSOLUTE_PRESSURE, "barometric pressure"),
        Point("ambient_temperature", Q.TEMPERATURE, "ambient air"),
    )
}


def point(name: str) -> Point:
    """Find a measuring point.

    Raises
    ------
    UnknownPoint
        If there is none of this name.

    Examples
    --------
    >>> point("suction_presure")
    Traceback (most recent call last):
    analysis.points.UnknownPoint: 'suction_presure' is not a measuring point; near it: suction_pressure.
    """
    try:
        return POINTS[name]
    except KeyError:
        near = difflib.get_close_matches(name, POINTS, n=3, cutoff=0.5)
        hint = f"near it: {', '.join(near)}" if near else f"known are {', '.join(POINTS)}"
        raise UnknownPoint(f"'{name}' is not a measuring point; {hint}.") from None
