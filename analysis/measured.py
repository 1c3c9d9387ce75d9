"""From one channel's indications to a measuring point: scaled, offset, SI, absolute, not too old, with u."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.elementwise import FloatArray
from analysis.frame import Cells
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
    """A measuring point over a span, with its uncertainty in its two parts."""

    column: Column
    fresh: Bools
    own: FloatArray
    """Standard uncertainty that no other point shares."""
    common: FloatArray
    """Standard uncertainty shared with the points of the same calibration."""
    calibration: str


def measured(
    channel: Channel,
    name: str,
    held: Settings,
    t_us: np.ndarray,
    cells: Cells | None,
    part: slice,
    ambient: FloatArray | None,
) -> Measured:
    """Bring one channel's indications to its measuring point: scaled, offset, SI, absolute, not too old."""
    if cells is None:
        blank = np.full(t_us.size, np.nan)
        none = np.zeros(t_us.size, bool)
        return Measured(Column(blank, blank, blank), none, blank, blank, channel.calibration)
    indicated, taken = cells.value[part], cells.taken_us[part]
    age_s = (t_us - taken) / 1e6
    since = held.assigned_us.get(name, 0)
    valid = np.isfinite(indicated) & (age_s <= channel.hold) & ((taken >= since) | (since <= 0))
    unit = channel.si_unit
    scale = held.scale.get(channel.id, 1.0)
    with np.errstate(over="ignore", invalid="ignore"):
        value = (indicated * scale) * unit.factor + unit.offset + held.offset.get(channel.id, 0.0)
    valid = valid & np.isfinite(value)
    value = np.where(valid, value, np.nan)
    if channel.quantity is Quantity.GAUGE_PRESSURE and point(name).quantity is Quantity.ABSOLUTE_PRESSURE:
        value = value + held.barometer_pa
    to_si = abs(scale) * unit.factor
    own = np.where(valid, channel.standard_uncertainties(indicated) * to_si, np.nan)
    if channel.contact:
        own = np.hypot(own, contact_uncertainty(value, ambient, channel.contact))
    common = np.where(valid, channel.shared_uncertainty * to_si, np.nan)
    column = Column(value, np.hypot(own, common), np.where(valid, age_s, np.nan))
    return Measured(column, cells.fresh[part] & valid, own, common, channel.calibration)


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


def shared_parts(inputs: Sequence[Measured]) -> list[dict[int, FloatArray]]:
    """Group inputs by calibration: those of one calibration err together, all others by themselves."""
    groups: dict[str, dict[int, FloatArray]] = {}
    for index, place in enumerate(inputs):
        if np.any(place.common > 0.0):
            groups.setdefault(place.calibration or f" {index}", {})[index] = place.common
    return list(groups.values())
