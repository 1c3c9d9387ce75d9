"""The water side: worked figures, signs, and what is impossible."""

from __future__ import annotations

import csv
import gzip
import os
import pathlib

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


def test_manual_example_of_extracted_heat():
    # An enthalpy-of-extraction example printed in a maker's manual: EWT 50 degF, 6 gpm, 36 700 Btu/h with the
    # factor 500: 12.23 degF drop, LWT 37.77 degF.
    drop = 36700 / (water.TRADE_FACTOR_WATER * 6)
    assert (round(drop, 2), round(50 - drop, 2)) == (12.23, 37.77)
    heat = water.heat_from_trade_factor(500.0, 6 * GPM, kelvin(50), kelvin(50 - drop))
    assert heat / BTU_PER_H == pytest.approx(36700, rel=1e-6)
    # With the factor of water at that temperature, 502.3, the leaving water is 0.06 degF warmer.
    t = water.leaving_temperature(WATER, 6 * GPM, kelvin(50), 36700 * BTU_PER_H)
    assert t * 9 / 5 - 459.67 == pytest.approx(37.83, abs=0.01)


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


def test_chiller_log_factor():
    # ASHRAE RP-1043 no-fault log: tons, gpm and water temperatures; its own factor is 500.0 exactly.
    lab = os.environ.get("EVENRUN_LAB_DATA")
    if not lab:
        pytest.skip("EVENRUN_LAB_DATA does not name the folder of measured series")
    path = pathlib.Path(lab) / "rp1043_normal.csv.gz"
    with gzip.open(path, "rt") as file:
        rows = [row for row in csv.DictReader(file) if float(row["FWC"]) > 50 and float(row["kW"]) > 5]
    for name, flow, entering, leaving in (
        ("Cond Tons", "FWC", "TCI", "TCO"),
        ("Evap Tons", "FWE", "TEO", "TEI"),
    ):
        tons, gpm, cold, warm = (
            np.array([float(r[k]) for r in rows]) for k in (name, flow, entering, leaving)
        )
        change = warm - cold
        clear = np.abs(change) > 4
        factor = tons[clear] * 12000 / (gpm[clear] * change[clear])
        assert np.median(factor) == pytest.approx(500.0, abs=0.1)
        heat = water.heat_from_trade_factor(500.0, gpm[clear] * GPM, kelvin(cold[clear]), kelvin(warm[clear]))
        assert np.median(-heat / BTU_PER_H / 12000 / tons[clear]) == pytest.approx(1.0, abs=2e-4)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(q_v=st.floats(1e-5, 1e-2), t=st.floats(268, 320), heat=st.floats(-20e3, 20e3))
def test_leaving_temperature_is_the_inverse_of_heat(q_v, t, heat):
    t_leaving = water.leaving_temperature(LOOP, q_v, t, heat)
    if not np.isnan(t_leaving):
        assert water.heat_from_liquid(LOOP, q_v, t, t_leaving) == pytest.approx(heat, rel=1e-6, abs=1e-6)


def test_trade_factors_beside_the_computed_one():
    # 500 on 30 % propylene glycol over-reports by 6 %, 485 on water under-reports by 3 %.
    over = water.TRADE_FACTOR_WATER / water.heat_factor(
        Liquid("propylene_glycol", mass_fraction=0.30), 283.15
    )
    under = water.TRADE_FACTOR_ANTIFREEZE / water.heat_factor(WATER, 289.0)
    assert (over, under) == (pytest.approx(1.062, abs=0.002), pytest.approx(0.969, abs=0.002))


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
