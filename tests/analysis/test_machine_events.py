"""Events of the machine: on the simulated night, on made rows, and the same however the rows are cut."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.analyser import Analyser, Results
from analysis.events_found import find_machine_events
from analysis.machine_events import EventKind, MachineEvent
from analysis.measure import Channel, Specification
from analysis.points import POINTS
from analysis.rows import Rows
from analysis.saturation import refrigerant
from analysis.settings import settings_over_time
from analysis.timeline import Event
from analysis.units import Quantity
from drivers.plant.lines import CHANNELS
from drivers.plant.machine import STORIES, simulate
from logger.event_words import event_facts, event_lines

CURVES = {"R410A": refrigerant("R410A")}
DECLARED = {
    "refrigerant": "R410A", "barometer": "94.32 kPa(a)", "mode": "heating",
    "fluid": "propylene_glycol 25 % mass", "load_fluid": "water",
}  # fmt: skip
UNITS = {
    Quantity.ABSOLUTE_PRESSURE: "Pa(a)", Quantity.TEMPERATURE: "degC", Quantity.CURRENT: "A",
    Quantity.POWER: "W", Quantity.VOLTAGE: "V",
}  # fmt: skip


def machine(columns: Mapping[str, np.ndarray]) -> tuple[Analyser, Rows]:
    """Make an analyser and a reading a second on every point; NaN gives none."""
    channels = {
        name: Channel(
            name, POINTS[name].quantity, UNITS[POINTS[name].quantity], expected_interval_s=1.0,
            uncertainty=Specification(fixed=0.1),
        )
        for name in columns
    }  # fmt: skip
    declared = [Event(0, 0, "assign", name, name) for name in columns]
    declared += [Event(0, 0, kind, "", text) for kind, text in DECLARED.items()]
    n = next(iter(columns.values())).size
    items = [
        (second * 1_000_000, name, float(values[second]), 0)
        for second in range(n)
        for name, values in columns.items()
        if np.isfinite(values[second])
    ]
    return Analyser(channels, settings_over_time(declared, channels), CURVES), Rows.of(items, list(columns))


def events(columns: Mapping[str, np.ndarray], cuts: tuple[int, ...] = ()) -> list[MachineEvent]:
    """Find the events, the readings cut at some places."""
    analyser, rows = machine(columns)
    results: list[Results] = []
    edges = [0, *sorted(min(cut, len(rows)) for cut in cuts), len(rows)]
    for begin, end in itertools.pairwise(edges):
        results += analyser.step(rows.take(slice(begin, end)))
    n = next(iter(columns.values())).size
    return find_machine_events([*results, *analyser.step(Rows.empty(), now_us=n * 1_000_000)])


def of(kind: EventKind, found: list[MachineEvent]) -> list[MachineEvent]:
    return [event for event in found if event.kind is kind]


def running(n: int, stops: tuple[tuple[int, int], ...]) -> dict[str, np.ndarray]:
    """Give power and pressures of a machine that runs, and stands from one second to another."""
    rng = np.random.default_rng(1)
    on = np.ones(n, bool)
    for begin, end in stops:
        on[begin:end] = False
    low, high = np.where(on, 6.1e5, 12.0e5), np.where(on, 25.5e5, 12.0e5)
    for begin, _ in stops:  # evaporating falls before each stop
        low[begin - 15 : begin] = np.linspace(6.1e5, 4.9e5, 15)
    return {
        "compressor_power": np.where(on, 3000.0, 0.0) + rng.normal(0, 3, n),
        "suction_pressure": low + rng.normal(0, 300, n),
        "discharge_pressure": high + rng.normal(0, 800, n),
    }


def test_the_simulated_night_reads_pump_current_flow_suction_cut_out() -> None:
    story = STORIES["hall-night"]
    rows = list(simulate(story.scenario(story.phases[0]), 5000, seed=1))
    names = sorted(rows[100].readings)
    channels = {
        name: Channel(
            name, Quantity(CHANNELS[name].quantity), CHANNELS[name].unit, expected_interval_s=1.0,
            uncertainty=Specification(fixed=2.0 * CHANNELS[name].uncertainty),
        )
        for name in names
    }  # fmt: skip
    declared = [Event(0, 0, "assign", name, CHANNELS[name].point) for name in names]
    declared += [Event(0, 0, kind, "", text) for kind, text in DECLARED.items()]
    analyser = Analyser(channels, settings_over_time(declared, channels), CURVES)
    items = [(round(r.t * 1e6), name, value, 0) for r in rows for name, value in r.readings.items()]
    found = find_machine_events(analyser.step(Rows.of(items, names), now_us=5_001_000_000))

    (stop,) = of(EventKind.COMPRESSOR_STOP, found)
    lag = {mover.point: mover.lag_s for mover in stop.movers}
    assert stop.movers[0].point == "pump_current"
    assert lag["pump_current"] == 0.0
    assert 0.0 <= lag["source_pressure_drop"] <= 2.0
    assert lag["source_pressure_drop"] <= lag["suction_pressure"] <= 4.0
    assert lag["suction_pressure"] < lag["source_leaving_temperature"] < lag["load_leaving_temperature"]
    assert "source_entering_temperature" not in lag
    true_stop = next(
        a.t for a, b in zip(rows[1:], rows[:-1], strict=True) if not a.state.running and b.state.running
    )
    assert abs(stop.t_us / 1e6 - true_stop) <= 1.0
    (cut_out,) = of(EventKind.LOW_TEMPERATURE, found)
    assert cut_out.t_us == stop.t_us
    (trip,) = of(EventKind.PUMP_TRIP, found)
    assert trip.t_us == stop.movers[0].t_us
    away = of(EventKind.PUMP_START, found)[1].evidence[-1]
    assert away.value == pytest.approx(720.0, abs=5.0)  # the scenario: the pump is back after 12 min
    restart = of(EventKind.COMPRESSOR_START, found)[1].t_us
    assert any(restart < dip.t_us < restart + 120e6 for dip in of(EventKind.START_DIP, found))
    text = "\n".join(event_lines(found, 94320.0, "si"))
    assert "pump trip: its current ended while the compressor ran" in text
    assert "start, not judged" in text
    assert event_facts(found)[-1]["at"] == found[-1].t_us / 1e6


def test_a_fourth_trip_that_lasts_is_a_lock_out_and_an_ordinary_stop_is_none() -> None:
    stops = ((1000, 1300), (2300, 2600), (3600, 3900), (4900, 6400))
    found = events(running(6400, stops))
    assert len(of(EventKind.LOW_TEMPERATURE, found)) == 4
    (locked,) = of(EventKind.LOCKED_OUT, found)
    assert locked.t_us / 1e6 == pytest.approx(4900 + 450, abs=2)
    calm = running(6400, stops)
    calm["suction_pressure"] = np.where(calm["compressor_power"] > 1000.0, 6.1e5, 12.0e5)
    found = events(calm)
    assert len(of(EventKind.COMPRESSOR_STOP, found)) == 4
    assert not of(EventKind.LOW_TEMPERATURE, found)
    assert not of(EventKind.LOCKED_OUT, found)


def test_a_high_pressure_switch_is_told_by_the_rise_before_it() -> None:
    columns = running(1500, ((1200, 1500),))
    columns["suction_pressure"][1185:1200] = 6.1e5
    columns["discharge_pressure"][1140:1200] = np.linspace(25.5e5, 42.0e5, 60)
    (found,) = of(EventKind.HIGH_PRESSURE, events(columns))
    assert found.evidence[0].value == pytest.approx(42.0e5, rel=0.01)


def test_short_cycling_stage_and_voltage_dip() -> None:
    columns = running(4000, ((300, 500), (700, 900)))
    columns["compressor_power"][2000:] *= 0.55
    columns["supply_voltage"] = np.full(4000, 229.0)
    columns["supply_voltage"][3000:3004] = 190.0
    found = events(columns)
    (cycling,) = of(EventKind.SHORT_CYCLING, found)
    assert cycling.t_us / 1e6 == pytest.approx(900, abs=2)
    (stage,) = of(EventKind.STAGE, found)
    assert stage.t_us / 1e6 == pytest.approx(2000, abs=15)
    assert stage.evidence[0].value == pytest.approx(-0.45, abs=0.03)
    (dip,) = of(EventKind.VOLTAGE_DIP, found)
    assert dip.evidence[0].value == 190.0
    assert dip.evidence[1].value == 4.0
    assert dip.t_us == 3000 * 1_000_000


def test_a_dropout_is_no_stop() -> None:
    columns = running(2000, ())
    for values in columns.values():
        values[900:960] = np.nan
    assert events(columns) == []


@settings(derandomize=True, deadline=None, max_examples=12)
@given(cuts=st.lists(st.integers(0, 12_000), max_size=8).map(tuple))
def test_any_chunking_gives_the_same_events(cuts: tuple[int, ...]) -> None:
    columns = running(3000, ((700, 900), (1195, 1230), (2100, 2400)))
    columns["pump_current"] = np.where((np.arange(3000) > 1180) & (np.arange(3000) < 1500), 0.0, 0.92)
    whole = events(columns)
    assert len(whole) > 8
    assert _texts(events(columns, cuts)) == _texts(whole)


def _texts(found: list[MachineEvent]) -> list[str]:
    return [repr(replace(event)) for event in found]
