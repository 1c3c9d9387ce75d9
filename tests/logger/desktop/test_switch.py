"""A foot switch: however its key bounces, repeats or is held, one press is one mark."""

from __future__ import annotations

import pytest

from logger.desktop.event_clock import EventClock
from logger.desktop.switch import Act, Switch


def _play(moments: list[tuple[str, float]], until_s: float = 60.0) -> list[tuple[Act, float]]:
    """Play presses and releases with the window's tenth-of-a-second look in between."""
    switch, done, now = Switch(), [], 0.0
    for what, t_s in [*moments, ("end", until_s)]:
        while now < t_s:
            done += [(act, round(now, 3)) for act in switch.due(now)]
            now += 0.1
        if what != "end":
            found = switch.press(t_s) if what == "press" else switch.release(t_s)
            done += [(act, t_s) for act in found]
    return done


def _taps(begin_s: float, period_s: float, count: int, down_s: float = 0.005) -> list[tuple[str, float]]:
    out: list[tuple[str, float]] = []
    for number in range(count):
        t = begin_s + period_s * number
        out += [("press", t), ("release", t + down_s)]
    return out


def test_a_press_marks_at_once() -> None:
    assert _play([("press", 1.0), ("release", 1.2)]) == [("mark", 1.0)]


@pytest.mark.parametrize("period_s", [0.004, 0.01, 0.03, 0.1])
def test_a_bouncing_contact_gives_one_mark(period_s: float) -> None:
    assert _play(_taps(1.0, period_s, 5, period_s / 3)) == [("mark", 1.0)]


def test_a_key_that_is_repeated_without_releases_gives_one_mark() -> None:
    acts = _play([("press", 1.0 + 0.033 * n) for n in range(20)] + [("release", 1.8)])
    assert acts == [("mark", 1.0)]


@pytest.mark.parametrize(("count", "expected"), [(10, ["mark"]), (60, ["mark", "changed"])])
def test_a_switch_that_taps_while_it_is_held_marks_once_and_takes_nothing_back(
    count: int, expected: list[str]
) -> None:
    # First tap, half a second of nothing, then 30 taps a second: the second press is no wish to undo.
    acts = [act for act, _ in _play([*_taps(1.0, 1.0, 1), *_taps(1.5, 0.033, count)])]
    assert acts == expected


def test_a_second_press_within_two_seconds_takes_the_mark_back() -> None:
    acts = _play([("press", 1.0), ("release", 1.1), ("press", 1.9), ("release", 2.0)])
    assert [act for act, _ in acts] == ["mark", "undo"]


def test_a_third_press_marks_again() -> None:
    presses = [e for t in (1.0, 1.8, 2.6) for e in (("press", t), ("release", t + 0.1))]
    assert [act for act, _ in _play(presses)] == ["mark", "undo", "mark"]


def test_presses_further_apart_are_marks_of_their_own() -> None:
    assert [a for a, _ in _play([*_taps(1.0, 2.5, 4, 0.1)])] == ["mark"] * 4


def test_a_held_press_reads_i_changed_and_a_second_one_that_is_held_shows_far() -> None:
    assert _play([("press", 1.0), ("release", 3.0)])[:1] == [("mark", 1.0)]
    assert [a for a, _ in _play([("press", 1.0), ("release", 3.0)])] == ["mark", "changed"]
    presses = [("press", 1.0), ("release", 1.1), ("press", 1.5), ("release", 3.0)]
    assert [a for a, _ in _play(presses)] == ["mark", "far"]


def test_a_late_handled_event_is_dated_back_to_when_it_happened() -> None:
    clock = EventClock()
    assert clock.late_s(1000, 50.001) == 0.0
    assert clock.late_s(2000, 51.0) == 0.0  # the least delay so far: the distance is better known now
    assert clock.late_s(3000, 52.350) == pytest.approx(0.350, abs=0.001)


def test_stamps_that_wrap_or_are_missing_are_learnt_anew() -> None:
    clock = EventClock()
    clock.late_s(2**32 - 10, 100.0)
    assert clock.late_s(0, 101.0) == 0.0
    assert clock.late_s(5, 100.015) == 0.0
    assert clock.late_s(1005, 101.115) == pytest.approx(0.1, abs=0.001)
