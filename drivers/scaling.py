"""From what an instrument sends to what it indicates: linear scale, tables, thermistors, live-zero signals.

These are part of the instrument (its profile), not the person's later correction: offsets found against a
reference are time-stamped events of the session and never change a stored reading.
"""

from __future__ import annotations

import bisect
import itertools
import math
from collections.abc import Callable
from typing import Annotated

import msgspec

from analysis.measure import Quality
from analysis.units import Quantity, from_si

_Positive = Annotated[float, msgspec.Meta(gt=0)]
Converted = tuple[float | None, Quality]
"""A value in the channel's unit, or None, with what is known against it."""


class Piecewise(msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="kind", tag="piecewise"):
    """A table of points with straight lines between them; outside the table nothing is known."""

    points: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        xs = [x for x, _ in self.points]
        if len(xs) < 2 or any(b <= a for a, b in itertools.pairwise(xs)):
            raise ValueError("points need at least two pairs [sent, value] with the first number rising")
        if not all(math.isfinite(x) and math.isfinite(y) for x, y in self.points):
            raise ValueError("points must be finite numbers")


class Beta(msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="kind", tag="beta"):
    """A thermistor by its two-parameter equation; what is sent is its resistance [ohm].

    1/T = 1/T0 + ln(R/R0)/B, with T in kelvin.
    """

    beta: _Positive
    """B [K]."""
    r0: _Positive
    """Resistance at ``t0`` [ohm]."""
    t0: _Positive = 298.15
    """[K]"""
    divider: Divider | None = None


class SteinhartHart(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="kind", tag="steinhart_hart"
):
    """A thermistor by its three-parameter equation; what is sent is its resistance [ohm].

    1/T = a + b ln R + c (ln R)^3, with T in kelvin.
    """

    a: float
    b: float
    c: float
    divider: Divider | None = None


