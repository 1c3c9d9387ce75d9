"""events.csv: one line for each event, and nothing in a person's text can break it."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.timeline import Event
from logger.csv_line import one_line
from logger.events import EVENTS_HEADER, clock_event, event_line, parse_event, read_events
from logger.moments import elapsed_text, parse_elapsed, parse_utc, utc_text
from logger.session_errors import Fault

moments = st.integers(-(10**12), 10**15)
wall = st.integers(0, 4 * 10**15)  # 1970 to 2096
words = st.text(max_size=30)
events = st.builds(Event, moments, wall, st.text(min_size=1, max_size=8).filter(one_line), words, words)


@settings(derandomize=True, deadline=None, max_examples=200)
@given(event=events)
def test_any_event_comes_back_on_one_line(event: Event) -> None:
    line = event_line(event)
    assert line.endswith(b"\r\n")
    assert len(line.splitlines()) == len(line.decode().splitlines()) == 1
    kind, subject, text = map(one_line, (event.kind, event.subject, event.text))
    assert parse_event(line) == Event(event.t_us, event.utc_us, kind, subject, text)


@settings(derandomize=True, deadline=None, max_examples=100)
@given(t_us=moments, utc_us=wall)
def test_moments_come_back(t_us: int, utc_us: int) -> None:
    assert parse_elapsed(elapsed_text(t_us)) == t_us
    assert parse_utc(utc_text(utc_us)) == utc_us


@pytest.mark.parametrize(
    "text", ["", "1", "1.0", "1.00000", "1.0000000", "+1.000000", " 1.000000", "1e3", "١.000000"]
)
def test_a_time_that_is_not_as_written_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="six decimals"):
        parse_elapsed(text)


def test_a_clock_event_pairs_the_two_clocks() -> None:
    event = clock_event(60_000_000, 1_768_377_660_000_000)
    assert (
        event_line(event) == b"60.000000,2026-01-14T08:01:00.000000Z,clock,,2026-01-14T08:01:00.000000Z\r\n"
    )


def test_lines_that_are_not_whole_are_reported_and_left_out(tmp_path: Path) -> None:
    path = tmp_path / "events.csv"
    good = event_line(Event(0, 0, "mark", "", 'left, "old" pump'))
    path.write_bytes(EVENTS_HEADER + good + b"\xff\r\n" + b'0.000000,x,"y' + b"\r\n" + good + good[:-1])
    faults: list[Fault] = []
    assert read_events(path, faults.append) == [parse_event(good)] * 2
    assert [(fault.file, fault.line) for fault in faults] == [("events.csv", n) for n in (3, 4, 6)]
    assert "torn" in faults[-1].sentence


def test_events_without_a_header_are_read_all_the_same(tmp_path: Path) -> None:
    path = tmp_path / "events.csv"
    good = event_line(Event(0, 0, "mark"))
    path.write_bytes(good)
    faults: list[Fault] = []
    assert read_events(path, faults.append) == [Event(0, 0, "mark")]
    assert "header" in faults[0].sentence
    assert read_events(tmp_path / "missing.csv") == []
