"""From rows of readings to what a match takes: a session's probes, scaled, in SI, without their offsets."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from analysis.measure import UNUSABLE, Channel
from analysis.points import POINTS
from analysis.rows import Rows
from analysis.settings import Settings
from analysis.still_mean import Series
from analysis.units import Quantity
from analysis.zeroing import PRESSURES

NOT_IN_WATER = frozenset({
    "ambient_temperature", "return_air_temperature", "return_air_wet_bulb", "supply_air_temperature",
    "supply_air_wet_bulb",
})  # fmt: skip
"""Points whose probes hang in air; they are left out of a cup unless they are asked for."""
BAROMETER = "barometric_pressure"


def point_of(held: Settings) -> dict[str, str]:
    """Give channel to the measuring point that it feeds."""
    return {channel: point for point, channel in held.channel_of.items()}


def thermal(point: str) -> bool:
    """Whether a thermometer of water or pipe belongs to a measuring point."""
    return POINTS[point].quantity is Quantity.TEMPERATURE and point not in NOT_IN_WATER


def cup_channels(channels: Mapping[str, Channel], held: Settings, rows: Rows) -> tuple[str, ...]:
    """Name the thermometers that belong into a cup.

    Those that feed a point of water or pipe, read or not, so that a silent one is not passed over; where none
    feeds a point, all that have been read.
    """
    feeds = point_of(held)
    wet = [
        name
        for name, channel in channels.items()
        if channel.quantity is Quantity.TEMPERATURE and feeds.get(name, "") not in NOT_IN_WATER
    ]
    return tuple(name for name in wet if name in feeds) or tuple(n for n in wet if n in heard(rows))


def gauge_channels(channels: Mapping[str, Channel], held: Settings, rows: Rows) -> tuple[str, ...]:
    """Name the pressure channels that can be zeroed: those that have been read, the barometer left out."""
    feeds, read = point_of(held), heard(rows)
    return tuple(
        name
        for name, channel in channels.items()
        if channel.quantity in PRESSURES and name in read and feeds.get(name, "") != BAROMETER
    )


def heard(rows: Rows) -> frozenset[str]:
    """Name the channels that rows hold readings of."""
    return frozenset(rows.ids[number] for number in np.unique(rows.channel))


def series_of(
    rows: Rows, channels: Mapping[str, Channel], names: Sequence[str], held: Settings
) -> list[Series]:
    """Give the usable readings of channels in the order of time.

    Parameters
    ----------
    rows
        Readings, in any order.
    channels
        Known channels by id.
    names
        Which are wanted; one without a reading gives an empty series.
    held
        Scales and offsets that hold.
    """
    usable = ((rows.quality & int(UNUSABLE)) == 0) & np.isfinite(rows.value)
    kept = rows.take(usable)
    found = []
    for name in names:
        one, channel = kept.only(name), channels[name]
        order = np.argsort(one.t_us, kind="stable")
        unit = channel.si_unit
        value = one.value[order] * held.scale.get(name, 1.0) * unit.factor + unit.offset
        found.append(Series(channel, one.t_us[order] / 1e6, value, held.offset.get(name, 0.0)))
    return found