class Divider(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A voltage divider read as a share of its own supply (ratiometric), so that the supply cancels out."""

    series: _Positive
    """The fixed resistor [ohm]."""
    full_scale: _Positive = 1.0
    """What is sent when the input equals the supply, for example 1023 for ten bits."""
    sensor_to_ground: bool = True
    """Whether the thermistor is the lower leg."""

    def resistance(self, sent: float) -> float:
        """Give the sensor's resistance [ohm]; NaN at or beyond either end (open or shorted).

        Examples
        --------
        >>> Divider(series=10000.0, full_scale=1023.0).resistance(511.5)
        10000.0
        """
        share = sent / self.full_scale
        if not 0.0 < share < 1.0:
            return math.nan
        ratio = share / (1.0 - share)
        return self.series * (ratio if self.sensor_to_ground else 1.0 / ratio)


class LiveZero(msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag_field="kind", tag="live_zero"):
    """A signal whose lowest value is above zero, so that a broken wire shows: 4 to 20 mA, or 0.5 to 4.5 V.

    The default fault limits, 3.6 and 21 mA, are those of NAMUR recommendation NE 43 (from memory); for
    another signal they are the same shares of its span.
    """

    low: float
    """Value indicated at the signal's lower end."""
    high: float
    signal: tuple[float, float] = (4.0, 20.0)
    fault_below: float | None = None
    fault_above: float | None = None

    def __post_init__(self) -> None:
        if not self.signal[1] > self.signal[0]:
            raise ValueError("signal needs its lower end first")

    def limits(self) -> tuple[float, float]:
        """Give the signals below and above which the wire or the transmitter is at fault.

        Examples
        --------
        >>> LiveZero(low=0.0, high=35.0).limits()
        (3.6, 21.0)
        """
        span = self.signal[1] - self.signal[0]
        below = self.signal[0] - 0.025 * span if self.fault_below is None else self.fault_below
        above = self.signal[1] + 0.0625 * span if self.fault_above is None else self.fault_above
        return below, above


Curve = Piecewise | Beta | SteinhartHart | LiveZero


class Conversion:
    """Turns what is sent into an indication with its quality.

    In this order: sentinels (on what was sent), scale and offset, curve, valid range. A value outside the
    valid range is kept and marked; a value that a curve cannot give is None.

    Examples
    --------
    >>> convert = Conversion(Quantity.TEMPERATURE, "degC", scale=0.01, sentinels=(-32768.0,))
    >>> convert(2150.0), convert(-32768.0)
    ((21.5, <Quality.OK: 0>), (None, <Quality.NOT_KNOWN: 1>))
    """

    __slots__ = ("_curve", "_high", "_low", "_offset", "_scale", "_sentinels", "_words")

    def __init__(
        self,
        quantity: Quantity,
        unit: str,
        *,
        scale: float = 1.0,
        offset: float = 0.0,
        curve: Curve | None = None,
        sentinels: tuple[float | str, ...] = (),
        valid: tuple[float, float] | None = None,
    ) -> None:
        self._scale, self._offset = scale, offset
        self._sentinels = frozenset(float(s) for s in sentinels if not isinstance(s, str))
        self._words = frozenset(s.strip().upper() for s in sentinels if isinstance(s, str))
        self._low, self._high = valid or (-math.inf, math.inf)
        self._curve = _curve_function(curve, quantity, unit) if curve is not None else None

    def is_sentinel(self, text: str) -> bool:
        """Whether a field that is not a number is one of the words for "no value"."""
        return text.strip().upper() in self._words

    def __call__(self, sent: float) -> Converted:
        """Convert one number as sent."""
        if sent in self._sentinels or sent != sent:  # NaN: the instrument itself has none
            return None, Quality.NOT_KNOWN
        value = sent * self._scale + self._offset
        if self._curve is not None:
            value = self._curve(value)
        if not math.isfinite(value):
            return None, Quality.INVALID
        if not self._low <= value <= self._high:
            return value, Quality.OUT_OF_RANGE
        return value, Quality.OK


def _curve_function(curve: Curve, quantity: Quantity, unit: str) -> Callable[[float], float]:
    if isinstance(curve, Piecewise):
        return _piecewise(curve)
    if isinstance(curve, LiveZero):
        return _live_zero(curve)
    thermistor = curve

    def temperature(sent: float) -> float:
        resistance = sent if thermistor.divider is None else thermistor.divider.resistance(sent)
        if not resistance > 0.0:
            return math.nan
        kelvin = _thermistor_kelvin(thermistor, resistance)
        return from_si(quantity, unit, kelvin) if 0.0 < kelvin < 1000.0 else math.nan

    return temperature


def _thermistor_kelvin(curve: Beta | SteinhartHart, resistance: float) -> float:
    """Give a thermistor's temperature [K].

    Examples
    --------
    >>> round(_thermistor_kelvin(Beta(beta=3950.0, r0=10000.0), 10000.0), 2)
    298.15
    """
    log_r = math.log(resistance)
    if isinstance(curve, Beta):
        inverse = 1.0 / curve.t0 + (log_r - math.log(curve.r0)) / curve.beta
    else:
        inverse = curve.a + curve.b * log_r + curve.c * log_r**3
    return 1.0 / inverse if inverse > 0.0 else math.nan


def _piecewise(curve: Piecewise) -> Callable[[float], float]:
    xs = [x for x, _ in curve.points]
    ys = [y for _, y in curve.points]

    def interpolate(sent: float) -> float:
        if not xs[0] <= sent <= xs[-1]:
            return math.nan
        right = min(bisect.bisect_right(xs, sent), len(xs) - 1)
        x0, x1, y0, y1 = xs[right - 1], xs[right], ys[right - 1], ys[right]
        return y0 + (y1 - y0) * (sent - x0) / (x1 - x0)

    return interpolate


def _live_zero(curve: LiveZero) -> Callable[[float], float]:
    below, above = curve.limits()
    low, high = curve.signal
    slope = (curve.high - curve.low) / (high - low)

    def scaled(sent: float) -> float:
        return curve.low + slope * (sent - low) if below <= sent <= above else math.nan

    return scaled
