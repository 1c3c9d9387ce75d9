from __future__ import annotations

import math
from dataclasses import replace
from itertools import islice, pairwise

import pytest
from CoolProp.CoolProp import PropsSI

from drivers.plant.faults import SEVERITIES, Faults, one_fault
from drivers.plant.machine import solve
from drivers.plant.simulation import Plant, Row, simulate
from drivers.plant.stories import BAKERY, HALL, STORIES, Phase, Story


def run(story: Story, faults: Faults, seconds: int, seed: int = 1) -> list[Row]:
    phase = Phase("test", seconds, faults, "")
    return list(simulate(story.scenario(phase), seconds, seed))


@pytest.mark.parametrize("story", [HALL, BAKERY], ids=["hall", "bakery"])
def test_time_ends_where_the_steady_solution_lies(story: Story) -> None:
    for phase in story.phases[-1:]:
        last = run(story, phase.faults, 2400)[-1].state
        boundary = replace(
            story.boundary, t_source_in=last.t_source_in, t_load_in=last.t_load_in, voltage=last.voltage
        )
        steady = solve(story.machine, boundary, phase.faults)
        assert last.t_evaporating == pytest.approx(steady.t_evaporating, abs=0.05)
        assert last.t_condensing == pytest.approx(steady.t_condensing, abs=0.05)
        assert last.superheat == pytest.approx(steady.superheat, abs=0.1)
        assert last.subcooling == pytest.approx(steady.subcooling, abs=0.1)
        assert last.power == pytest.approx(steady.power, rel=2e-3)


def test_at_rest_one_pressure_that_is_saturation_and_no_flow() -> None:
    row = run(HALL, Faults(), 20)[-1]
    assert not row.state.running
    assert row.state.power == 0.0
    assert row.state.source_flow == 0.0
    assert row.true["pd"] == pytest.approx(row.true["ps"], rel=0.02)
    assert row.state.t_evaporating == pytest.approx(277.15, abs=0.6)


def test_start_pressures_part_within_ten_seconds_and_liquid_comes_first() -> None:
    rows = run(HALL, Faults(), 200)
    start = next(k for k, r in enumerate(rows) if r.state.running)
    before, after = rows[start - 1].state, rows[start + 10].state
    assert after.p_suction < before.p_suction - 1e5
    assert after.p_discharge > before.p_discharge + 8e5
    assert min(r.state.superheat for r in rows[start : start + 10]) < 1.0
    assert rows[start + 60].state.superheat > 3.0


def test_mass_of_refrigerant_is_kept_through_start_run_and_stop() -> None:
    """Counted again with the library's densities: coils, liquid line, suction line."""
    story = STORIES["hall-night"]
    machine = story.machine
    charge = machine.charge * (1.0 + 0.40 * story.phases[0].faults.overcharge)
    for row in islice(simulate(story.scenario(story.phases[0]), 4300), 0, None, 100):
        s = row.state
        lines = machine.liquid_line_volume * PropsSI("D", "P", s.p_discharge, "Q", 0, "R410A")
        lines += machine.suction_volume * PropsSI("D", "P", s.p_suction, "Q", 1, "R410A")
        assert s.m_evaporator_charge + s.m_condenser_charge + lines == pytest.approx(charge, rel=5e-3)
        assert s.m_evaporator_charge > 0.0
        assert s.m_condenser_charge > 0.0
        assert all(math.isfinite(v) for v in (s.p_suction, s.p_discharge, s.t_discharge, s.power))


def test_the_hunting_valve_hunts_and_the_healthy_one_does_not() -> None:
    def swing(severity: float) -> float:
        tail = [r.state.superheat for r in run(HALL, Faults(valve_hunting=severity), 1200)[700:]]
        return max(tail) - min(tail)

    assert swing(0.0) < 0.2
    assert swing(0.8) > 4.0


def test_air_in_the_loop_makes_the_drop_restless() -> None:
    def scatter(severity: float) -> float:
        tail = [r.true["dp"] for r in run(HALL, Faults(air_in_loop=severity), 500)[200:]]
        mean = sum(tail) / len(tail)
        return math.sqrt(sum((v - mean) ** 2 for v in tail) / len(tail)) / mean

    assert scatter(0.6) > 5.0 * scatter(0.0)


def test_same_seed_same_rows_and_the_seed_matters() -> None:
    a, b, c = (run(HALL, Faults(), 80, seed) for seed in (3, 3, 4))
    assert [r.readings for r in a] == [r.readings for r in b]
    assert [r.state for r in a][-1].power == b[-1].state.power
    assert [r.readings for r in a] != [r.readings for r in c]


