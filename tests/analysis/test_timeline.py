"""Which event holds: the last written line whose moment has come."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.timeline import Event, holding_at, timeline

events = st.lists(
    st.builds(
        Event,
        st.integers(-5, 20),
        st.integers(0, 20),
        st.sampled_from(["assign", "offset"]),
        st.sampled_from(["a", "b"]),
        st.text("xyz", max_size=2),
    ),
    max_size=15,
)


@settings(derandomize=True, deadline=None, max_examples=200)
@given(written=events)
def test_at_every_moment_the_last_written_line_holds(written: list[Event]) -> None:
    for subject in ("a", "b"):
        line = timeline(written, "assign", subject)
        moments = [moment for moment, _ in line]
        assert moments == sorted(set(moments))
        own = [event for event in written if event.kind == "assign" and event.subject == subject]
        for t_us in range(-6, 22):
            begun = [event.text for event in own if event.t_us <= t_us]
            assert holding_at(line, t_us) == (begun[-1] if begun else None)


@settings(derandomize=True, deadline=None, max_examples=50)
@given(written=events, text=st.text("xyz", max_size=2))
def test_a_correction_from_the_beginning_is_all_that_holds(written: list[Event], text: str) -> None:
    assert timeline([*written, Event(-10, 0, "assign", "a", text)], "assign", "a") == [(-10, text)]
