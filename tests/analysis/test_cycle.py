"""The four states of the circuit: from the library's own values, and never from a missing one."""

from __future__ import annotations

import math

import pytest

from analysis.cycle import Measured, cycle_of, isotherm
from analysis.phase_enthalpy import PhaseEnthalpy
from analysis.saturation import refrigerant
from analysis.states import SinglePhase

R410A = refrigerant("R410A")
TABLE = PhaseEnthalpy(R410A)
HALL = {
    "suction": (Measured(609.3e3, 3e3), Measured(270.75, 0.1)),
    "discharge": (Measured(2553.3e3, 8e3), Measured(358.15, 0.1)),
    "liquid": (Measured(2553.3e3, 8e3), Measured(303.75, 0.1)),
}


def test_the_hall_as_found_has_the_states_of_the_property_library() -> None:
    one, two, three, four = cycle_of(R410A, TABLE, **HALL).corners
    states = SinglePhase(R410A)
    assert one.h == pytest.approx(states.gas("enthalpy", 609.3e3, 270.75), abs=TABLE.gas_error)
    assert two.h == pytest.approx(states.gas("enthalpy", 2553.3e3, 358.15), abs=TABLE.gas_error)
    assert three.h == pytest.approx(states.liquid("enthalpy", 2553.3e3, 303.75), abs=TABLE.liquid_error)
    assert (four.h, four.p) == (three.h, 609.3e3)
    assert four.assumed
    assert not three.assumed


def test_what_the_condenser_gives_off_is_what_the_others_take_up() -> None:
    cycle = cycle_of(R410A, TABLE, **HALL)
    taken, added, given = (cycle.rise(*ends)[0] for ends in ((4, 1), (1, 2), (3, 2)))
    assert given == pytest.approx(taken + added, rel=1e-12)
    assert cycle.impossible == ""


def test_the_uncertainty_follows_the_instruments_and_the_table() -> None:
    one = cycle_of(R410A, TABLE, **HALL).corners[0]
    states = SinglePhase(R410A)
    cp = states.gas("specific_heat", 609.3e3, 270.75)
    by_p = (states.gas("enthalpy", 606.3e3, 270.75) - states.gas("enthalpy", 609.3e3, 270.75)) / 3e3
    expected = math.sqrt((cp * 0.1) ** 2 + (by_p * 3e3) ** 2 + TABLE.gas_error**2 / 3.0)
    assert one.u == pytest.approx(expected, rel=0.05)
    unknown = cycle_of(R410A, TABLE, **HALL | {"suction": (Measured(609.3e3), Measured(270.75))})
    assert math.isnan(unknown.corners[0].u)


@pytest.mark.parametrize("lost", ["suction", "discharge", "liquid"])
@pytest.mark.parametrize("part", [0, 1])
def test_a_missing_reading_leaves_its_state_out_and_says_why(lost: str, part: int) -> None:
    pair = list(HALL[lost])
    pair[part] = Measured(lack="silent 0:47")
    corners = {c.name: c for c in cycle_of(R410A, TABLE, **HALL | {lost: (pair[0], pair[1])}).corners}
    assert not corners[lost].known
    assert corners[lost].lack == "silent 0:47"
    needs = lost == "liquid" or (lost == "suction" and part == 0)
    assert corners["evaporator inlet"].known is not needs
    assert {name for name, c in corners.items() if not c.known} == {
        lost,
        *(["evaporator inlet"] if needs else []),
    }


def test_a_line_in_the_two_phase_range_is_told_and_not_drawn() -> None:
    wet = cycle_of(R410A, TABLE, **HALL | {"suction": (Measured(609.3e3), Measured(262.0))}).corners[0]
    assert not wet.known
    assert "may carry liquid" in wet.lack
    flash = cycle_of(R410A, TABLE, **HALL | {"liquid": (Measured(2553.3e3), Measured(320.0))}).corners
    assert "may carry gas" in flash[2].lack
    assert not flash[3].known


def test_a_suction_gas_with_more_heat_than_the_discharge_gas_is_called_impossible() -> None:
    swapped = cycle_of(R410A, TABLE, **HALL | {"suction": (Measured(609.3e3), Measured(345.0))})
    assert "no more heat" in swapped.impossible


def test_an_isotherm_goes_from_the_liquid_through_the_dome_to_the_gas() -> None:
    points = isotherm(R410A, TABLE, 293.15, 2e5, 4e6)
    h = [h for h, _ in points]
    p = [p for _, p in points]
    assert p == sorted(p, reverse=True)
    assert (
        h[0]
        < float(R410A.h_bubble(R410A.p_bubble(293.15)))
        < float(R410A.h_dew(R410A.p_dew(293.15)))
        < h[-1] + 1
    )
    assert all(math.isfinite(value) for value in h)
