"""Energy and mass close along a path of their own: the library's high-level calls on the reported states."""

from __future__ import annotations

from dataclasses import replace

import pytest
from CoolProp.CoolProp import HAPropsSI, PropsSI

from drivers.plant.configure import Boundary
from drivers.plant.faults import Faults
from drivers.plant.machine import State, solve
from drivers.plant.parts import Loop, Machine
from drivers.plant.refrigerants import SUPPORTED
from drivers.plant.stories import BAKERY, HALL
from drivers.plant.variants import with_fixed_orifice, with_refrigerant

COOL_WATER = replace(HALL.boundary, mode="cooling", t_source_in=288.15, t_load_in=285.15)
HEAT_AIR = replace(BAKERY.boundary, mode="heating", t_source_in=283.15, t_load_in=293.15)
CASES: list[tuple[str, Machine, Boundary, Faults]] = [
    ("hall healthy", HALL.machine, HALL.boundary, Faults()),
    *((f"hall {p.name}", HALL.machine, HALL.boundary, p.faults) for p in HALL.phases),
    ("hall cooling", HALL.machine, COOL_WATER, Faults()),
    ("hall starving", HALL.machine, HALL.boundary, Faults(valve_starving=0.9)),
    ("hall valve leak", HALL.machine, HALL.boundary, Faults(compressor_valve_leak=0.7)),
    ("hall crossover", HALL.machine, HALL.boundary, Faults(reversing_valve_leak=0.5)),
    ("hall restriction", HALL.machine, HALL.boundary, Faults(liquid_line_restriction=0.6)),
    ("hall low voltage", HALL.machine, HALL.boundary, Faults(low_supply_voltage=0.8)),
    ("bakery healthy", BAKERY.machine, BAKERY.boundary, Faults()),
    ("bakery scaled", BAKERY.machine, BAKERY.boundary, Faults(scaled_source_coil=0.9)),
    ("bakery low air", BAKERY.machine, BAKERY.boundary, Faults(low_load_flow=0.7)),
    ("bakery heating", BAKERY.machine, HEAT_AIR, Faults()),
]


def vapour_h(machine: Machine, p: float, t: float) -> float:
    name = machine.refrigerant
    if name == "R454B":
        return float(PropsSI("Hmass", "P", p, "T|gas", t, "R454B.mix"))
    return float(PropsSI("H", "P", p, "T", t, name))


def liquid_h(machine: Machine, p: float, t: float) -> float:
    name = machine.refrigerant
    if name == "R454B":
        return float(PropsSI("Hmass", "P", p, "T|liquid", t, "R454B.mix"))
    return float(PropsSI("H", "P", p, "T", t, name))


def heat_from_water(loop: Loop, flow: float, t_in: float, t_out: float) -> float:
    """Heat the water gives up; its volume flow is that of the entering water."""
    fluid = "Water" if loop.liquid == "water" else f"INCOMP::MPG[{loop.mass_fraction}]"
    rho = PropsSI("D", "T", t_in, "P", 2e5, fluid)
    fall = PropsSI("H", "T", t_in, "P", 2e5, fluid) - PropsSI("H", "T", t_out, "P", 2e5, fluid)
    return float(flow * rho * fall)


def check(machine: Machine, boundary: Boundary, s: State) -> None:
    h_out = vapour_h(machine, s.p_suction, s.t_evaporator_out)
    h_suction = vapour_h(machine, s.p_suction, s.t_suction)
    h_discharge = vapour_h(machine, s.p_discharge, s.t_discharge)
    h_liquid = liquid_h(machine, s.p_discharge, s.t_liquid)
    q_e = s.m_evaporator * (h_out - h_liquid)
    q_c = s.m_evaporator * (h_discharge - h_liquid)
    q_line = machine.suction_line_ua * (boundary.t_ambient - s.t_evaporator_out)
    assert s.q_evaporator == pytest.approx(q_e, rel=1e-3)
    assert -s.q_condenser == pytest.approx(q_c, rel=1e-3)
    into_gas = s.power * (1.0 - machine.compressor.shell_loss)
    # The compressor: with a crossover leak its gas is a mixture, so both ends are taken at its own ports.
    assert into_gas == pytest.approx(s.m_compressor * (h_discharge - h_suction), rel=4e-3, abs=1e-3 * q_c)
    assert q_e + into_gas + q_line == pytest.approx(q_c, rel=1e-3)
    heating = boundary.mode == "heating"
    source = heat_from_water(machine.source_loop, s.source_flow, s.t_source_in, s.t_source_out)
    assert source == pytest.approx(q_e if heating else -q_c, rel=1e-3)
    if machine.load_loop is not None:
        load = heat_from_water(machine.load_loop, s.load_flow, s.t_load_in, s.t_load_out)
        assert load == pytest.approx(-q_c if heating else q_e, rel=1e-3)
    else:
        check_air(boundary, s, q_c if heating else q_e)


