"""The straight line through visits: against numpy's, and drift told only where it is there."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.history import fit


@settings(derandomize=True, deadline=None, max_examples=60)
@given(
    st.lists(
        st.tuples(st.floats(0.0, 5.0), st.floats(-20.0, 20.0), st.floats(0.05, 2.0)),
        min_size=3, max_size=12, unique_by=lambda one: round(one[0], 2),
    )
)  # fmt: skip
def test_the_line_is_numpys_weighted_least_squares(visits: list[tuple[float, float, float]]) -> None:
    t, y, u = (list(column) for column in zip(*visits, strict=True))
    slope, _, _ = fit(t, y, u)
    # numpy.polyfit takes weights on the residuals themselves, 1/u.
    (expected, _), covariance = np.polyfit(t, y, 1, w=1.0 / np.array(u), cov="unscaled")
    assert slope == pytest.approx(expected, rel=1e-6, abs=1e-6)
    scatter = math.sqrt(
        sum(((b - np.polyval(np.polyfit(t, y, 1, w=1 / np.array(u)), a)) / c) ** 2 for a, b, c in visits)
        / (len(t) - 2)
    )
    if scatter < 0.99:
        assert fit(t, y, u)[1] == pytest.approx(math.sqrt(covariance[0, 0]), rel=1e-6)


def test_of_machines_that_do_not_drift_few_are_said_to() -> None:
    rng = np.random.default_rng(5)
    said = 0
    for _ in range(2000):
        u = np.full(5, 0.3)
        slope, _, limit = fit([0.0, 0.5, 1.0, 1.5, 2.0], list(5.0 + rng.normal(0.0, 0.3, 5)), list(u))
        said += abs(slope) > limit
    assert said / 2000 < 0.055  # 95 %, and fewer since scatter raises the limit


def test_a_drift_beyond_its_uncertainty_is_seen_and_scatter_hides_it() -> None:
    years, u = [0.0, 0.5, 1.0, 1.5], [0.1] * 4
    slope, _, limit = fit(years, [5.0, 5.3, 5.6, 5.9], u)
    assert slope == pytest.approx(0.6)
    assert slope > limit
    slope, _, limit = fit(years, [5.0, 6.5, 4.6, 5.9], u)
    assert abs(slope) < limit


def test_without_promises_the_scatter_alone_decides() -> None:
    slope, u, limit = fit([0.0, 1.0, 2.0], [5.0, 5.1, 5.6], [math.nan] * 3)
    assert slope == pytest.approx(0.3)
    assert limit == pytest.approx(12.71 * u)
    assert slope < limit
