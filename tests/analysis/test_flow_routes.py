"""Flow by each route: value, uncertainty, notes, refusal to extrapolate."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis import flow_routes as routes
from analysis.liquids import Liquid
from analysis.pressure_drop import PressureDropError, PressureDropTable, RatedPoint
from analysis.pressure_drop_law import drop_correction

WATER = Liquid("water")
LOOP = Liquid("propylene_glycol", mass_fraction=0.25)
FLOWS = (0.2e-3, 0.4e-3, 0.8e-3)
ROWS = (275.0, 295.0)
DROPS = ((4e3, 14e3, 49e3), (3e3, 10.5e3, 36.75e3))
TABLE = PressureDropTable(FLOWS, ROWS, DROPS)


def test_routes_that_may_judge_the_coil():
    free = {route for route in routes.FlowRoute if route.independent_of_coil}
    assert free == {
        routes.FlowRoute.METER,
        routes.FlowRoute.TIMED_CONTAINER,
        routes.FlowRoute.ENERGY_BALANCE,
    }
    assert [route for route in routes.FlowRoute if route.is_bound] == [routes.FlowRoute.COMPRESSOR_INPUT]


def test_meter():
    flow = routes.flow_from_meter(np.array([1e-3, np.nan, -1e-3]), u_fixed=3e-6, u_relative=0.004)
    assert flow.u[0] == pytest.approx(5e-6)
    assert np.isnan(flow.q_v[1:]).all()
    assert np.isnan(flow.u[1:]).all()
    unstated = routes.flow_from_meter(1e-3)
    assert np.isnan(unstated.u)
    assert "not stated" in unstated.notes[0]


def test_bakery_container():
    # Our scenario B: 5.0 gal in 50 s, three runs: 6.0 gpm, u 0.2.
    gallon, gpm = 3.785411784e-3, 6.30901964e-5
    flow = routes.flow_from_timed_container(
        [5 * gallon] * 3, [50.0, 50.4, 49.6], u_volume=0.1 * gallon, u_time=1.0
    )
    assert flow.q_v / gpm == pytest.approx(6.0, abs=0.01)
    assert flow.u / gpm == pytest.approx(0.2, abs=0.05)
    assert flow.notes == ()


def test_container_repeats():
    steady = routes.flow_from_timed_container([0.02] * 3, [50.0, 50.0, 50.0], u_volume=1e-4, u_time=0.2)
    ragged = routes.flow_from_timed_container([0.02] * 3, [40.0, 50.0, 65.0], u_volume=1e-4, u_time=0.2)
    assert ragged.u > 5 * steady.u
    assert "scatter" in ragged.notes[0]
    runs = 0.02 / np.array([40.0, 50.0, 65.0])
    assert ragged.q_v == pytest.approx(runs.mean())
    assert "repeat" in routes.flow_from_timed_container([0.02], [50.0], u_volume=1e-4, u_time=0.2).notes[0]


@pytest.mark.parametrize(
    ("volumes", "times"),
    [([], []), ([0.02], [50.0, 51.0]), ([0.02], [0.0]), ([np.nan], [50.0]), ([-0.02], [50.0])],
)
def test_container_without_sense(volumes, times):
    flow = routes.flow_from_timed_container(volumes, times, u_volume=1e-4, u_time=0.2)
    assert np.isnan(flow.q_v)
    assert np.isnan(flow.u)
    assert flow.notes


@settings(derandomize=True, deadline=None, max_examples=40)
@given(q_v=st.floats(1e-4, 1e-2), change=st.floats(0.5, 12) | st.floats(-12, -0.5))
def test_energy_balance_is_the_inverse_of_heat(q_v, change):
    from analysis.water import heat_from_liquid

    heat = heat_from_liquid(LOOP, q_v, 285.0, 285.0 - change)
    flow = routes.flow_from_energy_balance(LOOP, heat, 285.0, 285.0 - change, u_heat=100.0, u_change=0.1)
    assert flow.q_v == pytest.approx(q_v, rel=1e-9)
    assert flow.u / flow.q_v == pytest.approx(np.hypot(100.0 / heat, 0.1 / change), rel=1e-9)


def test_energy_balance_without_sense():
    for heat, leaving in ((1e4, 285.0), (1e4, 290.0), (np.nan, 280.0), (1e4, np.nan)):
        flow = routes.flow_from_energy_balance(WATER, heat, 285.0, leaving, u_heat=100.0, u_change=0.1)
        assert np.isnan(flow.q_v)
        assert np.isnan(flow.u)
        assert flow.notes


def test_compressor_input():
    assert routes.compressor_input(400.0, 10.0, 0.8, 3) == pytest.approx(5542.6, abs=0.1)
    for wrong in (
        (400.0, 10.0, 1.1, 3),
        (400.0, 10.0, 0.0, 3),
        (-1.0, 10.0, 0.8, 1),
        (230.0, np.nan, 0.8, 1),
    ):
        assert np.isnan(routes.compressor_input(*wrong))
    assert np.isnan(routes.compressor_input(400.0, 10.0, 0.8, 2))


def test_compressor_bounds_hold_the_truth_in_both_modes():
    def bounds(load_heat, leaving):
        return routes.flow_bounds_from_compressor_input(
            WATER, load_heat, 285.0, leaving, voltage=230.0, current=13.0, power_factors=(0.85, 1.0)
        )

    power = 230.0 * 13.0 * 0.93
    heating = routes.flow_for_heat(WATER, 12e3 - power, 285.0, 281.0)
    assert bounds(12e3, 281.0).low < heating < bounds(12e3, 281.0).high
    cooling = routes.flow_for_heat(WATER, -9e3 - power, 285.0, 290.0)
    flow = bounds(-9e3, 290.0)
    assert flow.low < cooling < flow.high
    assert flow.u == pytest.approx((flow.high - flow.low) / 12**0.5)
    assert "bounds only" in flow.notes[0]
    assert np.isnan(bounds(np.nan, 281.0).high)


def test_table_interpolates():
    # Halfway in ln(flow) is halfway in ln(drop); halfway in temperature is halfway in ln(drop).
    flow = TABLE.flow(np.sqrt(4e3 * 14e3), 275.0, u_drop=100.0)
    assert flow.q_v == pytest.approx(np.sqrt(0.2e-3 * 0.4e-3))
    assert flow.route is routes.FlowRoute.PRESSURE_DROP_TABLE
    assert TABLE.flow(np.sqrt(4e3 * 3e3), 285.0, u_drop=100.0).q_v == pytest.approx(0.2e-3)
    n = np.log(14 / 4) / np.log(2)
    relative = flow.u / flow.q_v
    assert relative == pytest.approx(np.hypot(100.0 / np.sqrt(4e3 * 14e3), 0.05) / n, rel=1e-9)


def test_table_is_not_extrapolated():
    drop = np.array([3.9e3, 4.0e3, 49e3, 49.1e3, 0.0, -1e3, np.nan, np.inf])
    flow = TABLE.flow(drop, 275.0, u_drop=100.0)
    assert np.isfinite(flow.q_v).tolist() == [False, True, True, False, False, False, False, False]
    assert np.isnan(flow.u[~np.isfinite(flow.q_v)]).all()
    assert any("not extrapolated" in note for note in flow.notes)
    assert np.isnan(TABLE.flow(14e3, np.nan, u_drop=100.0).q_v)
    assert np.isnan(TABLE.flow(14e3, np.inf, u_drop=100.0).q_v)
    assert np.isnan(TABLE.drop(0.19e-3, 275.0))
    assert np.isnan(TABLE.drop(np.nan, 275.0))


def test_single_number_and_array_agree():
    drop, t = np.linspace(5e3, 30e3, 7), np.linspace(270.0, 300.0, 7)
    flow = TABLE.flow(drop, t, u_drop=100.0, liquid=LOOP)
    single = [
        TABLE.flow(float(d), float(at), u_drop=100.0, liquid=LOOP) for d, at in zip(drop, t, strict=True)
    ]
    assert np.array_equal(flow.q_v, [one.q_v for one in single], equal_nan=True)
    assert np.array_equal(flow.u, [one.u for one in single], equal_nan=True)
    assert np.isfinite(flow.q_v).sum() == 6


def test_one_element_does_not_change_another():
    inside = TABLE.flow(np.array([14e3]), np.array([280.0]), u_drop=100.0)
    mixed = TABLE.flow(np.array([14e3, 14e3]), np.array([280.0, 310.0]), u_drop=100.0)
    assert mixed.q_v[0] == inside.q_v[0]


def test_antifreeze_in_a_water_table():
    plain, mixed = (TABLE.flow(14e3, 280.0, u_drop=100.0, liquid=liquid) for liquid in (WATER, LOOP))
    assert mixed.q_v < plain.q_v  # the same drop, thicker liquid: less flow
    assert mixed.u / mixed.q_v > plain.u / plain.q_v
    assert any("corrected" in note for note in mixed.notes)
    assert plain.notes == ()
    expected = drop_correction(LOOP, 280.0, WATER, 280.0) * TABLE.drop(0.4e-3, 280.0)
    assert TABLE.drop(0.4e-3, 280.0, LOOP) == pytest.approx(expected)


def test_loop_colder_than_a_one_row_table():
    table = PressureDropTable(FLOWS, (283.15,), DROPS[:1])
    flow = table.flow(14e3, 271.0, u_drop=100.0, liquid=LOOP)
    factor = drop_correction(LOOP, 271.0, WATER, 283.15)
    assert table.drop(flow.q_v, 271.0, LOOP) == pytest.approx(14e3)
    assert 1.2 < factor < 1.5
    assert np.isnan(table.flow(14e3, 260.0, u_drop=100.0, liquid=LOOP).q_v)  # frozen


def test_a_row_for_water_below_freezing_is_used_as_printed():
    table = PressureDropTable(FLOWS, (272.04, 295.0), DROPS)
    assert table.flow(14e3, 272.04, u_drop=100.0).q_v == pytest.approx(0.4e-3)
    assert np.isfinite(table.flow(14e3, 271.0, u_drop=100.0, liquid=LOOP).q_v)


def test_hall_by_its_rated_point():
    # Our scenario A: flow = 0.60 (dP / 28.8 kPa) ** (1 / 1.8): 9.8 kPa is 0.33 L/s.
    rated = RatedPoint(0.60e-3, 28.8e3, 275.15, LOOP)
    flow = rated.flow(9.8e3, 275.15, u_drop=200.0)
    assert 1e3 * flow.q_v == pytest.approx(0.33, abs=0.001)
    # The exponent's uncertainty costs ln(2.9) / 1.8 ** 2 * 0.125 = 4.2 %.
    by_exponent = np.log(28.8 / 9.8) / 1.8**2 * 0.125
    assert flow.u / flow.q_v == pytest.approx(np.hypot(by_exponent, 200 / 9.8e3 / 1.8), rel=1e-6)
    assert "exponent 1.8 +- 0.25" in flow.notes[0]


def test_rated_point_is_not_stretched():
    rated = RatedPoint(0.60e-3, 28.8e3, 283.15)
    drop = np.array([2.8e3, 2.9e3, 115e3, 116e3, 0.0, -5.0, np.nan])
    flow = rated.flow(drop, 283.15, u_drop=100.0)
    assert np.isfinite(flow.q_v).tolist() == [False, True, True, False, False, False, False]
    assert "too far" in flow.notes[-1]


@pytest.mark.parametrize(
    ("flows", "temperatures", "drops", "says"),
    [
        (FLOWS[:1], ROWS, ((1.0,), (1.0,)), "two flows"),
        (FLOWS, ROWS, DROPS[:1], "one row of drops per temperature"),
        (FLOWS, ROWS, (DROPS[0], DROPS[1][:2]), "one drop per flow"),
        (FLOWS, ROWS, ((4e3, 14e3, np.nan), DROPS[1]), "above zero"),
        (FLOWS[::-1], ROWS, DROPS, "flows must rise"),
        (FLOWS, ROWS[::-1], DROPS, "temperatures must rise"),
        (FLOWS, ROWS, ((4e3, 60e3, 49e3), DROPS[1]), "Row 1: the drop does not rise from flow 2 to flow 3"),
        (FLOWS, ROWS, DROPS[::-1], "Flow 1: the drop rises with temperature"),
    ],
)
def test_a_misread_table_is_refused(flows, temperatures, drops, says):
    with pytest.raises(PressureDropError, match=says):
        PressureDropTable(flows, temperatures, drops)


def test_a_table_that_only_looks_misread_is_doubted():
    odd = PressureDropTable(FLOWS, ROWS[:1], ((4e3, 6e3, 49e3),))
    assert len(odd.doubts()) == 2
    assert "exponent 0.58" in odd.doubts()[0]


def test_a_rated_point_without_sense_is_refused():
    with pytest.raises(PressureDropError, match="above zero"):
        RatedPoint(0.0, 28.8e3, 283.15)
    with pytest.raises(PressureDropError, match="must be above 1"):
        RatedPoint(0.6e-3, 28.8e3, 283.15, exponent=1.8, u_exponent=0.45)
