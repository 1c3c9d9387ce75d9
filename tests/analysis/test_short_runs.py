"""Runs that do not last: three simulated causes that stop on high pressure; none is ever steady."""

from __future__ import annotations

import functools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.analyser import Analyser, Results
from analysis.measure import Channel, Quality, Specification
from analysis.rows import Rows
from analysis.saturation import refrigerant
from analysis.settings import settings_over_time
from analysis.short_run_verdict import judge_runs
from analysis.short_runs import LASTING_S, Run, find_runs, runs_of
from analysis.timeline import Event
from analysis.units import Quantity
from analysis.verdict import State
from drivers.plant.faults import Faults
from drivers.plant.lines import CHANNELS
from drivers.plant.simulation import simulate
from drivers.plant.stories import BAKERY

R410A = refrigerant("R410A")
BAROMETER = 99_150.0
POINTS = {
    "suction_pressure": "ps", "discharge_pressure": "pd", "source_entering_temperature": "si",
    "source_leaving_temperature": "so", "suction_temperature": "ts", "liquid_temperature": "tl",
    "compressor_power": "pw", "ambient_temperature": "ta", "discharge_temperature": "td",
}  # fmt: skip
# Switch and water are chosen so that runs last some 20 to 100 s: faults, flow, water in [K], switch [Pa(g)].
CAUSES = {
    "no flow": (Faults(), 1e-7, 300.0, 40.0e5),
    "scaled coil": (Faults(scaled_source_coil=1.0), None, 313.0, 36.0e5),
    "non-condensables": (Faults(non_condensables=1.0), None, 311.0, 37.6e5),
}
EVEN = "non-condensables, all at 26 °C"


@functools.cache
def analysed(cause: str, seconds: int = 620) -> tuple[Results, ...]:
    faults, flow, t_water, switch = CAUSES.get(cause, (Faults(non_condensables=1.0), None, 299.0, 31e5))
    base = BAKERY.scenario(BAKERY.phases[1])
    control = replace(base.machine.control, high_pressure=switch, high_pressure_reset=30e5, lock_out_trips=9)
    machine = replace(base.machine, control=control)
    if flow is not None:
        machine = replace(machine, source_loop=replace(machine.source_loop, regulated_flow=flow))
    boundary = replace(base.boundary, t_source_in=t_water)
    scenario = replace(base, machine=machine, boundary=boundary, faults=faults)
    names = list(POINTS.values())
    channels = {
        f"machine/{n}": Channel(
            f"machine/{n}", Quantity(CHANNELS[n].quantity), CHANNELS[n].unit,
            uncertainty=Specification(fixed=CHANNELS[n].uncertainty),
        )
        for n in names
    }  # fmt: skip
    events = [Event(0, 0, "assign", f"machine/{n}", place) for place, n in POINTS.items()]
    events += [Event(0, 0, "refrigerant", "", "R410A"), Event(0, 0, "barometer", "", "99.15 kPa(a)")]
    events += [Event(0, 0, "mode", "", "cooling"), Event(0, 0, "fluid", "", "water")]
    fold = Analyser(channels, settings_over_time(events, channels), {"R410A": R410A})
    items = [
        (int(row.t * 1e6), f"machine/{n}", row.readings[n], Quality.OK)
        for row in simulate(scenario, seconds)
        for n in names
        if n in row.readings
    ]
    return tuple(fold.step(Rows.of(items, channels), int((seconds + 2) * 1e6)))


@pytest.mark.parametrize("cause", CAUSES)
def test_forty_second_runs_are_never_steady(cause: str) -> None:
    results = analysed(cause)
    states = np.concatenate([r.judgement.overall.state for r in results])
    assert int(State.STEADY) not in states
    for result in results:
        for standing in result.judgement.results.values():
            assert int(State.STEADY) not in standing.state
    runs = runs_of(results)
    short = [run for run in runs if run.stopped]
    assert len(short) >= 3
    # Tens of seconds: heat of the run before shortens the next one.
    assert all(15.0 < run.seconds < 105.0 for run in short), [run.seconds for run in short]
    assert 15.0 < float(np.median([run.seconds for run in short])) < 60.0
    switch = CAUSES[cause][3] + BAROMETER
    found = judge_runs(runs[:3], curve=R410A, high_switch=switch)
    assert found.state == "short runs"
    assert "steady" not in " ".join((found.state, found.pattern, found.stopped_by, *found.told))
    assert found.stopped_by.startswith("high pressure")
    unknown = judge_runs(runs[:3], curve=R410A)
    assert unknown.stopped_by.startswith("likely high pressure")
    assert all(run.rise > 0.05e5 for run in short)
    assert "no run lasted long enough" in found.not_told[0]


