"""What a fault must do by physics: sign and monotony, in severity and in the surroundings."""

from __future__ import annotations

import ast
import math
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

import drivers.plant
from drivers.plant.configure import Boundary
from drivers.plant.faults import SEVERITIES, Faults, one_fault
from drivers.plant.machine import State, gauge_bubble, solve
from drivers.plant.parts import Machine
from drivers.plant.stories import BAKERY, HALL
from drivers.plant.variants import with_fixed_orifice, with_receiver

STEPS = (0.0, 0.15, 0.3, 0.45, 0.6, 0.75, 0.9)


def source_change(s: State) -> float:
    return abs(s.t_source_in - s.t_source_out)


def source_approach(s: State) -> float:
    """Between leaving water and the saturation temperature of the coil it flows through."""
    cold = s.t_source_out < s.t_source_in
    return s.t_source_out - s.t_evaporating if cold else s.t_condensing - s.t_source_out


def load_change(s: State) -> float:
    return abs(s.t_load_out - s.t_load_in)


def sweep(machine: Machine, boundary: Boundary, name: str, get: Callable[[State], float]) -> list[float]:
    return [get(solve(machine, boundary, one_fault(name, v))) for v in STEPS]


def rises(values: list[float]) -> bool:
    return all(b > a - 1e-9 for a, b in pairwise(values)) and values[-1] > values[0]


# Heating: the source coil evaporates. The valve keeps the superheat, unless it is at fault or at its end.
HALL_SIGNS: list[tuple[str, Callable[[State], float], int]] = [
    ("weak_pump_capacitor", lambda s: s.source_flow, -1),
    ("weak_pump_capacitor", lambda s: s.pump_current, +1),
    ("weak_pump_capacitor", source_change, +1),
    ("weak_pump_capacitor", lambda s: s.t_evaporating, -1),
    ("weak_pump_capacitor", lambda s: s.t_condensing, -1),
    ("weak_pump_capacitor", lambda s: s.q_evaporator, -1),
    ("clogged_strainer", lambda s: s.source_flow, -1),
    ("clogged_strainer", lambda s: s.source_drop, -1),
    ("clogged_strainer", source_change, +1),
    ("clogged_strainer", lambda s: s.t_evaporating, -1),
    ("scaled_source_coil", source_approach, +1),
    ("scaled_source_coil", lambda s: s.source_drop, +1),
    ("scaled_source_coil", lambda s: s.t_evaporating, -1),
    ("scaled_source_coil", lambda s: s.q_evaporator, -1),
    ("iced_source_coil", source_approach, +1),
    ("iced_source_coil", lambda s: s.source_drop, +1),
    ("iced_source_coil", lambda s: s.source_flow, -1),
    ("air_in_loop", lambda s: s.source_flow, -1),
    ("air_in_loop", lambda s: s.t_evaporating, -1),
    ("low_load_flow", load_change, +1),
    ("low_load_flow", lambda s: s.t_condensing, +1),
    ("low_load_flow", lambda s: s.power, +1),
    ("low_load_flow", lambda s: s.t_discharge, +1),
    ("undercharge", lambda s: s.subcooling, -1),
    ("undercharge", lambda s: s.flooded, -1),
    ("undercharge", lambda s: s.t_condensing, -1),
    ("undercharge", lambda s: s.q_condenser, +1),
    ("undercharge", lambda s: s.superheat, +1),
    ("overcharge", lambda s: s.subcooling, +1),
    ("overcharge", lambda s: s.t_condensing, +1),
    ("overcharge", lambda s: s.flooded, +1),
    ("overcharge", lambda s: s.power, +1),
    ("overcharge", lambda s: s.t_discharge, +1),
    ("non_condensables", lambda s: gauge_bubble(HALL.machine, s) - s.t_condensing, +1),
    ("non_condensables", lambda s: s.subcooling, +1),
    ("non_condensables", lambda s: s.power, +1),
    ("liquid_line_restriction", lambda s: s.t_evaporating, -1),
    ("liquid_line_restriction", lambda s: s.superheat, +1),
    ("liquid_line_restriction", lambda s: s.flooded, +1),
    ("liquid_line_restriction", lambda s: s.q_evaporator, -1),
    ("valve_starving", lambda s: s.t_evaporating, -1),
    ("valve_starving", lambda s: s.superheat, +1),
    ("valve_starving", lambda s: s.flooded, +1),
    ("valve_starving", lambda s: s.t_discharge, +1),
    ("valve_flooding", lambda s: s.superheat, -1),
    ("valve_flooding", lambda s: s.t_evaporating, +1),
    ("valve_flooding", lambda s: s.t_discharge, -1),
    ("valve_flooding", lambda s: s.subcooling, -1),
    ("compressor_valve_leak", lambda s: s.t_evaporating, +1),
    ("compressor_valve_leak", lambda s: s.t_condensing, -1),
    ("compressor_valve_leak", lambda s: s.m_compressor, -1),
    ("compressor_valve_leak", lambda s: s.t_discharge, +1),
    ("reversing_valve_leak", lambda s: s.t_evaporating, +1),
    ("reversing_valve_leak", lambda s: s.t_condensing, -1),
    ("reversing_valve_leak", lambda s: s.t_suction - s.t_evaporator_out, +1),
    ("reversing_valve_leak", lambda s: s.q_evaporator, -1),
    ("low_supply_voltage", lambda s: s.voltage, -1),
    ("low_supply_voltage", lambda s: s.current, +1),
    ("low_supply_voltage", lambda s: s.source_flow, -1),
]


