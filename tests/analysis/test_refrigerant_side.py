"""Refrigerant-side quantities: our scenario, signs, what is impossible."""

from __future__ import annotations

import numpy as np
import pytest

from analysis import performance
from analysis import refrigerant_side as side
from analysis.saturation import refrigerant
from analysis.states import SinglePhase

BAROMETER = 94.32e3


def hall(**changes):
    """Our scenario A as left: R410A, heating."""
    readings = {
        "p_suction": 589e3 + BAROMETER, "t_suction": 274.45, "p_discharge": 2285e3 + BAROMETER,
        "t_discharge": 350.15, "p_liquid": 2285e3 + BAROMETER, "t_liquid": 307.15,
    }  # fmt: skip
    return side.cycle(SinglePhase(refrigerant("R410A")), **(readings | changes))


def test_hall_story_as_left():
    # The scenario states 12.1 kW to the floor, 2.96 kW, isentropic 0.66 less 6 % shell loss, swept volume
    # 8.68 m3/h, volumetric 0.96 - 0.025 (ratio - 1) = 0.898.
    corners = hall()
    q_m = performance.refrigerant_mass_flow(12100.0, corners.h_discharge, corners.h_liquid)
    assert performance.volumetric_efficiency(q_m, corners.rho_suction, 8.68 / 3600) == pytest.approx(
        0.898, abs=0.02
    )
    found = performance.compressor_power_ratio(q_m, corners.h_suction, corners.h_discharge, 2960.0)
    assert found == pytest.approx(0.94, abs=0.03)
    ideal = performance.isentropic_efficiency(
        corners.h_suction, corners.h_discharge, corners.h_discharge_isentropic
    )
    assert ideal == pytest.approx(0.66 / 0.94, abs=0.03)
    assert performance.cop(12100.0, 2960.0) == pytest.approx(4.09, abs=0.005)


def test_a_missing_reading_takes_only_what_needs_it():
    corners = hall(t_liquid=np.nan)
    assert np.isnan(corners.h_liquid)
    assert np.isfinite(corners.h_discharge)
    corners = hall(t_suction=np.array([274.45, np.nan]))
    assert np.isfinite(corners.h_discharge_isentropic).tolist() == [True, False]


def test_no_subcooling_means_no_liquid_enthalpy():
    assert np.isnan(hall(t_liquid=320.0).h_liquid)


def test_approaches_keep_their_sign():
    assert side.condensing_approach(300.0, 305.0) == -5.0
    assert side.evaporating_approach(270.0, 275.0) == -5.0
    assert side.suction_line_gain(275.0, 274.0) == -1.0


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_unknown_stays_unknown(bad):
    fluid = refrigerant("R22")
    for value in (
        side.compression_ratio(bad, 2e6), side.compression_ratio(8e5, bad),
        performance.cop(bad, 1e3), performance.cop(1e3, bad), performance.load_heat(9e3, bad),
        side.discharge_superheat(fluid, bad, 350.0), side.discharge_superheat(fluid, 2e6, bad),
        side.condensing_approach(bad, 300.0), side.evaporating_approach(300.0, bad),
        performance.eer(bad, 1e3),
        performance.refrigerant_mass_flow(bad, 4e5, 2e5), performance.refrigerant_mass_flow(1e4, bad, 2e5),
        performance.isentropic_efficiency(bad, 4.5e5, 4.4e5),
        performance.volumetric_efficiency(bad, 25.0, 2e-3),
        performance.compressor_power_ratio(0.05, 4.2e5, bad, 3e3), performance.load_heat(bad, 3e3),
    ):  # fmt: skip
        assert np.isnan(value)


def test_impossible_is_not_a_number():
    for value in (
        side.compression_ratio(0.0, 2e6), side.compression_ratio(-1.0, 2e6), side.compression_ratio(2e6, 8e5),
        performance.cop(1e4, 0.0), performance.cop(-1e4, 3e3), performance.cop(1e4, -3e3),
        performance.eer(1e4, 0.0),
        performance.refrigerant_mass_flow(1e4, 2e5, 2e5), performance.refrigerant_mass_flow(1e4, 2e5, 4e5),
        performance.isentropic_efficiency(4.2e5, 4.2e5, 4.5e5),
        performance.isentropic_efficiency(4.2e5, 4.5e5, 4.1e5),
        performance.volumetric_efficiency(-0.05, 25.0, 2e-3),
        performance.volumetric_efficiency(0.05, 0.0, 2e-3),
        performance.compressor_power_ratio(0.05, 4.2e5, 4.6e5, 0.0), performance.load_heat(9e3, -1.0),
    ):  # fmt: skip
        assert np.isnan(value)


def test_an_efficiency_above_one_is_kept_as_evidence():
    assert performance.isentropic_efficiency(4.2e5, 4.4e5, 4.5e5) == pytest.approx(1.5)
