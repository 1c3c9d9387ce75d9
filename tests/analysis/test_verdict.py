"""The verdict on several signals together: drifting entering water, hunting, what holds it back."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest

from analysis.verdict import Judge, Judgement, State
from logger.state_words import headline

N = 1500


def judged(
    signals: Mapping[str, np.ndarray], rests_on: Mapping[str, tuple[str, ...]] | None = None
) -> Judgement:
    """Judge signals read once a second from the start on."""
    n = next(iter(signals.values())).size
    fresh = {name: np.ones(n, bool) for name in signals}
    return Judge().extend(0, signals, fresh, rests_on or {}, None, frozenset(), False)


def noise(seed: int, sigma: float = 0.02) -> np.ndarray:
    return np.random.default_rng(seed).normal(0.0, sigma, N)


def test_slow_drift_of_the_entering_water_is_allowed_and_taken_off_what_follows_it() -> None:
    drift = 0.08 / 60.0 * np.arange(N)  # 0.08 K/min: 2 K in the session
    signals = {
        "evaporating_temperature": 268.0 + 0.9 * drift + noise(1),
        "suction_temperature": 274.0 + 0.8 * drift + noise(2),
        "source_entering_temperature": 277.0 + drift + noise(3),
        "source_leaving_temperature": 273.0 + drift + noise(4),
    }
    found = judged(signals)
    assert found.overall.state[-1] == State.STEADY
    assert "drifts" in headline(found)
    assert "+0.08 K/min" in headline(found)


def test_a_signal_that_moves_against_the_water_or_faster_is_named() -> None:
    drift = 0.08 / 60.0 * np.arange(N)
    signals = {
        "evaporating_temperature": 268.0 - 1.5 * drift + noise(1),
        "source_entering_temperature": 277.0 + drift + noise(3),
        "source_leaving_temperature": 273.0 + drift + noise(4),
    }
    found = judged(signals)
    assert found.overall.state[-1] == State.SETTLING
    assert found.signals[found.overall.limiting[-1]] == "evaporating_temperature"
    assert "evaporating (dew) moves −0.1" in headline(found)


def test_entering_water_that_runs_away_is_not_allowed() -> None:
    drift = 0.2 / 60.0 * np.arange(N)
    found = judged({"source_entering_temperature": 277.0 + drift + noise(3)})
    assert found.overall.state[-1] == State.SETTLING


@pytest.mark.parametrize("period", [20, 45, 90, 150, 280])
@pytest.mark.parametrize("probe", [0.02, 0.15])
def test_hunting_above_one_kelvin_is_never_steady(period: int, probe: float) -> None:
    """Peak to peak 1.05 K, regular or not, with a fine and with a coarse probe."""
    t = np.arange(N)
    regular = 0.525 * np.sin(2 * np.pi * t / period)
    rng = np.random.default_rng(period)
    irregular = 0.525 * np.sin(2 * np.pi * np.cumsum(1.0 / period * rng.uniform(0.5, 1.5, N)))
    for swing in (regular, irregular):
        found = judged({"suction_temperature": 274.0 + swing + noise(period, probe)})
        assert not (found.overall.state == State.STEADY).any()


def test_hunting_is_named_with_its_period_and_swing() -> None:
    t = np.arange(N)
    found = judged({"suction_temperature": 274.0 + 1.0 * np.sin(2 * np.pi * t / 60.0) + noise(1)})
    assert found.overall.state[-1] == State.HUNTING
    assert found.swings["suction_temperature"].period_s == pytest.approx(60.0, rel=0.05)
    assert headline(found).startswith("HUNTING: suction line, period 60 s, swing 2.")


def test_each_result_waits_for_its_own_signals_only() -> None:
    tail = 5.0 * np.exp(-np.arange(N) / 600.0)
    signals = {
        "evaporating_temperature": 268.0 + noise(1),
        "suction_temperature": 274.0 + noise(2),
        "discharge_temperature": 350.0 - tail * 3.0 + noise(3),
    }
    found = judged(signals, {"superheat": ("evaporating_temperature", "suction_temperature"), "flow": ()})
    assert found.results["superheat"].state[800] == State.STEADY
    assert found.results["flow"].state[800] == State.AT_ONCE
    assert found.overall.state[800] == State.SETTLING
    assert found.signals[found.overall.limiting[800]] == "discharge_temperature"
