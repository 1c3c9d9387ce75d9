"""What is declared, from when on: corrections, swaps, reconnects, and text that cannot be understood."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.measure import Channel
from analysis.settings import SettingsError, settings_over_time
from analysis.timeline import Event
from analysis.units import Quantity

CHANNELS = {
    c.id: c
    for c in (
        Channel("g/ps", Quantity.GAUGE_PRESSURE, "psig"),
        Channel("c/a", Quantity.TEMPERATURE, "degF"),
        Channel("c/b", Quantity.TEMPERATURE, "degC"),
    )
}


def at(events: list[Event], t_us: int) -> dict[str, str]:
    return dict([s for s in settings_over_time(events, CHANNELS) if s.from_us <= t_us][-1].channel_of)


def test_the_later_line_takes_the_point() -> None:
    events = [
        Event(0, 0, "assign", "c/a", "suction_temperature"),
        Event(5, 5, "assign", "c/b", "suction_temperature"),
    ]
    assert at(events, 0) == {"suction_temperature": "c/a"}
    assert at(events, 5) == {"suction_temperature": "c/b"}


def test_an_offset_is_understood_in_its_own_unit() -> None:
    events = [Event(0, 0, "offset", "c/a", "-0.9 degF"), Event(0, 0, "offset", "g/ps", "0.5 psi")]
    (held,) = settings_over_time(events, CHANNELS)
    assert held.offset["c/a"] == pytest.approx(-0.5)
    assert held.offset["g/ps"] == pytest.approx(3447.4, abs=0.1)


def test_a_reconnect_breaks_the_windows_of_its_channels_only() -> None:
    events = [
        Event(0, 0, "link", "c", "live"),
        Event(7, 7, "link", "c", "waiting: gone; next try in 1 s"),
        Event(9, 9, "link", "c", "live"),
    ]
    held = settings_over_time(events, CHANNELS)
    assert [s.from_us for s in held] == [0, 9]
    assert held[1].broken == {"c/a", "c/b"}
    assert not held[1].changed


@pytest.mark.parametrize(
    ("event", "words"),
    [
        (Event(0, 0, "assign", "c/a", "suction"), "suction"),
        (Event(0, 0, "assign", "c/a", "suction_pressure"), "degF"),
        (Event(0, 0, "offset", "c/a", "a bit"), "c/a"),
        (Event(0, 0, "offset", "c/a", "2 bar"), "c/a"),
        (Event(0, 0, "scale", "c/a", "double"), "double"),
        (Event(0, 0, "barometer", "", "29.9"), "barometer"),
        (Event(0, 0, "barometer", "", "2 bar(a)"), "barometer"),
        (Event(0, 0, "fluid", "", "tea"), "tea"),
        (Event(0, 0, "source_coil", "", "0.6 L/s"), "rated point"),
        (Event(0, 0, "source_coil", "", "0 L/s at 5 kPa"), "more than zero"),
    ],
)
def test_what_cannot_be_understood_is_one_sentence(event: Event, words: str) -> None:
    with pytest.raises(SettingsError, match=words):
        settings_over_time([event], CHANNELS)


_PLACES = st.sampled_from(["", "suction_temperature", "liquid_temperature"])
_EVENTS = st.builds(
    lambda t, channel, place: Event(t, 0, "assign", channel, place),
    st.integers(0, 20), st.sampled_from(["c/a", "c/b"]), _PLACES,
)  # fmt: skip


@settings(derandomize=True, deadline=None, max_examples=200)
@given(st.lists(_EVENTS, max_size=12))
def test_a_channel_feeds_at_most_one_point_and_a_point_has_at_most_one_channel(events: list[Event]) -> None:
    for held in settings_over_time(events, CHANNELS):
        channels = list(held.channel_of.values())
        assert len(set(channels)) == len(channels)
        assert set(held.assigned_us) == set(held.channel_of)


@settings(derandomize=True, deadline=None, max_examples=200)
@given(st.lists(_EVENTS, max_size=12), st.integers(0, 20))
def test_a_correction_from_the_start_repairs_the_whole_session(events: list[Event], t: int) -> None:
    mended = [
        *events,
        Event(0, 99, "assign", "c/a", "suction_temperature"),
        Event(0, 99, "assign", "c/b", "liquid_temperature"),
    ]
    assert at(mended, t) == {"suction_temperature": "c/a", "liquid_temperature": "c/b"}
