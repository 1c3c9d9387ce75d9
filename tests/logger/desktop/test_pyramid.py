"""The pyramid keeps every extreme and every gap, however its samples came."""

from __future__ import annotations

import itertools

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.desktop.pyramid import Pyramid


def _filled(values: np.ndarray, cuts: list[int]) -> Pyramid:
    series = Pyramid()
    edges = [0, *sorted({min(cut, values.size) for cut in cuts}), values.size]
    for begin, end in itertools.pairwise(edges):
        if begin < end:
            series.append(values[begin:end])
    return series


@given(st.integers(1, 6000), st.integers(0, 2**32 - 1), st.lists(st.integers(0, 6000), max_size=8), st.data())
@settings(max_examples=60, deadline=None, derandomize=True)
def test_a_view_has_the_same_extremes_and_known_samples_as_the_samples(
    n: int, seed: int, cuts: list[int], data: st.DataObject
) -> None:
    rng = np.random.default_rng(seed)
    values = np.where(rng.random(n) < 0.1, np.nan, rng.normal(0.0, 100.0, n))
    series = _filled(values, cuts)
    begin = data.draw(st.integers(0, n - 1))
    end = data.draw(st.integers(begin + 1, n))
    shown = series.view(begin, end, data.draw(st.integers(1, 800)))
    cut = values[begin:end]
    assert int(shown.first[0]) == begin
    assert int(shown.last[-1]) == end - 1
    assert np.array_equal(shown.first[1:], shown.last[:-1] + 1)
    if np.isfinite(cut).any():
        assert np.nanmin(shown.low) == np.nanmin(cut)
        assert np.nanmax(shown.high) == np.nanmax(cut)
    else:
        assert not np.isfinite(shown.low).any()
    for first, last, low, high, mean in zip(
        shown.first, shown.last, shown.low, shown.high, shown.mean, strict=True
    ):
        part = values[int(first) : int(last) + 1]
        if np.isfinite(part).any():
            assert low == np.nanmin(part)
            assert high == np.nanmax(part)
            np.testing.assert_allclose(mean, np.nanmean(part), rtol=1e-9, atol=1e-7)
        else:
            assert np.isnan([low, high, mean]).all()


@given(st.integers(1, 4000), st.lists(st.integers(0, 4000), max_size=10))
@settings(max_examples=40, deadline=None, derandomize=True)
def test_any_way_of_cutting_gives_the_same_view(n: int, cuts: list[int]) -> None:
    values = np.sin(np.arange(n) * 0.01) * np.arange(n)
    whole, cut = _filled(values, []).view(0, n, 50), _filled(values, cuts).view(0, n, 50)
    for name in ("first", "last", "low", "high", "mean"):
        np.testing.assert_array_equal(getattr(whole, name), getattr(cut, name))


def test_a_view_of_a_long_series_is_short() -> None:
    series = Pyramid()
    series.append(np.zeros(1_000_000))
    assert 744 <= series.view(0, 1_000_000, 744).low.size <= 4 * 744 + 2


def test_a_dropout_stays_a_gap() -> None:
    values = np.ones(10_000)
    values[4000:6000] = np.nan
    shown = _filled(values, []).view(0, 10_000, 100)
    assert np.isnan(shown.mean[(shown.first >= 4000) & (shown.last < 6000)]).all()
    assert np.isfinite(shown.mean[(shown.last < 4000) | (shown.first >= 6000)]).all()


def test_beyond_the_end_there_is_nothing() -> None:
    assert Pyramid().view(0, 10, 5).low.size == 0
