"""What a device says about its own characteristics: name, format, range, how often and when it sends.

Sources: the Bluetooth SIG's GATT Specification Supplement and Environmental Sensing Service (ESS); the
numbers of units and formats are from its Assigned Numbers.
"""

from __future__ import annotations

from dataclasses import dataclass

from analysis.units import Quantity
from drivers.gatt_formats import FloatFormat, FloatKind, IntegerFormat, ValueFormat
from drivers.gatt_values import Characteristic

USER_DESCRIPTION = 0x2901
PRESENTATION_FORMAT = 0x2904
VALID_RANGE = 0x2906
ES_MEASUREMENT = 0x290C
ES_TRIGGER = 0x290D

ON_CHANGE_INTERVAL_S = 60.0
"""Expected interval of a channel that sends on change only: silence means "as before" (common practice)."""

#: Presentation format number -> bytes, signed; and -> kind of floating-point number.
_INTEGERS: dict[int, tuple[int, bool]] = {
    0x04: (1, False), 0x06: (2, False), 0x07: (3, False), 0x08: (4, False),
    0x09: (6, False), 0x0A: (8, False),
    0x0C: (1, True), 0x0E: (2, True), 0x0F: (3, True), 0x10: (4, True), 0x11: (6, True), 0x12: (8, True),
}  # fmt: skip
_FLOATS: dict[int, FloatKind] = {0x14: "float32", 0x15: "float64", 0x16: "medfloat16", 0x17: "medfloat32"}

#: Unit number -> name, quantity, unit. A pressure whose reference is not stated is a difference until a
#: profile says gauge or absolute: it cannot be taken for a refrigerant pressure by accident.
_UNITS: dict[int, tuple[str, Quantity, str]] = {
    0x2700: ("value", Quantity.RATIO, "1"),
    0x2704: ("current", Quantity.CURRENT, "A"),
    0x2705: ("temperature", Quantity.TEMPERATURE, "K"),
    0x2722: ("frequency", Quantity.FREQUENCY, "Hz"),
    0x2724: ("pressure", Quantity.PRESSURE_DIFFERENCE, "Pa"),
    0x2726: ("power", Quantity.POWER, "W"),
    0x2728: ("voltage", Quantity.VOLTAGE, "V"),
    0x272F: ("temperature", Quantity.TEMPERATURE, "degC"),
    0x2780: ("pressure", Quantity.PRESSURE_DIFFERENCE, "bar"),
    0x27A5: ("pressure", Quantity.PRESSURE_DIFFERENCE, "psi"),
    0x27AB: ("energy", Quantity.ENERGY, "kWh"),
    0x27AC: ("temperature", Quantity.TEMPERATURE, "degF"),
    0x27AD: ("share", Quantity.RATIO, "%"),
    0x27C1: ("mass_flow", Quantity.MASS_FLOW, "g/s"),
    0x27C2: ("volume_flow", Quantity.VOLUME_FLOW, "L/s"),
}


def presentation_format(payload: bytes) -> Characteristic | None:
    """Read a Presentation Format (2904): enough to offer an unknown characteristic with no profile.

    Format u8, exponent s8, unit u16, namespace u8, description u16; value = raw x 10^exponent.

    Returns
    -------
    Characteristic or None
        None if the length, the format or the unit is none that a channel can have.

    Examples
    --------
    >>> found = presentation_format(bytes.fromhex("0efe2f27010000"))
    >>> found.unit, found.format.decode(bytes.fromhex("6608")).value
    ('degC', 21.5)
    """
    if len(payload) != 7:
        return None
    number, exponent = payload[0], int.from_bytes(payload[1:2], signed=True)
    unit = _UNITS.get(int.from_bytes(payload[2:4], "little"))
    if unit is None:
        return None
    form: ValueFormat
    if number in _INTEGERS:
        size, signed = _INTEGERS[number]
        form = IntegerFormat(size, signed=signed, decimal=exponent)
    elif number in _FLOATS:
        form = FloatFormat(_FLOATS[number], exponent)
    else:
        return None
    return Characteristic(*unit, form)


def valid_range(payload: bytes, form: ValueFormat) -> tuple[float, float] | None:
    """Read a Valid Range (2906): lower and upper bound, each in the characteristic's own format.

    Examples
    --------
    >>> valid_range(bytes.fromhex("60f08813"), IntegerFormat(2, signed=True, decimal=-2))
    (-40.0, 50.0)
    """
    half = len(payload) // 2
    if not half or len(payload) % 2:
        return None
    low, high = form.decode(payload[:half]).value, form.decode(payload[half:]).value
    if low is None or high is None or low > high:
        return None
    return low, high


@dataclass(frozen=True, slots=True)
class EsMeasurement:
    """How an environmental sensor measures (ES Measurement, 290C)."""

    sampling: int
    period_s: int
    """Over which time one value is formed; 0 where it is not stated."""
    update_interval_s: int
    """How often a new value comes; 0 where it is not stated."""
    uncertainty: float | None
    """Stated uncertainty as a fraction of what the sensor's maker means; not used for results, as the
    descriptor does not say of what (reading or span) nor with which coverage factor."""


def es_measurement(payload: bytes) -> EsMeasurement | None:
    """Read an ES Measurement descriptor of 11 bytes.

    Flags u16, sampling function u8, measurement period u24, update interval u24, application u8, uncertainty
    u8 in 0.5 % (FFh not stated).

    Examples
    --------
    >>> es_measurement(bytes.fromhex("0000000000000a00001c04")).update_interval_s
    10
    """
    if len(payload) != 11:
        return None
    return EsMeasurement(
        sampling=payload[2],
        period_s=int.from_bytes(payload[3:6], "little"),
        update_interval_s=int.from_bytes(payload[6:9], "little"),
        uncertainty=None if payload[10] == 0xFF else payload[10] * 0.005,
    )


def trigger_interval(payload: bytes) -> float | None:
    """Give the longest normal silence [s] that an ES Trigger Setting (290D) allows; None where it sets none.

    Conditions 01h and 02h state a time in seconds (u24); 03h sends on change, 04h to 09h on a comparison.

    Examples
    --------
    >>> trigger_interval(bytes.fromhex("021e0000")), trigger_interval(bytes((3,))), trigger_interval(bytes(1))
    (30.0, 60.0, None)
    """
    if not payload or payload[0] == 0 or payload[0] > 9:
        return None
    if payload[0] <= 2:
        return float(int.from_bytes(payload[1:4], "little")) or None if len(payload) == 4 else None
    return ON_CHANGE_INTERVAL_S


def expected_interval(measurement: bytes, triggers: tuple[bytes, ...] = ()) -> float | None:
    """Say how often a characteristic will be heard [s], from its own descriptors; None where they are silent.

    Several triggers may be set; the longest silence that one of them allows is normal.

    Examples
    --------
    >>> expected_interval(bytes.fromhex("0000000000000a00001c04"), (bytes((3,)),))
    60.0
    """
    stated = es_measurement(measurement)
    update = float(stated.update_interval_s) if stated is not None else 0.0
    silences = [silence for trigger in triggers if (silence := trigger_interval(trigger)) is not None]
    return max([update, *silences]) or None
