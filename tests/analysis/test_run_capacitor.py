"""The run capacitor: the trade's two factors, and what is impossible."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.run_capacitor import LOWEST_RATIO, capacitance_ratio, run_capacitance


def test_trade_factors():
    # Trade form, uF = 2653 I / V at 60 Hz and 3183 I / V at 50 Hz (rounded 1e6 / (2 pi f)).
    assert 1e6 * run_capacitance(1.0, 1.0, 60.0) == pytest.approx(2653, abs=0.5)
    assert 1e6 * run_capacitance(1.0, 1.0, 50.0) == pytest.approx(3183, abs=0.5)
    assert 1e6 * run_capacitance(4.9, 370.0, 60.0) == pytest.approx(35.1, abs=0.05)


def test_hall_pump():
    # Our scenario A: 1.9 uF where 5.0 is marked.
    assert capacitance_ratio(1.9e-6, 5.0e-6) < LOWEST_RATIO
    assert capacitance_ratio(4.75e-6, 5.0e-6) > LOWEST_RATIO


def test_unknown_and_impossible():
    for value in (
        run_capacitance(np.nan, 370.0, 60.0), run_capacitance(4.9, 0.0, 60.0),
        run_capacitance(4.9, 370.0, 0.0),
        run_capacitance(-1.0, 370.0, 60.0), run_capacitance(4.9, np.inf, 60.0),
        capacitance_ratio(np.nan, 5e-6), capacitance_ratio(5e-6, 0.0), capacitance_ratio(-1e-6, 5e-6),
    ):  # fmt: skip
        assert np.isnan(value)
