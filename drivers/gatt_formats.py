"""Number formats of Bluetooth characteristics and broadcasts: bytes in, a number with its quality out.

Nothing here sees a link, a clock or a log, and nothing raises, whatever the bytes.
"""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass
from typing import Literal, NamedTuple, Protocol

from analysis.measure import Quality


class Decoded(NamedTuple):
    """What a payload says: a finite value, or None with the reason in ``quality``."""

    value: float | None
    quality: Quality = Quality.OK


MALFORMED = Decoded(None, Quality.MALFORMED)
NOT_KNOWN = Decoded(None, Quality.NOT_KNOWN)
INVALID = Decoded(None, Quality.INVALID)
BEYOND_RANGE = Decoded(None, Quality.OUT_OF_RANGE)
"""The instrument says "over range" or "under range" without a number."""


class ValueFormat(Protocol):
    """How the bytes of one kind of characteristic become a number."""

    @property
    def resolution(self) -> float:
        """Least step of the value in its unit; 0 where the format does not fix it."""
        ...

    def decode(self, payload: bytes) -> Decoded:
        """Read one payload; never raises."""
        ...


@dataclass(frozen=True, slots=True)
class IntegerFormat:
    """A little-endian integer: value = raw x multiplier x 10^decimal x 2^binary (GSS 2.3).

    Examples
    --------
    >>> IntegerFormat(2, signed=True, decimal=-2, not_known=-0x8000).decode(bytes.fromhex("6608"))
    Decoded(value=21.5, quality=<Quality.OK: 0>)
    """

    size: int
    """Bytes."""
    signed: bool = False
    multiplier: int = 1
    decimal: int = 0
    binary: int = 0
    not_known: int | None = None
    not_valid: int | None = None
    lowest: float = -math.inf
    highest: float = math.inf
    """The characteristic's stated range; beyond it the value is kept and flagged."""
    trailing: int = 0
    """Bytes of another field after the value, such as an averaging time."""

    @property
    def resolution(self) -> float:
        """One raw step."""
        return self.scale(1)

    def scale(self, raw: int) -> float:
        """Turn a raw integer into the value, rounded once."""
        top: int = raw * self.multiplier * 10 ** max(self.decimal, 0) * 2 ** max(self.binary, 0)
        bottom: int = 10 ** max(-self.decimal, 0) * 2 ** max(-self.binary, 0)
        return top / bottom

    def decode(self, payload: bytes) -> Decoded:
        """Read one payload; a length other than the format's is malformed."""
        if len(payload) != self.size + self.trailing:
            return MALFORMED
        raw = int.from_bytes(payload[: self.size], "little", signed=self.signed)
        if raw == self.not_known:
            return NOT_KNOWN
        if raw == self.not_valid:
            return INVALID
        value = self.scale(raw)
        inside = self.lowest <= value <= self.highest
        return Decoded(value, Quality.OK if inside else Quality.OUT_OF_RANGE)


FloatKind = Literal["float32", "float64", "medfloat16", "medfloat32"]
_FLOAT_SIZES: dict[FloatKind, int] = {"float32": 4, "float64": 8, "medfloat16": 2, "medfloat32": 4}


@dataclass(frozen=True, slots=True)
class FloatFormat:
    """An IEEE 754 or an IEEE 11073-20601 ("medical") floating-point number, little-endian.

    ``medfloat32`` is a signed 24-bit mantissa and a signed 8-bit power of ten; ``medfloat16`` has 12 and 4
    bits. Five mantissas near the largest are no numbers (IEEE 11073-20601, annex F.8).

    Examples
    --------
    >>> FloatFormat("medfloat32").decode(bytes.fromhex("6c0100ff")).value
    36.4
    """

    kind: FloatKind
    decimal: int = 0

    @property
    def resolution(self) -> float:
        """Not fixed by the format."""
        return 0.0

    def decode(self, payload: bytes) -> Decoded:
        """Read one payload; a length other than the format's is malformed."""
        if len(payload) != _FLOAT_SIZES[self.kind]:
            return MALFORMED
        if self.kind in ("float32", "float64"):
            value: float = struct.unpack("<f" if self.kind == "float32" else "<d", payload)[0]
            if math.isnan(value):
                return NOT_KNOWN
            value *= 10.0**self.decimal
            return Decoded(value) if math.isfinite(value) else BEYOND_RANGE
        bits = 24 if self.kind == "medfloat32" else 12
        return _medical(int.from_bytes(payload, "little"), bits, self.decimal)


def _medical(raw: int, mantissa_bits: int, decimal: int) -> Decoded:
    sign = 1 << (mantissa_bits - 1)
    mantissa = raw & (2 * sign - 1)
    if sign - 2 <= mantissa <= sign + 2:
        # +infinity, not a number, not at this resolution, reserved, -infinity
        return BEYOND_RANGE if mantissa in (sign - 2, sign + 2) else NOT_KNOWN
    mantissa -= 2 * sign if mantissa & sign else 0
    exponent_sign = 0x80 if mantissa_bits == 24 else 0x8
    exponent = raw >> mantissa_bits
    exponent -= 2 * exponent_sign if exponent & exponent_sign else 0
    power = exponent + decimal
    return Decoded(mantissa * 10**power * 1.0 if power >= 0 else mantissa / 10**-power)


@dataclass(frozen=True, slots=True)
class ThermometerFormat:
    """Temperature Measurement of the Health Thermometer service: flags, medfloat32, time stamp, type.

    Bit 0 of the flags says degC or degF and may change from one indication to the next; a channel has one
    unit, so a value in degF is given in degC. The device's own time stamp is not used: it orders nothing.
    """

    @property
    def resolution(self) -> float:
        """Not fixed by the format."""
        return 0.0

    def decode(self, payload: bytes) -> Decoded:
        """Read one payload; the flags must agree with its length."""
        flags = payload[0] if payload else 0
        if len(payload) != 5 + (7 if flags & 2 else 0) + (1 if flags & 4 else 0):
            return MALFORMED
        found = FloatFormat("medfloat32").decode(payload[1:5])
        if found.value is None or not flags & 1:
            return found
        return Decoded((found.value - 32.0) * 5.0 / 9.0)