def test_no_flow_shows_in_the_water_and_not_in_the_standing_pressure() -> None:
    found = judge_runs(runs_of(analysed("no flow"))[:3], curve=R410A)
    leads = {lead.name: lead for lead in found.leads}
    assert leads["little or no source flow"].strength == "supported by one sign"
    assert leads["non-condensable gas"].strength == "not supported"
    assert found.pattern.startswith("the first run lasts longest")


def test_a_scaled_coil_is_not_told_apart_without_a_flow() -> None:
    runs = runs_of(analysed("scaled coil"))[:3]
    found = judge_runs(runs, curve=R410A)
    leads = {lead.name: lead.strength for lead in found.leads}
    assert leads == {"little or no source flow": "cannot say", "non-condensable gas": "not supported"}
    assert any("no flow was read" in text for text in found.not_told)
    metered = judge_runs(
        [replace(run, flow=0.38e-3) for run in runs], curve=R410A, flow_band=(0.32e-3, 0.44e-3)
    )
    assert {lead.name: lead.strength for lead in metered.leads}["little or no source flow"] == "not supported"


def test_gas_that_does_not_condense_shows_at_rest() -> None:
    found = judge_runs(runs_of(analysed(EVEN))[:3], curve=R410A)
    lead = next(lead for lead in found.leads if lead.name == "non-condensable gas")
    assert lead.strength == "supported by one sign", lead
    assert "another refrigerant than declared" in lead.because
    # Water at 38 °C beside air at 24 °C: saturation lies anywhere between, and nothing is told.
    uneven = judge_runs(runs_of(analysed("non-condensables"))[:1], curve=R410A)
    assert {le.name: le.strength for le in uneven.leads}["non-condensable gas"] == "cannot say"
    # The rests between the runs are too short to say anything.
    later = judge_runs(runs_of(analysed(EVEN))[1:3], curve=R410A)
    assert {le.name: le.strength for le in later.leads}["non-condensable gas"] == "cannot say"


def test_one_run_and_unknown_switches() -> None:
    t = np.arange(200.0)
    power = np.where((t >= 20) & (t < 60), 2000.0, 0.0)
    one = judge_runs(find_runs(t, {"compressor_power": power}))
    assert (one.state, one.pattern) == ("one short run", "one run shows no pattern")
    assert one.stopped_by.startswith("not told")
    assert "which pressure stopped it: no high-side pressure was read" in one.not_told
    assert find_runs(t, {"source_flow": power}) == ()
    assert judge_runs(()).state == "no run"


def test_low_pressure_stops() -> None:
    t = np.arange(600.0)
    on = (t % 200 >= 100) & (t % 200 < 140)
    since = t % 200 - 100.0
    low = np.where(on, 12e5 - 0.25e5 * since, 12e5)
    points = {"compressor_power": np.where(on, 2000.0, 0.0), "suction_pressure": low,
              "discharge_pressure": np.where(on, 18e5, 12e5)}  # fmt: skip
    found = judge_runs(find_runs(t, points))
    assert found.stopped_by.startswith("likely low pressure")
    assert found.pattern.startswith("alike")
    known = judge_runs(find_runs(t, points), low_switch=2.4e5)
    assert known.stopped_by.startswith("low pressure")


def test_a_silent_second_is_no_stop_and_a_run_in_the_middle_has_no_start() -> None:
    t = np.arange(900.0)
    power = np.where(t < 850, 2000.0, 0.0)
    power[300:310] = np.nan
    assert find_runs(t, {"compressor_power": power}) == ()
    power[:10] = 0.0
    (run,) = find_runs(t, {"compressor_power": power})
    assert run.lasts
    assert judge_runs((run,)).state == "runs last"


levels = st.one_of(st.just(math.nan), st.floats(1e4, 5e6))


@settings(derandomize=True, deadline=None, max_examples=200)
@given(st.lists(st.tuples(st.booleans(), levels, levels, st.floats(270.0, 330.0)), min_size=1, max_size=120))
def test_any_rows_are_answered(rows: list[tuple[bool, float, float, float]]) -> None:
    t = np.arange(float(len(rows)))
    points = {
        "compressor_power": np.array([2000.0 if on else 0.0 for on, *_ in rows]),
        "discharge_pressure": np.array([r[1] for r in rows]),
        "suction_pressure": np.array([r[2] for r in rows]),
        "source_entering_temperature": np.array([r[3] for r in rows]),
    }
    runs = find_runs(t, points)
    assert all(0.0 <= run.seconds < LASTING_S for run in runs)
    found = judge_runs(runs, curve=R410A)
    assert found.state in ("no run", "runs last", "one short run", "short runs")
    assert found.state != "runs last" or not any(run.stopped for run in runs)


def test_run_is_a_plain_record() -> None:
    assert Run.__dataclass_params__.frozen  # type: ignore[attr-defined]