def check_air(boundary: Boundary, s: State, heat: float) -> None:
    p = boundary.barometer
    m_dry = s.load_flow / float(HAPropsSI("V", "T", s.t_load_in, "P", p, "W", s.w_load_in))
    h_in = HAPropsSI("H", "T", s.t_load_in, "P", p, "W", s.w_load_in)
    h_out = HAPropsSI("H", "T", s.t_load_out, "P", p, "W", s.w_load_out)
    change = h_in - h_out
    if s.w_load_out < s.w_load_in:
        h_water = PropsSI("H", "T", s.t_condensate, "P", 101325.0, "Water")
        change -= (s.w_load_in - s.w_load_out) * h_water
    assert m_dry * abs(change) == pytest.approx(heat, rel=1e-3)


@pytest.mark.parametrize(("machine", "boundary", "faults"), [c[1:] for c in CASES], ids=[c[0] for c in CASES])
def test_energy_closes_from_the_reported_states(machine: Machine, boundary: Boundary, faults: Faults) -> None:
    check(machine, boundary, solve(machine, boundary, faults))


@pytest.mark.parametrize("name", SUPPORTED)
def test_energy_closes_for_every_refrigerant(name: str) -> None:
    machine = with_refrigerant(HALL.machine, name, HALL.boundary)
    check(machine, HALL.boundary, solve(machine, HALL.boundary))


@pytest.mark.parametrize(("machine", "boundary", "faults"), [c[1:] for c in CASES], ids=[c[0] for c in CASES])
def test_charge_is_all_found_again(machine: Machine, boundary: Boundary, faults: Faults) -> None:
    s = solve(machine, boundary, faults)
    if machine.refrigerant == "R410A":
        rho_l = PropsSI("D", "P", s.p_discharge, "Q", 0, "R410A")
        rho_v = PropsSI("D", "P", s.p_suction, "Q", 1, "R410A")
        lines = machine.liquid_line_volume * rho_l + machine.suction_volume * rho_v
        expected = machine.charge * (1.0 + 0.40 * (faults.overcharge - faults.undercharge))
        assert s.m_evaporator_charge + s.m_condenser_charge + lines == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(("machine", "boundary", "faults"), [c[1:] for c in CASES], ids=[c[0] for c in CASES])
def test_never_better_than_carnot_nor_against_the_temperatures(
    machine: Machine, boundary: Boundary, faults: Faults
) -> None:
    s = solve(machine, boundary, faults)
    assert -s.q_condenser / s.power < s.t_condensing / (s.t_condensing - s.t_evaporating)
    heating = boundary.mode == "heating"
    cold, hot = (s.t_source_out, s.t_load_out) if heating else (s.t_load_out, s.t_source_out)
    entering_cold = s.t_source_in if heating else s.t_load_in
    entering_hot = s.t_load_in if heating else s.t_source_in
    assert s.t_evaporating < cold < entering_cold
    assert s.t_condensing > entering_hot
    assert hot > entering_hot
    assert s.t_evaporator_out < entering_cold
    assert s.t_liquid > entering_hot
    assert s.t_discharge > s.t_condensing


def test_compressor_gains_entropy() -> None:
    s = solve(HALL.machine, HALL.boundary)
    s_in = PropsSI("S", "P", s.p_suction, "T", s.t_suction, "R410A")
    s_out = PropsSI("S", "P", s.p_discharge, "T", s.t_discharge, "R410A")
    assert s_out > s_in


def test_a_fixed_orifice_closes_too() -> None:
    machine = with_fixed_orifice(HALL.machine, HALL.boundary)
    check(machine, HALL.boundary, solve(machine, HALL.boundary, Faults(overcharge=0.3)))
