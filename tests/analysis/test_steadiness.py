"""Window statistics against a plain least-squares fit of the same readings."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.hunting import find_swing
from analysis.steadiness import (
    TEMPERATURE_LIMIT,
    WINDOW_READINGS,
    WINDOW_ROWS,
    WindowStatistics,
    WindowSums,
    extend,
    still,
)


def one_signal(values: np.ndarray, fresh: np.ndarray | None = None, from_row: int = 0) -> WindowStatistics:
    """Window statistics of one signal from its first row on."""
    given = np.ones(values.size, bool) if fresh is None else fresh
    sums = WindowSums(np.array([1e-4]), from_row)
    return extend(sums, values[None], given[None], np.zeros(1, bool)).of(0)


def plain_fit(values: np.ndarray, fresh: np.ndarray, end: int) -> tuple[float, float, float]:
    """Slope, its standard error and the spread by numpy's own fit."""
    begin = min(end + 1 - WINDOW_ROWS, int(np.flatnonzero(fresh[: end + 1])[-WINDOW_READINGS]))
    k = np.flatnonzero(fresh[begin : end + 1]) + begin
    slope, intercept = np.polyfit(k, values[k], 1)
    residual = values[k] - (slope * k + intercept)
    variance = float((residual**2).sum()) / (k.size - 2)
    error = np.sqrt(variance / ((k - k.mean()) ** 2).sum())
    # Readings that follow each other count as fewer: von Neumann's ratio of successive differences.
    before = np.flatnonzero(fresh[:begin])[-1:] if begin else np.empty(0, np.int64)
    differences = np.diff(values[np.concatenate([before, k])])
    rho = max(1.0 - float((differences**2).sum()) / (k.size - 1) / (2.0 * variance), 0.0)
    return float(slope), float(error * np.sqrt((1.0 + rho) / (1.0 - rho))), float(np.sqrt(variance))


@settings(derandomize=True, deadline=None, max_examples=25)
@given(
    level=st.sampled_from([283.15, 253.0, 373.15]),
    slope=st.floats(-0.01, 0.01),
    noise=st.floats(0.005, 0.5),
    every=st.sampled_from([1, 2, 10]),
    seed=st.integers(0, 99),
)
def test_it_is_the_least_squares_line(
    level: float, slope: float, noise: float, every: int, seed: int
) -> None:
    rng = np.random.default_rng(seed)
    n = 900
    values = level + slope * np.arange(n) + rng.normal(0, noise, n)
    fresh = np.arange(n) % every == 0
    held = values[(np.arange(n) // every) * every]
    found = one_signal(held, fresh)
    for end in (400, 633, n - 1):
        expected_slope, expected_error, expected_spread = plain_fit(held, fresh, end)
        assert found.slope_per_row[end] == pytest.approx(expected_slope, abs=2e-6)
        assert found.slope_error[end] == pytest.approx(expected_error, rel=5e-3)
        assert found.spread[end] == pytest.approx(expected_spread, rel=2e-3)


def test_a_window_is_as_exact_after_a_month_as_after_an_hour() -> None:
    rng = np.random.default_rng(0)
    values = 278.0 + rng.normal(0, 0.05, 3600)
    early = one_signal(values)
    late = one_signal(values, from_row=30 * 86400)
    np.testing.assert_array_equal(early.spread[400:], late.spread[400:])
    np.testing.assert_allclose(early.slope_per_row[400:], late.slope_per_row[400:], rtol=1e-12)


def test_memory_is_bounded() -> None:
    sums = WindowSums(np.array([1e-4]))
    for _ in range(50):
        extend(sums, np.full((1, 700), 280.0), np.ones((1, 700), bool), np.zeros(1, bool))
    assert sums.buffer.shape[2] < 5000


def test_noise_is_no_swing_and_a_swing_needs_three_like_cycles() -> None:
    rng = np.random.default_rng(1)
    t = np.arange(300.0)
    assert find_swing(280 + rng.normal(0, 0.2, 300)) is None
    uneven = [np.sin(2 * np.pi * np.arange(period) / period) for period in (60, 20, 70, 25, 90, 35)]
    assert find_swing(280 + 3 * np.concatenate(uneven)) is None
    found = find_swing(280 + 2 * np.sin(2 * np.pi * t / 55) + rng.normal(0, 0.1, 300))
    assert found is not None
    assert found.period_s == pytest.approx(55, rel=0.05)


def test_the_standard_error_is_honest_for_readings_that_follow_each_other() -> None:
    """First-order autoregressive noise, no slope: two standard errors hold zero in some 95 of 100."""
    rng = np.random.default_rng(7)
    n, rho, held, naive = 300, 0.8, 0, 0
    for _ in range(400):
        noise = rng.normal(0.0, 0.05 * np.sqrt(1.0 - rho * rho), n)
        values = np.empty(n)
        values[0] = rng.normal(0.0, 0.05)
        for k in range(1, n):
            values[k] = rho * values[k - 1] + noise[k]
        found = one_signal(280.0 + values)
        slope, error = abs(found.slope_per_row[-1]), found.slope_error[-1]
        t = np.arange(n)
        plain = found.spread[-1] / np.sqrt(((t - t.mean()) ** 2).sum())
        held, naive = held + (slope < 2.0 * error), naive + (slope < 2.0 * plain)
    assert held >= 0.90 * 400
    assert naive < 0.65 * 400  # what is asked for would not be so without the correction


def test_the_noise_floor_is_the_probes_own_and_does_not_see_a_slow_course() -> None:
    rng = np.random.default_rng(5)
    t = np.arange(1800.0)
    course = 10.0 * np.exp(-t / 200.0) + 1.5 * np.sin(2 * np.pi * t / 240.0)
    found = one_signal(280.0 + course + rng.normal(0.0, 0.08, t.size))
    assert found.noise[-1] == pytest.approx(0.08, rel=0.15)
    assert np.isnan(found.noise[58])
    assert (np.diff(found.noise[60:]) <= 0.0).all()


def test_scatter_is_held_against_the_probes_own_noise() -> None:
    rng = np.random.default_rng(6)
    coarse = one_signal(280.0 + rng.normal(0.0, 0.2, 600))
    assert still(coarse, TEMPERATURE_LIMIT, 1.0)[-1]  # 0.2 K is the probe's, though above the floor
    quiet_then_rough = rng.normal(0.0, 0.02, 900)
    quiet_then_rough[600:] = np.repeat(rng.normal(0.0, 0.25, 30), 10)  # a control at work, not a probe
    fine = one_signal(280.0 + quiet_then_rough)
    assert still(fine, TEMPERATURE_LIMIT, 1.0)[590]
    assert not still(fine, TEMPERATURE_LIMIT, 1.0)[-1]


def test_a_jump_is_seen_within_a_quarter_of_a_minute() -> None:
    rng = np.random.default_rng(8)
    values = 280.0 + rng.normal(0.0, 0.02, 700)
    values[600:] += 0.8
    passed = still(one_signal(values), TEMPERATURE_LIMIT, 1.0)
    assert passed[599]
    assert not passed[606:].any()
