"""A steady stretch ends before what ended it, and its means hold nothing of the change."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.analyser import Results
from analysis.measured import Column
from analysis.settings import Settings
from analysis.verdict import State
from analysis.windows import ENDS_BEFORE_ROWS, steady_stretches

SETTINGS = Settings(mode="heating")


def rows(value: np.ndarray, state: np.ndarray, first: int) -> Results:
    n = value.size
    column = Column(value, np.full(n, 0.1), np.zeros(n))
    judgement = SimpleNamespace(overall=SimpleNamespace(state=state))
    t_us = (first + np.arange(n, dtype=np.int64)) * 1_000_000
    return Results(t_us, {"pump_current": column}, {}, judgement, {}, {}, SETTINGS)  # type: ignore[arg-type]


@given(noticed=st.integers(1, ENDS_BEFORE_ROWS), cut=st.integers(1, 399))
def test_a_trip_that_is_noticed_late_is_not_in_the_means(noticed: int, cut: int) -> None:
    value = np.full(400, 0.92)
    value[300:] = 0.0
    state = np.full(400, int(State.STEADY), np.int8)
    state[300 + noticed :] = int(State.DISTURBED)
    results = [rows(value[a:b], state[a:b], a) for a, b in ((0, cut), (cut, 400))]
    (stretch,) = steady_stretches(results)
    assert stretch.to_us < 300_000_000
    assert stretch.points["pump_current"].value == pytest.approx(0.92, abs=1e-12)
    assert stretch.points["pump_current"].rows == 300 + noticed - ENDS_BEFORE_ROWS


def test_a_stretch_that_goes_on_to_the_end_keeps_all_its_rows() -> None:
    value = np.full(100, 0.92)
    (stretch,) = steady_stretches([rows(value, np.full(100, int(State.STEADY), np.int8), 0)])
    assert (stretch.from_us, stretch.to_us) == (0, 99_000_000)
    assert stretch.points["pump_current"].rows == 100
