"""The objects of a BTHome v2 broadcast: one row of a table each, with length, factor, quantity and unit.

Source: the published format page of BTHome v2 (bthome.io, format, 2026-04-30). The length of every object is
needed, also of those that evenrun does not use: an object of unknown length ends the reading of a frame.
"""

from __future__ import annotations

from typing import NamedTuple

from analysis.units import Quantity
from drivers.gatt_formats import IntegerFormat


class ObjectKind(NamedTuple):
    """What one object number means."""

    name: str
    quantity: Quantity | None
    """None for an object that is no channel: an event, a counter, a state, a device's own clock."""
    unit: str
    format: IntegerFormat


PACKET_ID = 0x00
TEXT, RAW, COMMAND = 0x53, 0x54, 0x3B
"""Objects that state their own length."""


def _number(
    name: str, quantity: Quantity | None, unit: str, size: int, decimal: int = 0, *,
    signed: bool = False, multiplier: int = 1,
) -> ObjectKind:  # fmt: skip
    return ObjectKind(name, quantity, unit, IntegerFormat(size, signed, multiplier, decimal))


def _unused(name: str, size: int) -> ObjectKind:
    return ObjectKind(name, None, "", IntegerFormat(size))


#: Pressure is that of the air, in hPa: absolute.
OBJECTS: dict[int, ObjectKind] = {
    PACKET_ID: _unused("packet_id", 1),
    0x01: _number("battery", Quantity.RATIO, "%", 1),
    0x02: _number("temperature", Quantity.TEMPERATURE, "degC", 2, -2, signed=True),
    0x03: _number("humidity", Quantity.RELATIVE_HUMIDITY, "%", 2, -2),
    0x04: _number("pressure", Quantity.ABSOLUTE_PRESSURE, "hPa(a)", 3, -2),
    0x05: _unused("illuminance", 3),
    0x06: _number("mass", Quantity.MASS, "kg", 2, -2),
    0x07: _number("mass_lb", Quantity.MASS, "lb", 2, -2),
    0x08: _number("dew_point", Quantity.TEMPERATURE, "degC", 2, -2, signed=True),
    0x09: _unused("count", 1),
    0x0A: _number("energy", Quantity.ENERGY, "kWh", 3, -3),
    0x0B: _number("power", Quantity.POWER, "W", 3, -2),
    0x0C: _number("voltage", Quantity.VOLTAGE, "V", 2, -3),
    0x0D: _unused("particles_2_5", 2),
    0x0E: _unused("particles_10", 2),
    **{number: _unused(f"state_{number:02x}", 1) for number in (0x0F, 0x10, 0x11, *range(0x15, 0x2E))},
    0x12: _unused("carbon_dioxide", 2),
    0x13: _unused("volatile_compounds", 2),
    0x14: _number("moisture", Quantity.RATIO, "%", 2, -2),
    0x2E: _number("humidity", Quantity.RELATIVE_HUMIDITY, "%", 1),
    0x2F: _number("moisture", Quantity.RATIO, "%", 1),
    0x3A: _unused("button", 1),
    0x3C: _unused("dimmer", 2),
    0x3D: _unused("count", 2),
    0x3E: _unused("count", 4),
    0x3F: _unused("rotation_angle", 2),
    0x40: _number("distance_mm", Quantity.LENGTH, "mm", 2),
    0x41: _number("distance", Quantity.LENGTH, "m", 2, -1),
    0x42: _number("duration", Quantity.TIME, "s", 3, -3),
    0x43: _number("current", Quantity.CURRENT, "A", 2, -3),
    0x44: _number("speed", Quantity.SPEED, "m/s", 2, -2),
    0x45: _number("temperature", Quantity.TEMPERATURE, "degC", 2, -1, signed=True),
    0x46: _unused("ultraviolet", 1),
    0x47: _number("volume", Quantity.VOLUME, "L", 2, -1),
    0x48: _number("volume", Quantity.VOLUME, "L", 2, -3),  # stated in mL
    0x49: _number("volume_flow", Quantity.VOLUME_FLOW, "m3/h", 2, -3),
    0x4A: _number("voltage", Quantity.VOLTAGE, "V", 2, -1),
    0x4B: _number("gas_volume", Quantity.VOLUME, "m3", 3, -3),
    0x4C: _number("gas_volume", Quantity.VOLUME, "m3", 4, -3),
    0x4D: _number("energy", Quantity.ENERGY, "kWh", 4, -3),
    0x4E: _number("volume", Quantity.VOLUME, "L", 4, -3),
    0x4F: _number("water_volume", Quantity.VOLUME, "L", 4, -3),
    0x50: _unused("device_time", 4),
    0x51: _unused("acceleration", 2),
    0x52: _unused("turn_rate", 2),
    0x55: _number("stored_volume", Quantity.VOLUME, "L", 4, -3),
    0x56: _unused("conductivity", 2),
    0x57: _number("temperature", Quantity.TEMPERATURE, "degC", 1, signed=True),
    0x58: _number("temperature", Quantity.TEMPERATURE, "degC", 1, -2, signed=True, multiplier=35),
    0x59: _unused("count", 1),
    0x5A: _unused("count", 2),
    0x5B: _unused("count", 4),
    0x5C: _number("power", Quantity.POWER, "W", 4, -2, signed=True),
    0x5D: _number("current", Quantity.CURRENT, "A", 2, -3, signed=True),
    0x5E: _unused("direction", 2),
    0x5F: _unused("precipitation", 2),
    0x60: _unused("channel", 1),
    0x61: _number("rotation", Quantity.ROTATION, "rpm", 2),
    0x62: _number("speed", Quantity.SPEED, "m/s", 4, -6, signed=True),
    0x63: _unused("acceleration", 4),
    0x64: _unused("light_level", 1),
    0x65: _unused("settings_revision", 1),
    0xF0: _unused("device_type", 2),
    0xF1: _unused("firmware", 4),
    0xF2: _unused("firmware", 3),
}
