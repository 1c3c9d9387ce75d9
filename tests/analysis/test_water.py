"""The water side: worked figures, signs, and what is impossible."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis import static_pressure, water
from analysis.liquids import Liquid

GPM = 6.30901964e-5
BTU_PER_H = 0.29307107
WATER = Liquid("water")
LOOP = Liquid("propylene_glycol", mass_fraction=0.25)


def kelvin(degf: float) -> float:
    return (degf + 459.67) * 5 / 9


def test_hall_story():
    # Our scenario A, as found: brine 0.33 L/s from 4.0 to -2.4 degC gives 8.4 kW; floor 0.53 L/s from 30.0 to
    # 35.1 degC takes 11.2 kW.
    assert water.heat_from_liquid(LOOP, 0.33e-3, 277.15, 270.75) == pytest.approx(8400, abs=50)
    assert water.heat_from_liquid(WATER, 0.53e-3, 303.15, 308.25) == pytest.approx(-11200, abs=60)
    assert water.freeze_margin(LOOP, 273.15 - 8.2) == pytest.approx(1.6, abs=0.05)


def test_bakery_story():
    # Our scenario B: 6.0 gpm from 58.0 to 70.0 degF rejects 36 000 Btu/h.
    heat = water.heat_from_liquid(WATER, 6 * GPM, kelvin(58), kelvin(70))
    assert heat / BTU_PER_H == pytest.approx(-36000, abs=30)


def test_velocity_of_two_bores():
    # Trade form 0.4085 gpm / ID2 (in), ft/s: 9 gpm in 1.049 in and 0.824 in.
    speed = water.velocity(9 * GPM, np.array([1.049, 0.824]) * 0.0254) / 0.3048
    assert speed == pytest.approx([3.34, 5.415], abs=0.005)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(q_v=st.floats(1e-5, 1e-2), t=st.floats(268, 320), heat=st.floats(-20e3, 20e3))
def test_leaving_temperature_is_the_inverse_of_heat(q_v, t, heat):
    t_leaving = water.leaving_temperature(LOOP, q_v, t, heat)
    if not np.isnan(t_leaving):
        assert water.heat_from_liquid(LOOP, q_v, t, t_leaving) == pytest.approx(heat, rel=1e-6, abs=1e-6)


def test_signs():
    assert water.heat_from_liquid(WATER, 1e-3, 290.0, 285.0) > 0
    assert water.heat_from_liquid(WATER, 1e-3, 285.0, 290.0) < 0
    assert water.heat_from_liquid(WATER, 0.0, 285.0, 290.0) == 0


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_unknown_stays_unknown(bad):
    for value in (
        water.mass_flow(WATER, bad, 290.0), water.mass_flow(WATER, 1e-3, bad),
        water.heat_from_liquid(WATER, bad, 290.0, 285.0), water.heat_from_liquid(WATER, 1e-3, bad, 285.0),
        water.heat_from_liquid(WATER, 1e-3, 290.0, bad), water.velocity(bad, 0.02), water.velocity(1e-3, bad),
        water.heat_from_trade_factor(bad, 1e-3, 290.0, 285.0), water.heat_factor(WATER, bad),
        water.leaving_temperature(WATER, bad, 290.0, 1e3), water.leaving_temperature(WATER, 1e-3, 290.0, bad),
        static_pressure.pressure_at_height(WATER, bad, 290.0, 1.0),
        static_pressure.static_head(WATER, 2e5, bad, 290.0),
        water.freeze_margin(WATER, bad), water.cut_out_margin(280.0, bad),
    ):  # fmt: skip
        assert np.isnan(value)


def test_impossible_is_not_a_number():
    assert np.isnan(water.mass_flow(WATER, -1e-3, 290.0))
    assert np.isnan(water.heat_from_liquid(WATER, -1e-3, 290.0, 285.0))
    assert np.isnan(water.velocity(1e-3, 0.0))
    assert np.isnan(water.velocity(-1e-3, 0.02))
    assert np.isnan(water.leaving_temperature(WATER, 0.0, 290.0, 100.0))
    assert np.isnan(water.leaving_temperature(WATER, 1e-4, 280.0, 10e3))  # would be ice
    assert np.isnan(static_pressure.pressure_at_height(WATER, 101325.0, 290.0, 11.0))
    assert np.isnan(static_pressure.static_head(WATER, -1.0, 101325.0, 290.0))
    # A mean below freezing: the figures of the liquid do not hold.
    assert np.isnan(water.heat_from_liquid(WATER, 1e-3, 273.3, 272.0))


def test_arrays_broadcast():
    heat = water.heat_from_liquid(WATER, np.array([[1e-3], [2e-3]]), np.array([290.0, 291.0, np.nan]), 285.0)
    assert heat.shape == (2, 3)
    assert np.isnan(heat).tolist() == [[False, False, True]] * 2
