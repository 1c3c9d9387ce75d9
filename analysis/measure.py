"""The words of measurement: channel, reading, quality, and what an instrument's maker promises.

Terms follow the International Vocabulary of Metrology (VIM, JCGM 200) and the Guide to the Expression of
Uncertainty in Measurement (GUM, JCGM 100).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import IntFlag
from typing import Literal, NamedTuple

from analysis.units import Quantity, Unit, unit

Distribution = Literal["normal", "rectangular"]


class Quality(IntFlag):
    """What is known against a reading; no flag means nothing is."""

    OK = 0
    NOT_KNOWN = 1
    """The instrument itself said that it has no value (its sentinel)."""
    INVALID = 2
    """The value cannot be right, for example a power-on default."""
    OUT_OF_RANGE = 4
    """Outside the range that the profile states; the value is kept and not used."""
    MALFORMED = 8
    """The bytes could not be decoded; the value is not known."""
    DUPLICATE = 16
    """The same measurement heard again, for example a repeated broadcast."""
    ESTIMATED_TIME = 32
    """The moment of measurement is known to about a second only."""
    UNVERIFIED = 64
    """The line carried no checksum: a damaged digit cannot be told."""
    LATE = 128
    """Arrived after its second was closed; stored, and left out of every analysis."""
    FROZEN = 256
    """The indication has not changed for implausibly long."""

    @property
    def usable(self) -> bool:
        """Whether a value with these flags may enter a frame."""
        return not self & UNUSABLE

    def text(self) -> str:
        """Words for files: ``ok``, or the flags joined by a blank.

        Examples
        --------
        >>> Quality.OK.text(), (Quality.LATE | Quality.UNVERIFIED).text()
        ('ok', 'unverified late')
        """
        return " ".join(str(flag.name).lower() for flag in self) or "ok"

    @classmethod
    def parse(cls, text: str) -> Quality:
        """Read the words that :meth:`text` writes.

        Raises
        ------
        ValueError
            If a word is not known.
        """
        quality = cls.OK
        for word in text.split():
            if word != "ok":
                try:
                    quality |= cls[word.upper()]
                except KeyError:
                    raise ValueError(f"'{word}' is not a quality word") from None
        return quality


UNUSABLE = (
    Quality.NOT_KNOWN | Quality.INVALID | Quality.OUT_OF_RANGE
    | Quality.MALFORMED | Quality.DUPLICATE | Quality.LATE
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Specification:
    """What is promised about an instrument's indication, in the unit it indicates.

    The three parts are bounds of independent errors and combine as root sum of squares after division by
    ``k`` (normal) or by the square root of three (rectangular, GUM 4.3.7).
    """

    fixed: float = 0.0
    of_reading: float = 0.0
    """Fraction of the indicated value."""
    of_span: float = 0.0
    """Fraction of ``span``."""
    span: float = 0.0
    shared: float = 0.0
    """What instruments that were calibrated together have in common, for example the error of the reference
    or of the one cup in which they were matched; it cancels in a difference of two of them."""
    k: float = 2.0
    distribution: Distribution = "normal"

    def __post_init__(self) -> None:
        for name in ("fixed", "of_reading", "of_span", "span", "shared"):
            if not (math.isfinite(getattr(self, name)) and getattr(self, name) >= 0):
                raise ValueError(f"{name} must be zero or more")
        if not (math.isfinite(self.k) and self.k > 0):
            raise ValueError("k must be more than zero")
        if self.of_span and not self.span:
            raise ValueError("of_span needs the span")

    @property
    def divisor(self) -> float:
        """What turns the stated bound into a standard uncertainty."""
        return math.sqrt(3.0) if self.distribution == "rectangular" else self.k

    def standard(self, value: float) -> float:
        """Give the standard uncertainty (k = 1) of one indication, in its unit, shared part included.

        Examples
        --------
        >>> round(Specification(fixed=1.0).standard(13.0), 2)
        0.5
        """
        bounds = (self.fixed, self.of_reading * value, self.of_span * self.span, self.shared)
        return math.hypot(*bounds) / self.divisor


@dataclass(frozen=True, slots=True)
class Channel:
    """One stream of indications of one instrument."""

    id: str
    quantity: Quantity
    unit: str
    label: str = ""
    resolution: float = 0.0
    """Least step of the indication, in its unit; 0 where not known."""
    uncertainty: Specification | None = None
    """None where nothing is promised; a result that uses the channel then has no uncertainty."""
    expected_interval_s: float = 1.0
    hold_s: float = 0.0
    """How long an indication may stand for the present; 0 means three expected intervals."""
    source: str = ""
    """Where the uncertainty comes from: data sheet, calibration, common practice."""
    calibration: str = ""
    """Name of the calibration; channels of the same one share the ``shared`` part of their errors."""
    contact: float = 0.0
    """For a clamp on a pipe: the largest fraction of the difference between pipe and ambient by which it
    may read too near to ambient. One-sided; good contact and insulation keep it within 0.02 to 0.05
    (common practice, no source)."""

    def __post_init__(self) -> None:
        unit(self.unit, self.quantity)  # raises UnitError

    @property
    def si_unit(self) -> Unit:
        """The unit's conversion to SI."""
        return unit(self.unit, self.quantity)

    @property
    def hold(self) -> float:
        """Seconds for which a reading may be held; after three missed ones it may not."""
        return self.hold_s or max(3.0 * self.expected_interval_s, 2.0)

    def standard_uncertainty(self, value: float) -> float:
        """Give the standard uncertainty of an indication in its unit, resolution included.

        The resolution adds a rectangular term of half its step (GUM F.2.2.1).
        """
        if self.uncertainty is None:
            return math.nan
        return math.hypot(self.uncertainty.standard(value), self.resolution / math.sqrt(12.0))

    @property
    def uncertainty_parts(self) -> tuple[float, float]:
        """Give the constant part [its unit] and the share of the indication [1] of the standard uncertainty.

        Both without what is shared; the root of their sum of squares is the whole, and NaN says that nothing
        is promised.

        Examples
        --------
        >>> meter = Channel("m/q", Quantity.VOLUME_FLOW, "L/s", uncertainty=Specification(of_reading=0.02))
        >>> meter.uncertainty_parts
        (0.0, 0.01)
        """
        spec = self.uncertainty
        if spec is None:
            return math.nan, 0.0
        constant = math.hypot(spec.fixed, spec.of_span * spec.span) / spec.divisor
        return math.hypot(constant, self.resolution / math.sqrt(12.0)), spec.of_reading / spec.divisor

    @property
    def shared_uncertainty(self) -> float:
        """Standard uncertainty that the channel has in common with others of its calibration, in its unit."""
        spec = self.uncertainty
        return 0.0 if spec is None else spec.shared / spec.divisor


class Reading(NamedTuple):
    """One indication of one channel at one moment."""

    t_mono_ns: int
    channel: str
    value: float | None
    """As indicated, in the channel's unit; None where it is not known."""
    quality: Quality = Quality.OK
    epoch: int = 0
    """Which connection it came over; stamped by the supervisor."""
