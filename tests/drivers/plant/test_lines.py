from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.plant.lines import CHANNELS, decimals, format_line, parse_line
from drivers.plant.stories import STORIES


@settings(derandomize=True, deadline=None, max_examples=100)
@given(
    t=st.floats(0.0, 1e6),
    values=st.dictionaries(st.sampled_from(sorted(CHANNELS)), st.floats(-300.0, 5000.0), max_size=12),
)
def test_what_is_written_is_read_back(t: float, values: dict[str, float]) -> None:
    read = parse_line(format_line(t, values))
    assert read.pop("t") == pytest.approx(t, abs=6e-4)
    assert set(read) == set(values)
    for name, value in values.items():
        assert read[name] == pytest.approx(value, abs=0.51 * 10.0 ** -decimals(CHANNELS[name].resolution))


@settings(derandomize=True, deadline=None, max_examples=150)
@given(position=st.integers(0, 200), bit=st.integers(0, 7))
def test_one_flipped_bit_is_always_noticed(position: int, bit: int) -> None:
    line = bytearray(format_line(12.0, {"ps": 5.153, "ts": -2.41, "pd": 24.59})[:-2])
    line[position % len(line)] ^= 1 << bit
    with pytest.raises(ValueError, match="checksum"):
        parse_line(bytes(line))


def test_checksum_is_the_published_crc() -> None:
    # "CRC-16/IBM-3740" in the catalogue of parametrised CRC algorithms: check value of "123456789" is 29B1.
    import binascii

    assert binascii.crc_hqx(b"123456789", 0xFFFF) == 0x29B1


def test_a_missing_reading_is_left_out() -> None:
    assert b"ts" not in format_line(1.0, {"ps": 1.0, "ts": math.nan})


def test_every_probe_of_every_story_has_its_channel() -> None:
    for story in STORIES.values():
        assert set(story.probes) <= set(CHANNELS)


def test_points_are_named_once_and_intervals_and_uncertainties_are_positive() -> None:
    points = [c.point for c in CHANNELS.values()]
    assert len(points) == len(set(points))
    assert all(c.resolution > 0.0 and c.uncertainty > 0.0 and c.interval > 0.0 for c in CHANNELS.values())
