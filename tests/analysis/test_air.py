"""Moist air: inverses, edges, arrays."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis import air, air_heat

P = 101325.0
TEMPERATURES = st.floats(250.0, 325.0)
HUMIDITIES = st.floats(0.01, 1.0)
PRESSURES = st.floats(65e3, 105e3)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(t=TEMPERATURES, humidity=HUMIDITIES, p=PRESSURES)
def test_states_are_inverse(t, humidity, p):
    w = air.humidity_ratio_from_relative_humidity(t, humidity, p)
    assert air.relative_humidity(t, w, p) == pytest.approx(humidity, rel=1e-9)
    dew = air.dew_point(w, p)
    assert air.humidity_ratio_from_dew_point(dew, p) == pytest.approx(w, rel=1e-6)
    wet = air.wet_bulb(t, w, p)
    if abs(wet - 273.15) > 0.01:  # the formula jumps where the wick freezes
        assert air.humidity_ratio_from_wet_bulb(t, min(wet, t), p) == pytest.approx(w, rel=1e-6, abs=1e-9)
    assert wet <= t + 1e-6
    # The dew point is never above the wet bulb, as long as both see the same phase.
    assert dew <= wet + 1e-6 or dew < 273.16


@settings(derandomize=True, deadline=None, max_examples=60)
@given(q_m=st.floats(0.05, 3.0), t_in=st.floats(285, 305), t_out=st.floats(280, 320), w=st.floats(0, 0.007))
def test_flow_and_heat_are_inverse(q_m, t_in, t_out, w):
    if abs(t_in - t_out) < 0.1:
        return
    heat = air_heat.sensible_heat(q_m, t_in, t_out, w)
    q_v = air_heat.air_flow_from_sensible_heat(heat, t_in, t_out, w, P)
    assert air_heat.dry_air_mass_flow(q_v, t_in, w, P) == pytest.approx(q_m, rel=1e-9)
    total = air_heat.total_heat(q_m, t_in, w, t_out, w)
    q_v = air_heat.air_flow_from_total_heat(total, t_in, w, t_out, w, P)
    assert air_heat.dry_air_mass_flow(q_v, t_in, w, P) == pytest.approx(q_m, rel=1e-9)


def test_arrays_broadcast_and_agree_with_numbers():
    t = np.array([[275.0], [300.0]])
    w = np.array([0.001, 0.004, np.nan])
    wet = air.wet_bulb(t, w, P)
    assert wet.shape == (2, 3)
    assert np.isnan(wet[:, 2]).all()
    assert wet[1, 0] == air.wet_bulb(300.0, 0.001, P)


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_unknown_stays_unknown(bad):
    for value in (
        air.standard_pressure(bad), air.saturation_pressure(bad), air.enthalpy(bad, 0.01),
        air.enthalpy(300.0, bad),
        air.humidity_ratio_from_wet_bulb(bad, 290.0, P), air.humidity_ratio_from_wet_bulb(300.0, bad, P),
        air.humidity_ratio_from_wet_bulb(300.0, 290.0, bad), air.humidity_ratio_from_dew_point(bad, P),
        air.humidity_ratio_from_relative_humidity(300.0, bad, P), air.specific_heat(bad),
        air.specific_volume(300.0, 0.01, bad), air.relative_humidity(300.0, bad, P), air.dew_point(bad, P),
        air.dew_point(0.01, bad), air.wet_bulb(300.0, 0.01, bad), air.wet_bulb(bad, 0.01, P),
        air_heat.total_heat(bad, 300.0, 0.01, 290.0, 0.009), air_heat.sensible_heat(0.5, bad, 290.0, 0.009),
        air_heat.latent_heat(0.5, 300.0, bad, 290.0, 0.009), air_heat.sensible_heat_ratio(bad, 1.0),
        air_heat.dry_air_mass_flow(bad, 300.0, 0.01, P), air_heat.dry_air_mass_flow_from_standard(bad),
        air_heat.air_flow_from_sensible_heat(bad, 300.0, 290.0, 0.009, P),
        air_heat.sensible_factor(bad, 0.0, P), air_heat.total_factor(300.0, 0.0, bad),
    ):  # fmt: skip
        assert np.isnan(value)


def test_impossible_is_not_a_number():
    for value in (
        air.standard_pressure(20e3), air.saturation_pressure(0.0), air.saturation_pressure(-5.0),
        air.humidity_ratio_from_wet_bulb(290.0, 291.0, P),  # wet bulb above dry bulb
        air.humidity_ratio_from_wet_bulb(315.0, 280.0, P),  # drier than dry
        air.humidity_ratio_from_relative_humidity(300.0, 1.2, P),
        air.humidity_ratio_from_relative_humidity(300.0, -0.1, P),
        air.saturation_humidity_ratio(380.0, P),  # water boils
        air.enthalpy(300.0, -0.001), air.specific_heat(-0.1), air.specific_volume(300.0, 0.01, 0.0),
        air.relative_humidity(280.0, 0.05, P), air.wet_bulb(280.0, 0.05, P), air.dew_point(0.0, P),
        air_heat.total_heat(-0.1, 300.0, 0.01, 290.0, 0.009),
        air_heat.sensible_heat(-0.1, 300.0, 290.0, 0.009),
        air_heat.sensible_heat_ratio(1.0, 0.0), air_heat.sensible_heat_ratio(-1.0, 2.0),
        air_heat.dry_air_mass_flow(-1.0, 300.0, 0.01, P), air_heat.dry_air_mass_flow_from_standard(-1.0),
        air_heat.air_flow_from_sensible_heat(1e4, 290.0, 290.0, 0.009, P),
        air_heat.air_flow_from_sensible_heat(1e4, 290.0, 300.0, 0.009, P),  # gives heat and warms up
        air_heat.air_flow_from_total_heat(1e4, 290.0, 0.009, 290.0, 0.009, P),
        air_heat.air_flow_from_total_heat(-1e4, 300.0, 0.009, 290.0, 0.009, P),
    ):  # fmt: skip
        assert np.isnan(value)


def test_heating_is_negative():
    assert air_heat.total_heat(0.5, 290.0, 0.006, 305.0, 0.006) < 0
    assert air_heat.latent_heat(0.5, 290.0, 0.006, 305.0, 0.006) == pytest.approx(0.0, abs=1e-6)
