"""Small sessions for the tests of storage."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from hypothesis import strategies as st

from analysis.measure import Channel, Quality, Specification
from analysis.rows import Rows
from analysis.units import Quantity
from drivers.clock import FollowedClock
from logger.descriptor import SessionHeader
from logger.session_writer import SessionWriter

START_UTC_NS = 1_768_377_600_000_000_000  # 2026-01-14T08:00:00Z
SECOND = 1_000_000
CHANNELS = (
    Channel(
        "water/in",
        Quantity.TEMPERATURE,
        "degC",
        "source water in",
        resolution=0.1,
        uncertainty=Specification(fixed=0.3, distribution="rectangular"),
        expected_interval_s=1.0,
        source="data sheet of the probe",
    ),
    Channel('gauge, "low side"/p', Quantity.GAUGE_PRESSURE, "psig"),
    Channel("clamp/current", Quantity.CURRENT, "A"),
)
IDS = tuple(channel.id for channel in CHANNELS)


def regular_rows(seconds: int, *, per_second: int = 1, start_s: int = 0) -> Rows:
    """Every channel ``per_second`` times a second, with values that need all their digits."""
    count = seconds * per_second
    t_us = (start_s * SECOND + np.arange(count) * SECOND // per_second).repeat(len(IDS))
    channel = np.tile(np.arange(len(IDS), dtype=np.int32), count)
    value = 20.0 + np.sin(t_us / 7e6) + channel / 3
    return Rows(IDS, t_us.astype(np.int64), channel, value, np.zeros(len(t_us), np.uint16))


def begin(folder: Path, *, part_s: int = 3600, **more: object) -> SessionWriter:
    header = SessionHeader(
        title="hall, unit 2",
        software="evenrun 0.1.0",
        libraries={"CoolProp": "8.0.0"},
        setup='[adapters.water]\nkind = "typed"\n',
        barometer_pa=94_320.0,
        part_us=part_s * SECOND,
    )
    writer = SessionWriter.create(folder, header, FollowedClock(START_UTC_NS), **more)  # type: ignore[arg-type]
    writer.channels(CHANNELS)
    return writer


def recorded(folder: Path, rows: Rows, *, part_s: int = 3600, batch: int = 50) -> Path:
    """Make a closed session with these readings."""
    writer = begin(folder, part_s=part_s)
    for start in range(0, len(rows), batch):
        writer.add(rows.take(slice(start, start + batch)))
    assert writer.close("done") == ()
    return folder


def broken_off(folder: Path, rows: Rows, *, part_s: int = 3600) -> Path:
    """Make a session whose process ended without closing it."""
    writer = begin(folder, part_s=part_s)
    writer.add(rows)
    assert writer.flush()
    writer.abandon()
    return folder


_qualities = st.builds(
    lambda flags: sum({flag.value for flag in flags}), st.lists(st.sampled_from(list(Quality)), max_size=3)
)
_values = st.one_of(st.none(), st.floats(allow_nan=False, allow_infinity=False))
_moments = st.integers(-(10**7), 4 * 10**10)


def any_rows(ids: tuple[str, ...] = IDS, most: int = 40) -> st.SearchStrategy[Rows]:
    """Draw readings of known channels in any order, with any values and flags."""
    item = st.tuples(_moments, st.sampled_from(ids), _values, _qualities)
    return st.lists(item, max_size=most).map(lambda items: Rows.of(items, ids))
