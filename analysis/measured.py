"""From channels' indications to measuring points: scaled, offset, SI, absolute, not too old, with u.

All points are worked on in one go; what does not change from row to row is kept in a :class:`Fitting`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.elementwise import FloatArray
from analysis.frame import LONG_AGO_US, Cells, Ints
from analysis.measure import Channel
from analysis.points import point
from analysis.settings import Settings
from analysis.units import Quantity

AMBIENT = "ambient_temperature"
ASSUMED_AMBIENT_K = 293.15
"""Where ambient air is not measured, for the contact of clamps only (common practice, no source)."""
Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Column:
    """One quantity over the rows of a result: SI value and standard uncertainty (k = 1)."""

    value: FloatArray
    u: FloatArray
    age_s: FloatArray
    """Age of the oldest reading in it [s]."""


@dataclass(frozen=True, slots=True)
class Measured:
    """Measuring points over a span, each array (points, rows) in SI, the uncertainty in its two parts."""

    value: FloatArray
    u: FloatArray
    own: FloatArray
    """Standard uncertainty that no other point shares."""
    common: FloatArray
    """Standard uncertainty shared with the points of the same calibration."""
    age_s: FloatArray
    fresh: Bools

    def column(self, index: int) -> Column:
        """Give one point."""
        return Column(self.value[index], self.u[index], self.age_s[index])


@dataclass(frozen=True, slots=True)
class Fitting:
    """The channels that feed measuring points under some settings, in columns (points, 1)."""

    names: tuple[str, ...]
    channels: tuple[Channel, ...]
    since_us: Ints
    """Moment from which the channel feeds the point; what came before does not count."""
    hold_s: FloatArray
    scale: FloatArray
    factor: FloatArray
    """Unit to SI."""
    zero: FloatArray
    """Zero of the unit [SI]."""
    correction: FloatArray
    """Offset that a person has declared [SI]."""
    atmosphere: FloatArray
    """Added to gauge pressures that feed a point of absolute pressure [Pa]."""
    u_constant: FloatArray
    """Standard uncertainty that does not depend on the indication [unit of the channel]."""
    u_share: FloatArray
    """Standard uncertainty as a share of the indication's distance from ``about`` [1]."""
    about: FloatArray
    """Zero; for a probe that was matched in one cup its indication there [unit of the channel]."""
    u_common: FloatArray
    """Standard uncertainty shared by one calibration or one cup [unit of the channel]."""
    calibrations: tuple[str, ...]
    """Calibration or cup of each channel; empty for none."""
    clamps: tuple[int, ...]
    """Points whose probe is a clamp with imperfect contact."""

    @classmethod
    def of(cls, held: Settings, channels: Mapping[str, Channel]) -> Fitting:
        """Fit channels, each given by the measuring point that it feeds."""
        fed = list(channels.items())

        def column(numbers: Iterable[float]) -> FloatArray:
            return np.array([*numbers], np.float64).reshape(-1, 1)

        promised = [_promised(held, channel) for _, channel in fed]
        return cls(
            tuple(name for name, _ in fed),
            tuple(channel for _, channel in fed),
            np.array([_since(held, name) for name, _ in fed], np.int64).reshape(-1, 1),
            column(channel.hold for _, channel in fed),
            column(held.scale.get(channel.id, 1.0) for _, channel in fed),
            column(channel.si_unit.factor for _, channel in fed),
            column(channel.si_unit.offset for _, channel in fed),
            column(held.offset.get(channel.id, 0.0) for _, channel in fed),
            column(held.barometer_pa if _is_gauge(name, channel) else 0.0 for name, channel in fed),
            column(one.constant for one in promised),
            column(one.share for one in promised),
            column(one.about for one in promised),
            column(one.common for one in promised),
            tuple(one.calibration for one in promised),
            tuple(index for index, (_, channel) in enumerate(fed) if channel.contact),
        )

    def measured(self, cells: Cells, t_us: Ints) -> Measured:
        """Bring the channels' indications to their points: scaled, offset, SI, absolute, not too old.

        Parameters
        ----------
        cells
            The channels' cells, in the order of ``channels``.
        t_us : (n,)
            Moments of the rows.
        """
        age_s = (t_us - cells.taken_us) / 1e6
        valid = np.isfinite(cells.value) & (age_s <= self.hold_s) & (cells.taken_us >= self.since_us)
        with np.errstate(over="ignore", invalid="ignore"):
            value = (cells.value * self.scale) * self.factor + self.zero + self.correction
            valid &= np.isfinite(value)
            blank = ~valid
            value[blank] = np.nan
            value += self.atmosphere
            to_si = np.abs(self.scale) * self.factor
            own = self.u_constant
            if self.u_share.any():
                own = np.hypot(own, self.u_share * (cells.value - self.about))
            own = np.where(valid, own * to_si, np.nan)
        for index in self.clamps:
            air = value[self.names.index(AMBIENT)] if AMBIENT in self.names else None
            by_contact = contact_uncertainty(value[index], air, self.channels[index].contact)
            own[index] = np.hypot(own[index], by_contact)
        common = np.where(valid, self.u_common * to_si, np.nan)
        u = np.hypot(own, common) if self.u_common.any() else own
        age_s[blank] = np.nan
        return Measured(value, u, own, common, age_s, cells.fresh & valid)


