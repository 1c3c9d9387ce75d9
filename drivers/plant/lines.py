"""The checksummed text line of the simulated plant and of probes people build themselves.

A line is `name=value` fields separated by `;`, first `t=` seconds with three decimals, then `*`, four
upper-case hexadecimal digits, CR LF. The digits are the CRC-16 with polynomial 0x1021, start 0xFFFF,
not reflected, no final inversion, over the ASCII bytes before `*`. A missing reading is left out.
"""

from __future__ import annotations

import binascii
import math
import re
from collections.abc import Mapping
from typing import Final, NamedTuple


class LineChannel(NamedTuple):
    """What a short name on the line stands for."""

    point: str
    quantity: str
    unit: str
    resolution: float
    uncertainty: float
    interval: float


CHANNELS: Final[dict[str, LineChannel]] = {
    "ps": LineChannel("suction_pressure", "gauge_pressure", "bar(g)", 0.001, 0.015, 1.0),
    "pd": LineChannel("discharge_pressure", "gauge_pressure", "bar(g)", 0.01, 0.06, 1.0),
    "pl": LineChannel("liquid_pressure", "gauge_pressure", "bar(g)", 0.01, 0.06, 1.0),
    "ts": LineChannel("suction_temperature", "temperature", "degC", 0.01, 0.25, 1.0),
    "td": LineChannel("discharge_temperature", "temperature", "degC", 0.1, 0.5, 1.0),
    "tl": LineChannel("liquid_temperature", "temperature", "degC", 0.01, 0.25, 1.0),
    "si": LineChannel("source_entering_temperature", "temperature", "degC", 0.01, 0.10, 1.0),
    "so": LineChannel("source_leaving_temperature", "temperature", "degC", 0.01, 0.10, 1.0),
    "li": LineChannel("load_entering_temperature", "temperature", "degC", 0.01, 0.10, 1.0),
    "lo": LineChannel("load_leaving_temperature", "temperature", "degC", 0.01, 0.10, 1.0),
    "dp": LineChannel("source_pressure_drop", "pressure_difference", "kPa", 0.01, 0.15, 1.0),
    "lf": LineChannel("load_flow", "volume_flow", "L/s", 0.001, 0.008, 1.0),
    "ra": LineChannel("return_air_temperature", "temperature", "degC", 0.01, 0.20, 1.0),
    "rw": LineChannel("return_air_wet_bulb", "temperature", "degC", 0.01, 0.30, 1.0),
    "sa": LineChannel("supply_air_temperature", "temperature", "degC", 0.01, 0.20, 1.0),
    "sw": LineChannel("supply_air_wet_bulb", "temperature", "degC", 0.01, 0.30, 1.0),
    "pw": LineChannel("compressor_power", "power", "W", 1.0, 15.0, 1.0),
    "ca": LineChannel("compressor_current", "current", "A", 0.01, 0.10, 1.0),
    "pa": LineChannel("pump_current", "current", "A", 0.01, 0.015, 1.0),
    "fa": LineChannel("fan_current", "current", "A", 0.01, 0.02, 1.0),
    "vs": LineChannel("supply_voltage", "voltage", "V", 0.1, 0.5, 1.0),
    "vc": LineChannel("control_voltage", "voltage", "V", 0.1, 0.1, 1.0),
    "ta": LineChannel("ambient_temperature", "temperature", "degC", 0.1, 0.25, 1.0),
}
"""Short name -> point, quantity, unit, resolution, standard uncertainty (k = 1), expected interval [s]."""

_FIELD: Final = re.compile(r"[a-z][a-z0-9]*=-?[0-9]+(\.[0-9]+)?")


def decimals(resolution: float) -> int:
    """Count the decimals that show a resolution."""
    return max(0, round(-math.log10(resolution)))


def format_line(t: float, readings: Mapping[str, float]) -> bytes:
    r"""Write one line.

    Parameters
    ----------
    t : float [s]
    readings : mapping
        Short name -> value in the channel's unit; NaN is left out.

    Returns
    -------
    bytes

    Examples
    --------
    >>> format_line(12.0, {"ps": 5.153, "ts": -2.41, "pd": 24.59})
    b't=12.000;ps=5.153;ts=-2.41;pd=24.59*787B\r\n'
    """
    fields = [f"t={t:.3f}"]
    for name, value in readings.items():
        if math.isfinite(value):
            fields.append(f"{name}={value:.{decimals(CHANNELS[name].resolution)}f}")
    payload = ";".join(fields).encode("ascii")
    return payload + b"*%04X\r\n" % binascii.crc_hqx(payload, 0xFFFF)


def parse_line(line: bytes) -> dict[str, float]:
    """Read one line back, `t` among the fields.

    Raises
    ------
    ValueError
        If the line is not complete, its checksum differs, or a field is not `name=number`.

    Examples
    --------
    >>> parse_line(format_line(1.0, {"ps": 5.0}))
    {'t': 1.0, 'ps': 5.0}
    """
    payload, star, check = line.rstrip(b"\r\n").rpartition(b"*")
    if not star or check != b"%04X" % binascii.crc_hqx(payload, 0xFFFF):
        raise ValueError("The line's checksum does not match its text; the line was damaged on its way.")
    values: dict[str, float] = {}
    for text in payload.decode("ascii").split(";"):
        if not _FIELD.fullmatch(text):
            raise ValueError(f"The field {text!r} is not name=number.")
        name, _, number = text.partition("=")
        values[name] = float(number)
    return values
