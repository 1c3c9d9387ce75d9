"""The standard Bluetooth characteristics that evenrun reads: one row of a table each.

In the terms of their source, the Bluetooth SIG's GATT Specification Supplement (GSS) and Assigned Numbers: a
value is ``raw x M x 10^d x 2^b``, and the raw numbers that mean "not known" and "not valid" are theirs too.
"""

from __future__ import annotations

from dataclasses import dataclass

from analysis.units import Quantity
from drivers.gatt_formats import IntegerFormat, ThermometerFormat, ValueFormat

_BASE = "-0000-1000-8000-00805f9b34fb"
"""Tail of the Bluetooth base UUID, from which 16-bit numbers are made (Core Specification, Vol 3 B 2.5.1)."""


@dataclass(frozen=True, slots=True)
class Characteristic:
    """What one characteristic measures and how its bytes are read."""

    name: str
    quantity: Quantity | None
    """None for a quantity that evenrun does not use: decoded, not offered as a channel."""
    unit: str
    format: ValueFormat


_U24_KNOWN, _U24_VALID = 0xFFFFFF, 0xFFFFFE
_VOLTAGE = IntegerFormat(2, binary=-6, not_known=0xFFFF, highest=1022)
_CURRENT = IntegerFormat(2, decimal=-2, not_known=0xFFFF)
_POWER = IntegerFormat(3, decimal=-1, not_known=_U24_KNOWN, not_valid=_U24_VALID)

#: 16-bit number of the characteristic -> what it says. Pressure is unsigned and its reference is not stated;
#: it is absolute by convention (no gauge below the atmosphere could be told), and a profile may say gauge.
#: The power-law time constant after an average (2AE0, 2AE1) is read by :func:`averaging_time`.
CHARACTERISTICS: dict[int, Characteristic] = {
    0x2A19: Characteristic("battery", Quantity.RATIO, "%", IntegerFormat(1, highest=100)),
    0x2A1C: Characteristic("temperature", Quantity.TEMPERATURE, "degC", ThermometerFormat()),
    0x2A1E: Characteristic("intermediate_temperature", Quantity.TEMPERATURE, "degC", ThermometerFormat()),
    0x2A6D: Characteristic("pressure", Quantity.ABSOLUTE_PRESSURE, "Pa(a)", IntegerFormat(4, decimal=-1)),
    0x2A6E: Characteristic(
        "temperature", Quantity.TEMPERATURE, "degC",
        IntegerFormat(2, signed=True, decimal=-2, not_known=-0x8000, lowest=-273.15),
    ),
    0x2A6F: Characteristic(
        "humidity", Quantity.RELATIVE_HUMIDITY, "%",
        IntegerFormat(2, decimal=-2, not_known=0xFFFF, highest=100),
    ),
    0x2A7B: Characteristic("dew_point", Quantity.TEMPERATURE, "degC", IntegerFormat(1, signed=True)),
    0x2AE0: Characteristic(
        "average_current", Quantity.CURRENT, "A",
        IntegerFormat(2, decimal=-2, not_known=0xFFFF, trailing=1),
    ),
    0x2AE1: Characteristic(
        "average_voltage", Quantity.VOLTAGE, "V",
        IntegerFormat(2, binary=-6, not_known=0xFFFF, highest=1022, trailing=1),
    ),
    0x2AEE: Characteristic("current", Quantity.CURRENT, "A", _CURRENT),
    0x2AF2: Characteristic("energy", Quantity.ENERGY, "kWh", IntegerFormat(3, not_known=_U24_KNOWN)),
    0x2B02: Characteristic("mass_flow", Quantity.MASS_FLOW, "g/s", IntegerFormat(2, not_known=0xFFFF)),
    0x2B05: Characteristic("power", Quantity.POWER, "W", _POWER),
    0x2B0D: Characteristic(
        "temperature", Quantity.TEMPERATURE, "degC",
        IntegerFormat(1, signed=True, binary=-1, not_known=0x7F),
    ),
    0x2B18: Characteristic("voltage", Quantity.VOLTAGE, "V", _VOLTAGE),
    0x2B1B: Characteristic(
        "volume_flow", Quantity.VOLUME_FLOW, "L/s", IntegerFormat(2, decimal=-3, not_known=0xFFFF)
    ),
    0x2B8A: Characteristic("apparent_power", None, "VA", _POWER),
    0x2BA8: Characteristic(
        "energy", Quantity.ENERGY, "kWh",
        IntegerFormat(4, decimal=-3, not_known=0xFFFFFFFF, not_valid=0xFFFFFFFE),
    ),
    0x2BDF: Characteristic(
        "temperature", Quantity.TEMPERATURE, "degC",
        IntegerFormat(2, signed=True, binary=-1, not_known=-0x8000, not_valid=-0x7FFF, lowest=-273.15),
    ),
    0x2BE0: Characteristic(
        "voltage", Quantity.VOLTAGE, "V", IntegerFormat(3, binary=-6, not_known=_U24_KNOWN)
    ),
    0x2BE8: Characteristic(
        "frequency", Quantity.FREQUENCY, "Hz", IntegerFormat(2, not_known=0xFFFF, not_valid=0xFFFE)
    ),
    0x2C09: Characteristic(
        "speed", Quantity.ROTATION, "rpm", IntegerFormat(4, signed=True, not_known=0x7FFFFFFF)
    ),
    0x2C1B: Characteristic(
        "humidity", Quantity.RELATIVE_HUMIDITY, "%",
        IntegerFormat(1, binary=-1, not_known=0xFF, highest=100),
    ),
}  # fmt: skip

#: Device Information (180A): text that identifies the instrument.
DEVICE_INFORMATION: dict[int, str] = {
    0x2A29: "maker", 0x2A24: "model", 0x2A25: "serial", 0x2A26: "firmware", 0x2A27: "hardware",
}  # fmt: skip


def short_uuid(uuid: str) -> int | None:
    """Give the 16-bit number of a standard UUID, or None for a maker's own.

    Examples
    --------
    >>> hex(short_uuid("00002A6E-0000-1000-8000-00805f9b34fb") or 0), short_uuid("6e400001-b5a3-f393")
    ('0x2a6e', None)
    """
    text = uuid.lower()
    if len(text) != 36 or not text.startswith("0000") or not text.endswith(_BASE):
        return None
    try:
        return int(text[4:8], 16)
    except ValueError:
        return None


def long_uuid(number: int) -> str:
    """Give the full UUID of a 16-bit number.

    Examples
    --------
    >>> long_uuid(0x2A6E)
    '00002a6e-0000-1000-8000-00805f9b34fb'
    """
    return f"0000{number:04x}{_BASE}"


def averaging_time(payload: bytes) -> float | None:
    """Give the averaging time at the end of an Average Voltage or Current [s]; None where it is not stated.

    Time Exponential 8 (GSS): 1.1^(N - 64) s; 0 is 0 s, FFh not known, FEh the life of the device.

    Examples
    --------
    >>> averaging_time(bytes((0xA0, 0x39, 64)))
    1.0
    """
    if len(payload) != 3 or payload[2] >= 0xFE:
        return None
    return 1.1 ** (payload[2] - 64) if payload[2] else 0.0


def text_value(payload: bytes) -> str:
    """Read a text characteristic or description: UTF-8, without control characters, at most 64 signs.

    Examples
    --------
    >>> text_value(bytes((0x6C, 0x69, 0x6E, 0x65, 0, 10)))
    'line'
    """
    text = payload.decode("utf-8", "replace").split("\0")[0]
    return "".join(sign for sign in text if sign.isprintable()).strip()[:64]
