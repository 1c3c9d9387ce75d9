from __future__ import annotations

import pytest

from drivers.plant.faults import Faults
from drivers.plant.hydraulics import loop_point, pump_point
from drivers.plant.liquids import liquid
from drivers.plant.sites import BAKERY_MACHINE, HALL_MACHINE

LOOP, COIL = HALL_MACHINE.source_loop, HALL_MACHINE.source_coil
BRINE = liquid("MPG", 0.25)


@pytest.mark.parametrize("faults", [Faults(), Faults(weak_pump_capacitor=0.62), Faults(clogged_strainer=0.9)])
def test_the_pumps_head_is_the_sum_of_the_drops(faults: Faults) -> None:
    p = loop_point(LOOP, COIL, BRINE, 277.15, 229.0, faults)
    assert LOOP.pump is not None
    head = LOOP.pump.head_0 * p.pump_speed**2 - LOOP.pump.head_curve * p.flow**2
    assert p.coil_drop + p.strainer_drop + p.pipe_drop == pytest.approx(head, rel=1e-6)


def test_cold_brine_is_stiffer() -> None:
    cold, warm = (loop_point(LOOP, COIL, BRINE, t, 229.0, Faults()) for t in (270.0, 298.0))
    assert cold.flow < warm.flow
    assert cold.coil_drop / cold.flow**1.8 > 1.1 * warm.coil_drop / warm.flow**1.8


def test_a_motor_without_voltage_or_capacitor_does_not_carry_the_impeller() -> None:
    assert LOOP.pump is not None
    assert pump_point(LOOP.pump, 0.0, 0.0, 1.0).current == 0.0
    stalled = pump_point(LOOP.pump, 230.0, 1.0, 1.0)
    running = pump_point(LOOP.pump, 230.0, 0.0, 1.0)
    assert stalled.speed < 0.5 * running.speed
    assert stalled.current > 1.5 * running.current


def test_off_means_no_flow_and_no_current() -> None:
    p = loop_point(LOOP, COIL, BRINE, 277.15, 229.0, Faults(), running=False)
    assert (p.flow, p.coil_drop, p.pump_current) == (0.0, 0.0, 0.0)


def test_the_wells_regulator_holds_its_flow_until_the_pressure_is_used_up() -> None:
    loop, coil, water = BAKERY_MACHINE.source_loop, BAKERY_MACHINE.source_coil, liquid("water")
    flows = [
        loop_point(loop, coil, water, 287.6, 230.0, Faults(clogged_strainer=v)).flow for v in (0.0, 0.8, 0.95)
    ]
    assert flows[0] == flows[1] == loop.regulated_flow
    assert flows[2] < 0.8 * loop.regulated_flow


def test_film_follows_the_flow() -> None:
    # Turbulent film ~ V^0.8 (Dittus-Boelter); a conduction floor where the water stands.
    assert COIL.water_film(0.3e-3) / COIL.water_film(0.6e-3) == pytest.approx(0.5**0.8)
    assert COIL.water_film(0.0) > 0.0