def test_the_night_follows_the_pumps_heat_protector_to_the_lock_out() -> None:
    story = STORIES["hall-night"]
    rows = list(simulate(story.scenario(story.phases[0]), 20000))
    pump = [r.state.pump_current > 0.0 for r in rows]
    running = [r.state.running for r in rows]
    pump_stops = [k for k in range(1, len(rows)) if pump[k - 1] and not pump[k]]
    trips = [k for k in range(1, len(rows)) if running[k - 1] and not running[k]]
    # 23:05, 00:27, 01:49, 03:11 in the scenario, 82 min apart.
    assert len(trips) == 4
    assert pump_stops[0] == pytest.approx(3900, abs=300)
    gaps = [b - a for a, b in pairwise(trips)]
    assert all(gap == pytest.approx(82 * 60, abs=240) for gap in gaps)
    for stop, trip in zip(pump_stops, trips, strict=False):
        assert 5 <= trip - stop <= 60
        assert rows[trip - 1].state.t_evaporating < 273.15 - 9.8
        later = rows[stop + 5]
        assert later.state.source_flow < 0.05e-3
    assert not any(running[trips[-1] :])
    assert any(pump[trips[-1] + 900 :]), "the pump itself goes on cycling behind the lock-out"
    silent = [k for k, r in enumerate(rows) if not r.readings]
    assert silent == list(range(14099, 14139))


def test_a_shorted_lead_blows_the_fuse_and_nothing_runs() -> None:
    rows = run(BAKERY, Faults(control_short=1.0), 120)
    chain = dict(rows[-1].chain)
    assert chain["supply_voltage"] > 220.0
    assert chain["transformer_secondary_voltage"] > 24.0
    assert chain["control_voltage"] == 0.0
    assert not any(r.state.running for r in rows)
    assert rows[-1].state.power == 0.0


def test_a_partial_short_overloads_without_blowing_the_fuse() -> None:
    rows = run(BAKERY, Faults(control_short=0.05), 120)
    healthy = run(BAKERY, Faults(), 120)
    assert 0.0 < rows[-1].true["vc"] < healthy[-1].true["vc"] - 1.0


def test_an_open_safety_shows_in_the_voltage_chain() -> None:
    chain = dict(run(HALL, Faults(open_safety=1.0), 120)[-1].chain)
    assert chain["after_low_temperature_cut_out"] > 20.0
    assert chain["after_condensate_switch"] == 0.0
    worn = dict(run(HALL, Faults(open_safety=0.2), 120)[-1].chain)
    assert 20.4 < worn["contactor_coil_voltage"] < worn["after_low_temperature_cut_out"] - 0.5


def test_low_voltage_keeps_the_contactor_out() -> None:
    rows = run(HALL, Faults(low_supply_voltage=1.0), 120)
    assert not any(r.state.running for r in rows)


def test_a_blocked_load_trips_on_high_pressure() -> None:
    rows = run(HALL, Faults(low_load_flow=1.0, overcharge=0.9), 900)
    started = next(k for k, r in enumerate(rows) if r.state.running)
    stopped = next(k for k in range(started, len(rows)) if not rows[k].state.running)
    assert rows[stopped - 1].true["pd"] > 38.0


def test_start_at_continues_the_same_run() -> None:
    phase = HALL.phases[0]
    ahead = Plant(HALL.scenario(phase))
    for _ in range(50):
        ahead.step()
    whole = list(simulate(HALL.scenario(phase), 51))
    assert ahead.step().readings == whole[-1].readings


@pytest.mark.parametrize("name", SEVERITIES)
@pytest.mark.parametrize("story", [HALL, BAKERY], ids=["hall", "bakery"])
def test_the_worst_of_every_fault_stays_a_possible_world(story: Story, name: str) -> None:
    for row in run(story, one_fault(name, 1.0), 240):
        s = row.state
        assert 0.0 < s.p_suction <= s.p_discharge * 1.35
        assert 200.0 < s.t_evaporating < 330.0
        assert 250.0 < s.t_discharge < 470.0
        assert s.power >= 0.0
        assert all(math.isfinite(v) for v in row.readings.values())


def test_gas_in_the_circuit_shows_at_rest_as_pressure_above_saturation() -> None:
    clean, fouled = (run(HALL, f, 25)[-1] for f in (Faults(), Faults(non_condensables=0.5)))
    assert fouled.true["ps"] > clean.true["ps"] + 0.5
    assert fouled.true["pd"] == pytest.approx(fouled.true["ps"], rel=0.03)


def test_a_clamp_falls_off_when_its_time_comes() -> None:
    story = STORIES["hall-variants"]
    phase = next(p for p in story.phases if p.name == "clamp-off")
    rows = list(simulate(story.scenario(phase), 1950))
    assert rows[1790].readings["ts"] == pytest.approx(rows[1790].true["ts"], abs=1.0)
    assert rows[-1].readings["ts"] == pytest.approx(14.0, abs=0.5)
    assert rows[-1].true["ts"] == pytest.approx(rows[1790].true["ts"], abs=0.1)


def test_a_dead_transformer_has_no_secondary_and_a_starved_well_no_scale() -> None:
    story = STORIES["bakery-variants"]
    phases = {p.name: p for p in story.phases}
    chain = dict(list(simulate(story.scenario(phases["dead-transformer"]), 90))[-1].chain)
    assert chain["transformer_primary_voltage"] > 220.0
    assert chain["transformer_secondary_voltage"] == 0.0
    low = solve(story.machine, story.boundary, phases["low-well-flow"].faults)
    clean = solve(story.machine, story.boundary)
    assert low.source_flow < 0.85 * clean.source_flow
    assert low.source_drop < clean.source_drop
    assert low.t_source_out > clean.t_source_out + 0.7
