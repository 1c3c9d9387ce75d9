"""Readings in columns."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.measure import Quality, Reading
from analysis.rows import Rows

items = st.lists(
    st.tuples(
        st.integers(-(10**12), 10**12),
        st.sampled_from("abcd"),
        st.floats(allow_nan=False, allow_infinity=False),
        st.integers(0, 1023),
    ),
    max_size=30,
)


@settings(derandomize=True, deadline=None, max_examples=100)
@given(readings=items, cuts=st.lists(st.integers(0, 30), max_size=4))
def test_cut_anywhere_and_joined_it_is_the_same(
    readings: list[tuple[int, str, float, int]], cuts: list[int]
) -> None:
    whole = Rows.of(readings)
    edges = [0, *sorted(min(cut, len(whole)) for cut in cuts), len(whole)]
    pieces = [Rows.of(readings[start:end]) for start, end in pairwise(edges)]
    assert Rows.concatenate(pieces).equals(whole)
    assert Rows.concatenate([whole.take(slice(s, e)) for s, e in pairwise(edges)]).equals(whole)


def test_what_is_not_a_number_is_not_known() -> None:
    rows = Rows.of(
        [(0, "a", math.inf, 0), (1, "a", math.nan, 0), (2, "b", None, Quality.LATE), (3, "b", -0.0, 0)]
    )
    assert np.isnan(rows.value[:3]).all()
    assert rows.quality.tolist() == [1, 1, 129, 0]
    assert math.copysign(1.0, rows.value[3]) == -1.0


def test_readings_are_quantised_once() -> None:
    rows = Rows.from_readings(
        [Reading(1_000_001_999, "a", 2.5), Reading(999_999_999, "a", None)], 1_000_000_000
    )
    assert rows.t_us.tolist() == [1, -1]
    assert rows.ids == ("a",)


def test_other_orders_of_channels() -> None:
    rows = Rows.of([(0, "a", 1.0, 0), (1, "b", 2.0, 0)])
    turned = rows.indexed_by(("b", "c", "a"))
    assert turned.channel.tolist() == [2, 0]
    assert turned.equals(rows)
    assert rows.only("b").value.tolist() == [2.0]
    assert len(rows.only("never")) == 0
    with pytest.raises(ValueError, match="channels b are not"):
        rows.indexed_by(("a", "c"))


def test_columns_that_do_not_fit_are_refused() -> None:
    one = np.zeros(1, np.int64)
    with pytest.raises(ValueError, match="different length"):
        Rows(("a",), one, np.zeros(2, np.int32), np.zeros(1), np.zeros(1, np.uint16))
    with pytest.raises(ValueError, match="outside"):
        Rows(("a",), one, np.ones(1, np.int32), np.zeros(1), np.zeros(1, np.uint16))
