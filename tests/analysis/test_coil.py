"""The coil: inverses, our scenarios, crossing temperatures, scale or low flow."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis import coil
from analysis.coil_condition import CoilCondition, Ratio, scale_or_low_flow
from analysis.flow_routes import FlowResult, FlowRoute, flow_from_meter
from analysis.liquids import Liquid

GPM = 6.30901964e-5
BTU_PER_H_DEGF = 0.29307107 * 9 / 5
WATER = Liquid("water")
LOOP = Liquid("propylene_glycol", mass_fraction=0.25)


@settings(derandomize=True, deadline=None, max_examples=80)
@given(
    q_v=st.floats(1e-4, 1e-3),
    ua=st.floats(100, 3000),
    t=st.floats(276, 300),
    heat=st.floats(500, 15e3) | st.floats(-15e3, -500),
)
def test_saturation_temperature_is_the_inverse_of_ua(q_v, ua, t, heat):
    capacity_rate = WATER.density(t) * q_v * WATER.specific_heat(t)
    saturation = coil.saturation_temperature(ua, capacity_rate, t, heat)
    leaving = t + heat / capacity_rate
    ntu = coil.ntu_from_effectiveness(coil.effectiveness(t, leaving, saturation))
    if not np.isnan(ntu):
        assert ntu * capacity_rate == pytest.approx(ua, rel=1e-5)
        assert coil.ua_from_lmtd(heat, coil.coil_lmtd(t, leaving, saturation)) == pytest.approx(ua, rel=1e-5)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(a=st.floats(0.01, 80), b=st.floats(0.01, 80))
def test_lmtd_lies_between_geometric_and_arithmetic_mean(a, b):
    mean = coil.lmtd(a, b)
    assert (a * b) ** 0.5 * (1 - 1e-12) <= mean <= (a + b) / 2 * (1 + 1e-12)
    assert mean == pytest.approx(coil.lmtd(b, a), rel=1e-12)


def test_hall_evaporator():
    # Our scenario A: UA 1396 W/K at 0.60 L/s, UA ~ flow ** 0.6, hence 976 W/K at 0.33 L/s.
    clean = coil.ua_from_ntu(LOOP, 0.60e-3, 277.15, 273.25, 273.15 - 4.8)
    assert clean == pytest.approx(1396, rel=0.01)
    found = coil.ua_from_ntu(LOOP, 0.33e-3, 277.15, 270.75, 273.15 - 8.2)
    assert found == pytest.approx(coil.ua_at_flow(clean, 0.60, 0.33), rel=0.02)


def test_bakery_condenser():
    # Our scenario B: UA 981 Btu/(h degF) scaled, 1609 flushed, at 6.0 gpm.
    def kelvin(degf):
        return (degf + 459.67) * 5 / 9

    scaled = coil.ua_from_ntu(WATER, 6 * GPM, kelvin(58.0), kelvin(70.0), kelvin(101.0)) / BTU_PER_H_DEGF
    flushed = coil.ua_from_ntu(WATER, 6 * GPM, kelvin(58.0), kelvin(69.9), kelvin(86.5)) / BTU_PER_H_DEGF
    assert (scaled, flushed) == (pytest.approx(981, rel=0.01), pytest.approx(1609, rel=0.01))


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_unknown_stays_unknown(bad):
    for value in (
        coil.lmtd(bad, 5.0), coil.lmtd(5.0, bad), coil.coil_lmtd(bad, 290.0, 310.0),
        coil.coil_lmtd(285.0, 290.0, bad),
        coil.effectiveness(285.0, bad, 310.0), coil.ntu_from_effectiveness(bad),
        coil.effectiveness_from_ntu(bad),
        coil.ua_from_lmtd(bad, 10.0), coil.ua_from_lmtd(1e4, bad), coil.ua_at_flow(bad, 1.0, 1.0),
        coil.ua_from_ntu(WATER, bad, 285.0, 290.0, 310.0), coil.fouling_resistance(bad, 1e3),
        coil.saturation_temperature(1e3, 2e3, bad, 1e4),
    ):  # fmt: skip
        assert np.isnan(value)


def test_crossing_and_impossible_is_not_a_number():
    for value in (
        coil.lmtd(0.0, 5.0), coil.lmtd(-1.0, 5.0), coil.lmtd(5.0, -5.0),
        coil.coil_lmtd(285.0, 290.0, 289.0),  # condensing between entering and leaving
        coil.coil_lmtd(285.0, 290.0, 284.0),  # condensing below entering: the wrong refrigerant scale
        coil.coil_lmtd(285.0, 280.0, 310.0),  # cools though the coil is hotter
        coil.effectiveness(285.0, 290.0, 290.0), coil.effectiveness(285.0, 290.0, 285.0),
        coil.effectiveness(285.0, 290.0, 280.0), coil.ntu_from_effectiveness(1.0),
        coil.ntu_from_effectiveness(-0.1),
        coil.effectiveness_from_ntu(-1.0), coil.ua_from_lmtd(1e4, 0.0),
        coil.ua_from_ntu(WATER, 0.0, 285.0, 290.0, 310.0),
        coil.ua_from_ntu(WATER, -1e-3, 285.0, 290.0, 310.0),
        coil.ua_at_flow(1e3, 0.0, 1.0), coil.ua_at_flow(-1e3, 1.0, 1.0), coil.fouling_resistance(0.0, 1e3),
        coil.fouling_resistance(1e3, 0.0), coil.saturation_temperature(0.0, 2e3, 290.0, 1e4),
    ):  # fmt: skip
        assert np.isnan(value)


def test_arrays():
    value = coil.ua_from_ntu(WATER, np.array([1e-3, np.nan]), 285.0, 290.0, np.array([[310.0], [280.0]]))
    assert np.isfinite(value).tolist() == [[True, False], [False, False]]


METER = flow_from_meter(6 * GPM, u_relative=0.02)
LOW = flow_from_meter(3 * GPM, u_relative=0.02)
FEW = 5 * GPM
POOR, GOOD, HIGH = Ratio(0.61, 0.04), Ratio(1.0, 0.04), Ratio(1.6, 0.1)


@pytest.mark.parametrize(
    ("flow", "conductance", "drop", "expected"),
    [
        (METER, POOR, HIGH, CoilCondition.SCALE),
        (METER, GOOD, GOOD, CoilCondition.NEITHER),
        (LOW, GOOD, GOOD, CoilCondition.LOW_FLOW),
        (LOW, POOR, HIGH, CoilCondition.SCALE_AND_LOW_FLOW),
        (METER, POOR, GOOD, CoilCondition.CANNOT_SAY),
        (METER, GOOD, HIGH, CoilCondition.CANNOT_SAY),
        (METER, POOR, None, CoilCondition.CANNOT_SAY),
        (METER, None, HIGH, CoilCondition.CANNOT_SAY),
        (METER, Ratio(np.nan, 0.1), HIGH, CoilCondition.CANNOT_SAY),
        (METER, Ratio(0.61, np.nan), HIGH, CoilCondition.CANNOT_SAY),
        (METER, Ratio(0.61, 0.3), HIGH, CoilCondition.CANNOT_SAY),
        (LOW, None, None, CoilCondition.LOW_FLOW),
        (flow_from_meter(np.nan, u_relative=0.02), POOR, HIGH, CoilCondition.CANNOT_SAY),
        (flow_from_meter(6 * GPM), POOR, HIGH, CoilCondition.CANNOT_SAY),
    ],
)
def test_scale_or_low_flow(flow, conductance, drop, expected):
    verdict = scale_or_low_flow(flow, FEW, conductance, drop)
    assert verdict.condition is expected
    assert verdict.reasons


@pytest.mark.parametrize(
    "route", [FlowRoute.PRESSURE_DROP_TABLE, FlowRoute.RATED_POINT, FlowRoute.COMPRESSOR_INPUT]
)
def test_a_flow_from_the_coil_cannot_judge_the_coil(route):
    verdict = scale_or_low_flow(FlowResult(6 * GPM, 0.1 * GPM, route), FEW, POOR, HIGH)
    assert verdict.condition is CoilCondition.CANNOT_SAY
    assert "cannot also judge the coil" in verdict.reasons[0]


def test_an_unknown_limit_cannot_be_judged():
    assert scale_or_low_flow(METER, float("nan"), POOR, HIGH).condition is CoilCondition.CANNOT_SAY
