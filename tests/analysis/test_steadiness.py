"""Window statistics against a plain least-squares fit of the same readings."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.hunting import find_swing
from analysis.steadiness import WINDOW_READINGS, WINDOW_ROWS, WindowSums, extend


def plain_fit(values: np.ndarray, fresh: np.ndarray, end: int) -> tuple[float, float, float] | None:
    """Slope, its standard error and the spread by numpy's own fit."""
    begin = min(end + 1 - WINDOW_ROWS, int(np.flatnonzero(fresh[: end + 1])[-WINDOW_READINGS]))
    k = np.flatnonzero(fresh[begin : end + 1]) + begin
    slope, intercept = np.polyfit(k, values[k], 1)
    residual = values[k] - (slope * k + intercept)
    variance = float((residual**2).sum()) / (k.size - 2)
    return float(slope), float(np.sqrt(variance / ((k - k.mean()) ** 2).sum())), float(np.sqrt(variance))


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
    found = extend(WindowSums(1e-4), held, fresh, np.zeros(n, bool))
    for end in (400, 633, n - 1):
        expected_slope, expected_error, expected_spread = plain_fit(held, fresh, end)
        assert found.slope_per_row[end] == pytest.approx(expected_slope, abs=2e-6)
        assert found.slope_error[end] == pytest.approx(expected_error, rel=2e-3)
        assert found.spread[end] == pytest.approx(expected_spread, rel=2e-3)


def test_a_window_is_as_exact_after_a_month_as_after_an_hour() -> None:
    rng = np.random.default_rng(0)
    values = 278.0 + rng.normal(0, 0.05, 3600)
    fresh, none = np.ones(3600, bool), np.zeros(3600, bool)
    early = extend(WindowSums(1e-4), values, fresh, none)
    month = 30 * 86400
    late = extend(WindowSums(1e-4, month, month, break_row=month), values, fresh, none)
    np.testing.assert_array_equal(early.spread[400:], late.spread[400:])
    np.testing.assert_allclose(early.slope_per_row[400:], late.slope_per_row[400:], rtol=1e-12)


def test_memory_is_bounded() -> None:
    sums = WindowSums(1e-4)
    for _ in range(50):
        extend(sums, np.full(700, 280.0), np.ones(700, bool), np.zeros(700, bool))
    assert sums.count.size < 5000


def test_noise_is_no_swing_and_a_swing_needs_three_like_cycles() -> None:
    rng = np.random.default_rng(1)
    t = np.arange(300.0)
    assert find_swing(280 + rng.normal(0, 0.2, 300)) is None
    uneven = [np.sin(2 * np.pi * np.arange(period) / period) for period in (60, 20, 70, 25, 90, 35)]
    assert find_swing(280 + 3 * np.concatenate(uneven)) is None
    found = find_swing(280 + 2 * np.sin(2 * np.pi * t / 55) + rng.normal(0, 0.1, 300))
    assert found is not None
    assert found.period_s == pytest.approx(55, rel=0.05)