@pytest.mark.parametrize(
    ("name", "get", "sign"), HALL_SIGNS, ids=[f"{f[0]}-{i}" for i, f in enumerate(HALL_SIGNS)]
)
def test_heating_effects_go_one_way_with_severity(
    name: str, get: Callable[[State], float], sign: int
) -> None:
    values = sweep(HALL.machine, HALL.boundary, name, get)
    assert rises([sign * v for v in values]), values


# Cooling, source coil condenses, air on the load side; the well's flow is held by its regulator.
BAKERY_SIGNS: list[tuple[str, Callable[[State], float], int]] = [
    ("scaled_source_coil", source_approach, +1),
    ("scaled_source_coil", lambda s: s.source_drop, +1),
    ("scaled_source_coil", lambda s: s.t_condensing, +1),
    ("scaled_source_coil", lambda s: s.power, +1),
    ("scaled_source_coil", lambda s: s.t_discharge, +1),
    ("low_load_flow", lambda s: s.t_evaporating, -1),
    ("low_load_flow", load_change, +1),
    ("low_load_flow", lambda s: s.q_evaporator, -1),
    ("undercharge", lambda s: s.subcooling, -1),
    ("undercharge", lambda s: s.superheat, +1),
    ("overcharge", lambda s: s.subcooling, +1),
    ("overcharge", lambda s: s.t_condensing, +1),
    ("non_condensables", lambda s: gauge_bubble(BAKERY.machine, s) - s.t_condensing, +1),
    ("valve_starving", lambda s: s.superheat, +1),
    ("valve_flooding", lambda s: s.superheat, -1),
    ("compressor_valve_leak", lambda s: s.t_evaporating, +1),
    ("compressor_valve_leak", lambda s: s.q_evaporator, -1),
    ("reversing_valve_leak", lambda s: s.t_suction - s.t_evaporator_out, +1),
    ("liquid_line_restriction", lambda s: s.t_evaporating, -1),
]


@pytest.mark.parametrize(
    ("name", "get", "sign"), BAKERY_SIGNS, ids=[f"{n}-{i}" for i, (n, _, _) in enumerate(BAKERY_SIGNS)]
)
def test_cooling_effects_go_one_way_with_severity(
    name: str, get: Callable[[State], float], sign: int
) -> None:
    values = sweep(BAKERY.machine, BAKERY.boundary, name, get)
    assert rises([sign * v for v in values]), values


def test_scale_and_low_flow_are_told_apart_by_the_water_only() -> None:
    healthy = solve(HALL.machine, HALL.boundary)
    scale = solve(HALL.machine, HALL.boundary, Faults(scaled_source_coil=0.3))
    strainer = solve(HALL.machine, HALL.boundary, Faults(clogged_strainer=0.9))
    assert scale.t_evaporating < healthy.t_evaporating - 1.0
    assert strainer.t_evaporating < healthy.t_evaporating - 1.0
    assert source_change(scale) < source_change(healthy) < source_change(strainer)
    assert strainer.source_drop < healthy.source_drop < scale.source_drop


