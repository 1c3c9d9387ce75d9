"""The autocorrelation that a stretch carries: the same in any chunking, honest about gaps and constants."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.measured import Column
from analysis.windows import _Sums, mean_of


def column(values: list[float] | np.ndarray) -> Column:
    rows = np.asarray(values, float)
    return Column(rows, np.where(np.isfinite(rows), 0.1, np.nan), np.zeros(rows.size))


def plain_rho(rows: np.ndarray) -> float:
    """Give the same by the textbook's sums over pairs of neighbours that are both known."""
    known = rows[np.isfinite(rows)]
    off = rows - known.mean()
    pairs = off[:-1] * off[1:]
    return float(np.nanmean(pairs) / known.var())


@settings(derandomize=True, deadline=None, max_examples=60)
@given(
    cuts=st.lists(st.integers(0, 400), max_size=8),
    gaps=st.lists(st.integers(0, 399), max_size=12),
    seed=st.integers(0, 20),
)
def test_any_chunking_gives_the_same_to_rounding(cuts: list[int], gaps: list[int], seed: int) -> None:
    rows = 300.0 + np.cumsum(np.random.default_rng(seed).normal(0, 0.05, 400))
    rows[gaps] = np.nan
    sums = _Sums()
    for begin, end in itertools.pairwise([0, *sorted(cuts), 400]):
        sums.add(column(rows), slice(begin, end))
    cut, whole = sums.mean(), mean_of(column(rows))
    assert cut.rho == pytest.approx(whole.rho, abs=1e-9)
    assert whole.rho == pytest.approx(min(max(plain_rho(rows), -1.0), 1.0), abs=1e-6)
    assert (cut.rows, cut.value) == (whole.rows, pytest.approx(whole.value))


def test_rows_on_either_side_of_a_gap_are_no_neighbours() -> None:
    alternating = [1.0, np.nan, -1.0, np.nan] * 50
    assert math.isnan(mean_of(column(alternating)).rho)
    assert mean_of(column([1.0, -1.0] * 50)).rho == pytest.approx(-1.0)


@pytest.mark.parametrize("values", [[], [280.0], [np.nan, np.nan], [280.1] * 500])
def test_where_nothing_varies_there_is_no_correlation(values: list[float]) -> None:
    assert math.isnan(mean_of(column(values)).rho)


def test_a_probe_read_every_ten_seconds_is_worth_a_tenth_of_its_held_rows() -> None:
    from analysis.repeatability import effective_rows

    held = np.repeat(np.random.default_rng(3).normal(280.0, 0.1, 90), 10)
    assert effective_rows(mean_of(column(held))) < 90
