"""Single-phase states: against the library's own flash, edges, failures."""

from __future__ import annotations

import math

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from analysis.saturation import refrigerant
from analysis.states import SinglePhase


@pytest.mark.parametrize("name", ["R22", "R134a", "R290", "R32", "R410A", "R407C"])
def test_against_the_flash_of_the_library(name):
    fluid = refrigerant(name)
    states = SinglePhase(fluid)
    p_low = fluid.p_dew(275.0)
    p_high = fluid.p_bubble(315.0)
    gas = {what: PropsSI(what, "P", p_low, "T", 285.0, name) for what in ("Hmass", "Smass", "Dmass")}
    liquid = PropsSI("Hmass", "P", p_high, "T", 305.0, name)
    assert states.gas("enthalpy", p_low, 285.0) == pytest.approx(gas["Hmass"] + fluid.h_offset, abs=0.1)
    assert states.gas("density", p_low, 285.0) == pytest.approx(gas["Dmass"], rel=1e-9)
    assert states.liquid("enthalpy", p_high, 305.0) == pytest.approx(liquid + fluid.h_offset, abs=0.1)
    ideal = PropsSI("T", "P", p_high, "Smass", gas["Smass"], name)
    assert states.isentropic_temperature(p_low, 285.0, p_high) == pytest.approx(ideal, abs=1e-4)


@pytest.mark.parametrize(
    "name", ["R22", "R32", "R404A", "R410A", "R448A", "R454B", "R452B", "R507A", "R513A"]
)
def test_saturation_and_single_phase_join(name):
    # At saturation plus or minus 0.01 K the enthalpies of table and library differ by c_p times that.
    fluid = refrigerant(name)
    states = SinglePhase(fluid)
    p = np.linspace(4e5, 2.4e6, 9)
    assert states.gas("enthalpy", p, fluid.t_dew(p) + 0.01) == pytest.approx(fluid.h_dew(p), abs=40)
    assert states.liquid("enthalpy", p, fluid.t_bubble(p) - 0.01) == pytest.approx(fluid.h_bubble(p), abs=40)


def test_wrong_side_of_saturation_is_not_known():
    fluid = refrigerant("R410A")
    states = SinglePhase(fluid)
    assert math.isnan(states.gas("enthalpy", 8e5, fluid.t_dew(8e5) - 0.1))
    assert math.isnan(states.liquid("enthalpy", 2.4e6, fluid.t_bubble(2.4e6) + 0.1))
    assert math.isfinite(states.gas("enthalpy", 8e5, fluid.t_dew(8e5)))
    assert math.isfinite(states.liquid("enthalpy", 2.4e6, fluid.t_bubble(2.4e6)))


@pytest.mark.parametrize("bad", [math.nan, math.inf, -1.0, 0.0, 1e9])
def test_impossible_pressure(bad):
    states = SinglePhase(refrigerant("R410A"))
    assert math.isnan(states.gas("enthalpy", bad, 290.0))
    assert math.isnan(states.liquid("enthalpy", bad, 290.0))
    assert math.isnan(states.isentropic_temperature(bad, 290.0, 2e6))
    assert math.isnan(states.isentropic_temperature(8e5, 290.0, bad))


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf, 0.0, 1e6])
def test_impossible_temperature(bad):
    states = SinglePhase(refrigerant("R410A"))
    assert math.isnan(states.gas("enthalpy", 8e5, bad))
    assert math.isnan(states.liquid("enthalpy", 2e6, bad))
    assert math.isnan(states.isentropic_temperature(8e5, bad, 2e6))


def test_one_missing_reading_leaves_the_rest():
    states = SinglePhase(refrigerant("R410A"))
    h = states.gas("enthalpy", np.array([8e5, np.nan, 8e5]), np.array([285.0, 285.0, np.nan]))
    assert np.isfinite(h).tolist() == [True, False, False]
    t = states.isentropic_temperature(np.array([8e5, 8e5]), np.array([285.0, np.nan]), 2e6)
    assert np.isfinite(t).tolist() == [True, False]
    assert h[0] == states.gas("enthalpy", 8e5, 285.0)


def test_shapes_broadcast():
    states = SinglePhase(refrigerant("R32"))
    assert states.gas("density", np.array([[8e5], [9e5]]), np.array([300.0, 310.0, 320.0])).shape == (2, 3)
    assert "CoolProp" in states.source
