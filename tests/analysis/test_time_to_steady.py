"""The forecast of the time to steady, and simulated start-ups with all that is asked of the verdict.

The full count of a thousand starts is in the campaign; this is a slice of it.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.time_to_steady import Course, TimeToSteady, forecast
from analysis.verdict import Judge, State
from logger.state_words import headline
from tests.campaign.steadiness_starts import hunt, hunts_summary, start, summary

LIMIT = 0.1 / 60.0


def test_a_slice_of_the_simulated_starts() -> None:
    found = summary([start(seed) for seed in range(2000, 2025)])
    assert found["starts with rows called steady while superheat was off by more than 0.5 K"] == 0
    assert found["called steady within 5 min of truly being so"] >= 0.95  # type: ignore[operator]
    assert found["coverage of the interval"] >= 0.80  # type: ignore[operator]
    constant = found["interval score of the best constant interval"]
    assert found["interval score"] < constant  # type: ignore[operator]


def test_a_hunting_valve_is_never_steady_and_mostly_named() -> None:
    found = hunts_summary([hunt(seed) for seed in range(2000, 2006)])
    assert found["of these with a swing above 1 K"] >= 3  # type: ignore[operator]
    assert found["rows of them called steady"] == 0


@settings(derandomize=True, deadline=None, max_examples=40)
@given(tau=st.floats(40.0, 600.0), swing=st.floats(2.0, 20.0), seed=st.integers(0, 50))
def test_the_interval_holds_the_moment_at_which_a_true_exponential_is_still(
    tau: float, swing: float, seed: int
) -> None:
    t = np.arange(3000.0)
    clean = swing * np.exp(-t / tau)
    window = np.arange(300.0) - 149.5
    slopes = np.convolve(clean, window[::-1], "valid") / (window @ window)  # slope over t[k - 299] to t[k]
    still = int(np.flatnonzero(np.abs(slopes) + 2.0 * 0.02 * np.sqrt(12.0 / 300.0**3) < LIMIT)[0]) + 299
    now = 300
    if still <= now + 30:
        return
    noisy = 300.0 - clean + np.random.default_rng(seed).normal(0.0, 0.02, t.size)
    found = forecast([Course(noisy[: now + 1], 0.02, LIMIT, 300)], 0.0, 0.0)
    if found is not None:  # too far ahead is not told
        assert found.low_s - 10.0 <= still - now <= found.high_s + 10.0


def test_no_exponential_no_forecast() -> None:
    t = np.arange(300.0)
    zigzag = 300.0 + np.abs((t % 120.0) - 60.0) / 30.0
    assert forecast([Course(zigzag, 0.02, LIMIT, 300)], 0.0, 120.0) is None
    ramp = 300.0 + 0.01 * t
    assert forecast([Course(ramp, 0.02, LIMIT, 300)], 0.0, 120.0) is None  # a straight line has no end
    assert forecast([Course(ramp[:60], 0.02, LIMIT, 60)], 0.0, 120.0) is None


def settling(n: int, cuts: list[int]) -> list[TimeToSteady | None]:
    """Forecasts at the ends of given chunks."""
    rng = np.random.default_rng(4)
    t = np.arange(n)
    signals = {
        "suction_temperature": 274.0 + 8.0 * np.exp(-t / 220.0) + rng.normal(0, 0.02, n),
        "liquid_temperature": 304.0 - 6.0 * np.exp(-t / 150.0) + rng.normal(0, 0.02, n),
    }
    judge, told = Judge(), []
    for begin, end in zip([0, *cuts], [*cuts, n], strict=True):
        part = {name: x[begin:end] for name, x in signals.items()}
        fresh = {name: np.ones(end - begin, bool) for name in signals}
        found = judge.extend(begin, part, fresh, {}, None, frozenset(), False)
        told.append(found.time_to_steady)
    return told


@settings(derandomize=True, deadline=None, max_examples=30)
@given(cuts=st.lists(st.integers(1, 699), max_size=6, unique=True).map(sorted))
def test_any_chunking_gives_the_same_forecast(cuts: list[int]) -> None:
    assert settling(700, cuts)[-1] == settling(700, [])[-1]
    assert settling(700, [])[-1] is not None


def test_the_words_name_time_interval_and_signal() -> None:
    t = np.arange(500)
    values = 274.0 + 8.0 * np.exp(-t / 220.0) + np.random.default_rng(4).normal(0, 0.02, t.size)
    judge = Judge()
    fresh = {"suction_temperature": np.ones(500, bool)}
    found = judge.extend(0, {"suction_temperature": values}, fresh, {}, None, frozenset(), False)
    assert found.overall.state[-1] == State.SETTLING
    words = headline(found)
    assert words.startswith("SETTLING, about ")
    assert " min more (" in words
    assert "suction line moves −0." in words
    assert headline(found.row(-1)) == words


def test_in_the_last_minutes_only_time_is_lacking_and_is_told_exactly() -> None:
    n = 660
    values = 274.0 + np.random.default_rng(4).normal(0, 0.02, n)
    judge = Judge()
    fresh = {"suction_temperature": np.ones(n, bool)}
    found = judge.extend(0, {"suction_temperature": values}, fresh, {}, None, frozenset(), False)
    assert found.time_to_steady is not None
    assert found.time_to_steady.middle_s == pytest.approx(60.0, abs=2.0)
