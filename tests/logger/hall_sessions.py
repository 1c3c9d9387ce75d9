"""Short sessions of the hall with readings of known levels, for comparing and for pages."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np

from analysis.measure import Channel, Specification
from analysis.rows import Rows
from analysis.timeline import Event
from analysis.units import Quantity
from drivers.clock import FollowedClock
from logger.descriptor import SessionHeader
from logger.session_writer import SessionWriter

SECOND = 1_000_000
CLAMP = Specification(fixed=0.2)
CHANNELS = tuple(
    replace(channel, source="data sheet")
    for channel in (
        Channel("gauges/ps", Quantity.GAUGE_PRESSURE, "bar(g)", uncertainty=Specification(fixed=0.03)),
        Channel("gauges/pl", Quantity.GAUGE_PRESSURE, "bar(g)", uncertainty=Specification(fixed=0.12)),
        Channel("clamps/ts", Quantity.TEMPERATURE, "degC", uncertainty=CLAMP, resolution=0.01),
        Channel("clamps/tl", Quantity.TEMPERATURE, "degC", uncertainty=CLAMP, resolution=0.01),
        Channel("water/si", Quantity.TEMPERATURE, "degC", uncertainty=CLAMP, resolution=0.01),
        Channel("water/so", Quantity.TEMPERATURE, "degC", uncertainty=CLAMP, resolution=0.01),
        Channel("water/li", Quantity.TEMPERATURE, "degC", uncertainty=CLAMP, resolution=0.01),
    )
)
PLACES = {
    "gauges/ps": "suction_pressure", "gauges/pl": "liquid_pressure", "clamps/ts": "suction_temperature",
    "clamps/tl": "liquid_temperature", "water/si": "source_entering_temperature",
    "water/so": "source_leaving_temperature", "water/li": "load_entering_temperature",
}  # fmt: skip
AS_FOUND = {
    "gauges/ps": 5.15, "gauges/pl": 24.59, "clamps/ts": -2.4, "clamps/tl": 30.6, "water/si": 4.0,
    "water/so": -2.4, "water/li": 30.0,
}  # fmt: skip
AS_LEFT = {
    "gauges/ps": 5.89, "gauges/pl": 22.85, "clamps/ts": 1.3, "clamps/tl": 34.0, "water/si": 4.0,
    "water/so": 0.1, "water/li": 30.0,
}  # fmt: skip
WATER_RIGHT = {
    "gauges/ps": 5.86, "gauges/pl": 25.61, "clamps/ts": 0.6, "clamps/tl": 31.6, "water/si": 4.0,
    "water/so": 0.1, "water/li": 30.0,
}  # fmt: skip
DECLARED = {"refrigerant": "R410A", "barometer": "94.32 kPa(a)", "mode": "heating"}


def hall_session(
    folder: Path,
    levels: Mapping[str, float],
    *,
    title: str = "Community hall, unit 2",
    seconds: int = 1200,
    declared: Mapping[str, str] = DECLARED,
    events: Iterable[Event] = (),
    silent: tuple[str, int, int] | None = None,
    channels: tuple[Channel, ...] = CHANNELS,
    seed: int = 1,
) -> Path:
    """Record a session of a settled machine.

    Parameters
    ----------
    levels
        Channel to what it indicates.
    silent
        A channel that gives nothing from one second to another.
    """
    rng = np.random.default_rng(seed)
    header = SessionHeader(
        title=title, software="evenrun 0.1.0", libraries={"saturation of R410A": "a table"}
    )
    clock = FollowedClock(1_768_377_600_000_000_000)
    writer = SessionWriter.create(folder, header, clock)
    writer.channels(channels)
    for channel, place in PLACES.items():
        if channel in levels:
            writer.note("assign", channel, place, from_us=0)
    for kind, text in declared.items():
        writer.note(kind, "", text, from_us=0)
    for event in events:
        writer.event(event)
    items = [
        (k * SECOND + 100_000, channel, round(level + rng.normal(0.0, 0.004), 3), 0)
        for k in range(seconds)
        for channel, level in levels.items()
        if not (silent and silent[0] == channel and silent[1] <= k < silent[2])
    ]
    writer.add(Rows.of(items, list(levels)))
    clock.follow(seconds * 1_000_000_000)
    assert writer.close("done") == ()
    return folder