def test_scale_behind_a_flow_regulator_leaves_the_flow_alone_and_raises_the_drop() -> None:
    clean = solve(BAKERY.machine, BAKERY.boundary)
    scaled = solve(BAKERY.machine, BAKERY.boundary, Faults(scaled_source_coil=0.75))
    assert scaled.source_flow == clean.source_flow
    # 2.4 and 3.9 psi in the bakery's scenario.
    assert clean.source_drop == pytest.approx(16.5e3, rel=0.02)
    assert scaled.source_drop == pytest.approx(26.9e3, rel=0.03)


def test_putting_the_water_right_alone_raises_condensing_then_recovery_lowers_it() -> None:
    found, right, left = (solve(HALL.machine, HALL.boundary, p.faults) for p in HALL.phases)
    assert found.t_condensing + 1.0 < right.t_condensing
    assert left.t_condensing < found.t_condensing
    assert found.subcooling < right.subcooling
    assert left.subcooling < 0.6 * found.subcooling


def test_a_receiver_hides_the_charge() -> None:
    machine = with_receiver(HALL.machine, 2.0e-3)
    full, less, little = (solve(machine, HALL.boundary, Faults(undercharge=v)) for v in (0.0, 0.3, 0.6))
    assert full.subcooling < 1.5
    assert less.subcooling == pytest.approx(full.subcooling, abs=0.2)
    assert little.superheat == pytest.approx(full.superheat, abs=0.2)


def test_a_fixed_orifice_answers_charge_with_superheat() -> None:
    machine = with_fixed_orifice(HALL.machine, HALL.boundary)
    under, right, over = (
        solve(machine, HALL.boundary, f) for f in (Faults(undercharge=0.5), Faults(), Faults(overcharge=0.4))
    )
    assert under.superheat > right.superheat + 1.5
    assert over.superheat < right.superheat - 0.5
    assert under.t_evaporating < right.t_evaporating < over.t_evaporating


@pytest.mark.parametrize("mode_story", [HALL, BAKERY], ids=["heating", "cooling"])
def test_warmer_entering_water_moves_its_side_up(mode_story: object) -> None:
    assert mode_story in (HALL, BAKERY)
    story = HALL if mode_story is HALL else BAKERY
    states = [
        solve(story.machine, replace(story.boundary, t_source_in=story.boundary.t_source_in + d))
        for d in (0, 3, 6, 9)
    ]
    if story is HALL:
        assert rises([s.t_evaporating for s in states])
        assert rises([s.q_evaporator for s in states])
    else:
        assert rises([s.t_condensing for s in states])
        assert rises([s.power for s in states])


def test_instrument_slips_do_not_touch_the_machine() -> None:
    plain = solve(HALL.machine, HALL.boundary)
    slipped = solve(
        HALL.machine, HALL.boundary, Faults(probe_off="ts", swapped=("si", "so"), declared_refrigerant="R22")
    )
    assert plain == slipped or all(
        a == b or (isinstance(a, float) and math.isnan(a))
        for a, b in ((getattr(plain, n), getattr(slipped, n)) for n in State.__slots__)
    )


@pytest.mark.parametrize("name", SEVERITIES)
def test_a_severity_outside_its_range_is_refused_by_name(name: str) -> None:
    for value in (-0.1, 1.1, math.nan):
        with pytest.raises(ValueError, match=name):
            one_fault(name, value)


def test_contradicting_charge_and_unknown_fault_are_refused() -> None:
    with pytest.raises(ValueError, match="under- and overcharged"):
        solve(HALL.machine, HALL.boundary, Faults(undercharge=0.1, overcharge=0.1))
    with pytest.raises(ValueError, match="no fault 'rust'"):
        one_fault("rust", 0.1)


def test_slips_that_name_no_fitting_channel_are_refused() -> None:
    with pytest.raises(ValueError, match="channel 'xx'"):
        Faults(probe_off="xx")
    with pytest.raises(ValueError, match="only a temperature probe"):
        Faults(probe_off="ps")
    with pytest.raises(ValueError, match="different quantities"):
        Faults(swapped=("ps", "ts"))


def test_the_plant_shares_no_module_with_the_analysis() -> None:
    folder = Path(drivers.plant.__file__).parent
    for path in folder.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert not any(n == "analysis" or n.startswith("analysis.") for n in names), path.name