@dataclass(frozen=True, slots=True)
class _Promised:
    """What is known about a channel's errors, in its unit."""

    constant: float
    share: float
    about: float
    common: float
    calibration: str


def _promised(held: Settings, channel: Channel) -> _Promised:
    """Give what the maker states, or what a match in one cup has found since.

    A match takes the place of the maker's statement: the probe's own error is what is left of it against the
    others of the cup, and grows with the distance from the cup's temperature; the reference's is common to
    all. The resolution of each new indication comes on top, as it does without a match.
    """
    match, scale = held.matched.get(channel.id), held.scale.get(channel.id, 1.0)
    constant, share = channel.uncertainty_parts
    if match is None or channel.quantity is not Quantity.TEMPERATURE or scale == 0.0:
        return _Promised(constant, share, 0.0, channel.shared_uncertainty, channel.calibration)
    unit = channel.si_unit
    to_si = abs(scale) * unit.factor
    return _Promised(
        float(np.hypot(match.own / to_si, channel.resolution / np.sqrt(12.0))),
        match.slope,
        (match.at - held.offset.get(channel.id, 0.0) - unit.offset) / unit.factor / scale,
        match.shared / to_si,
        f"cup {match.cup}",
    )


def common_error(held: Settings, channel: Channel) -> tuple[str, float]:
    """Give the calibration or cup that a channel shares an error with others of, and its size [SI, k = 1].

    Examples
    --------
    >>> from analysis.measure import Specification
    >>> good = Specification(shared=0.36)
    >>> probe = Channel("a", Quantity.TEMPERATURE, "degF", uncertainty=good, calibration="bath")
    >>> name, u = common_error(Settings(), probe)
    >>> name, round(u, 3)
    ('bath', 0.1)
    """
    promised = _promised(held, channel)
    if not promised.calibration or not promised.common > 0.0:
        return "", 0.0
    to_si = abs(held.scale.get(channel.id, 1.0)) * channel.si_unit.factor
    return promised.calibration, promised.common * to_si


def _since(held: Settings, name: str) -> int:
    """Moment from which a point's channel counts; what feeds it from the start has always counted."""
    since = held.assigned_us.get(name, 0)
    return since if since > 0 else LONG_AGO_US


def _is_gauge(name: str, channel: Channel) -> bool:
    """Whether the atmosphere is to be added."""
    return channel.quantity is Quantity.GAUGE_PRESSURE and point(name).quantity is Quantity.ABSOLUTE_PRESSURE


def contact_uncertainty(t: FloatArray, t_ambient: FloatArray | None, contact: float) -> FloatArray:
    """Give the standard uncertainty of a clamp by imperfect contact [K].

    The clamp reads too near to ambient by anything up to ``a = contact |t - t_ambient|``: a one-sided
    rectangular error, whose root mean square about the indication is ``a / sqrt(3)`` (GUM 4.3.7; the
    indication itself is not corrected, since the true contact is not known).

    Examples
    --------
    >>> contact_uncertainty(np.array([270.0]), np.array([287.3]), 0.05).round(2)
    array([0.5])
    """
    air = np.full_like(t, np.nan) if t_ambient is None else t_ambient
    ambient = np.where(np.isfinite(air), air, ASSUMED_AMBIENT_K)
    return np.asarray(contact * np.abs(t - ambient) / np.sqrt(3.0))
