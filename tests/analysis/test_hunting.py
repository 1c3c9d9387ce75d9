"""The memory of swings: the same in any chunking, and nothing carried over to another signal."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.hunting import Swings, find_swing

N = 900
T = np.arange(N)


def told(cuts: list[int]) -> tuple[np.ndarray, object]:
    values = np.stack(
        [
            280.0 + np.where(T > 400, 1.2 * np.sin(2 * np.pi * T / 48.0), 0.0),
            np.full(N, 270.0),
        ]
    )
    may = np.stack([T > 450, np.zeros(N, bool)])
    swings, found = Swings().of([-1, -1]), []
    for begin, end in zip([0, *cuts], [*cuts, N], strict=True):
        found.append(swings.extend(begin, values[:, begin:end], may[:, begin:end]))
    return np.concatenate(found, axis=1), swings.now[0]


@settings(derandomize=True, deadline=None, max_examples=30)
@given(cuts=st.lists(st.integers(1, N - 1), max_size=6, unique=True).map(sorted))
def test_any_chunking_gives_the_same_swings(cuts: list[int]) -> None:
    hunts, now = told(cuts)
    whole, whole_now = told([])
    np.testing.assert_array_equal(hunts, whole)
    assert now == whole_now
    assert whole[0, -1]
    assert not whole[1].any()


def test_a_new_signal_begins_without_a_memory() -> None:
    swings = Swings().of([-1])
    swings.extend(0, (280.0 + np.sin(2 * np.pi * T / 48.0))[None], np.ones((1, N), bool))
    assert swings.now[0] is not None
    other = swings.of([-1, 0])
    assert other.now[0] is None
    assert other.now[1] == swings.now[0]
    assert np.isnan(other.tails[0]).all()


def test_a_swing_below_one_kelvin_is_none() -> None:
    assert find_swing(280.0 + 0.45 * np.sin(2 * np.pi * np.arange(300) / 40.0)) is None
