"""Motors: windings by their ohms, capacitors, overloads and sag; safe order on every path."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.electrical import plate_limits
from analysis.electrical_motors import MotorReadings, judge_motor
from analysis.electrical_safety import by_condition, cautions
from analysis.electrical_windings import Windings, WindingState, judge_windings
from analysis.finding_acts import Safe

INF, NAN = math.inf, math.nan
PLATE = plate_limits(230.0)
SOUND = Windings(4.2, 1.1, 5.3, 50e6)


@pytest.mark.parametrize(
    ("windings", "state"),
    [
        (SOUND, WindingState.SOUND),
        (Windings(4.2, 1.1, 5.5, 50e6), WindingState.SOUND),
        (Windings(INF, INF, 5.3, 50e6), WindingState.OVERLOAD_OPEN),
        (Windings(INF, 1.1, INF, 50e6), WindingState.START_OPEN),
        (Windings(4.2, INF, INF, 50e6), WindingState.RUN_OPEN),
        (Windings(INF, INF, INF, 50e6), WindingState.BOTH_OPEN),
        (Windings(INF, 1.1, 5.3, 50e6), WindingState.LABELS),
        (Windings(5.3, 1.1, 4.2, 50e6), WindingState.LABELS),
        (Windings(1.5, 1.1, 5.3, 50e6), WindingState.UNEQUAL),
        (Windings(4.2, 1.1, 5.3, 2e5), WindingState.EARTHED),
        (Windings(4.2, 1.1, NAN, NAN), WindingState.CANNOT_SAY),
        (Windings(), WindingState.CANNOT_SAY),
    ],
)
def test_windings(windings: Windings, state: WindingState) -> None:
    assert judge_windings(windings).state is state


def test_an_open_overload_is_no_burnt_winding() -> None:
    hot = judge_windings(Windings(INF, INF, 5.3, 50e6, shell_hot=True, stopped_h=0.3))
    assert "not a winding" in hot.statement
    assert "not condemned before it has cooled" in hot.statement
    cold = judge_windings(Windings(INF, INF, 5.3, 50e6, shell_hot=False, stopped_h=12.0))
    assert "does not close again" in cold.statement
    assert judge_motor(MotorReadings(windings=Windings(INF, INF, 5.3, 50e6)), PLATE).supported == (
        "internal overload",
    )


def test_a_compressor_that_hums() -> None:
    hums = MotorReadings(
        terminals=228.0, amps=62.0, locked_amps=70.0, rated_amps=12.0, runs=False, terminals_starting=214.0,
        supply_starting=221.0, windings=SOUND, pressure_ratio=1.0,
    )  # fmt: skip
    base = replace(hums, capacitance=35e-6, marked_capacitance=35e-6)
    weak = judge_motor(replace(base, capacitance=20e-6), PLATE)
    assert weak.supported == ("run capacitor",)
    stuck = judge_motor(base, PLATE)
    assert stuck.supported == ()
    assert "mechanically stuck" in stuck.statement
    unread = judge_motor(hums, PLATE)
    assert "cannot say" in unread.statement
    assert "run capacitor's microfarad" in unread.statement
    sagging = judge_motor(replace(base, terminals_starting=170.0), PLATE)
    assert sagging.supported == ("supply sag at start",)
    assert "51 V of it in the unit's own wiring" in sagging.statement
    loaded = judge_motor(replace(base, pressure_ratio=2.5), PLATE)
    assert loaded.supported == ("start against pressure",)


def test_the_halls_pump() -> None:
    # Our scenario A: 228 V, 1.16 A (was 0.92), 1.9 of 5.0 microfarad: the capacitor, and not the load.
    pump = judge_motor(
        MotorReadings("pump", 228.0, amps=1.16, rated_amps=0.92, runs=True, capacitance=1.9e-6,
                      marked_capacitance=5e-6), PLATE)  # fmt: skip
    assert pump.supported == ("run capacitor",)
    assert "explains 1.16 A where the card says 0.92" in pump.statement
    unread = judge_motor(MotorReadings("pump", 228.0, amps=1.16, rated_amps=0.92, runs=True), PLATE)
    assert unread.supported == ()
    jammed = judge_motor(
        MotorReadings("fan", 228.0, amps=1.3, rated_amps=0.92, runs=True, capacitance=5e-6,
                      marked_capacitance=5e-6), PLATE)  # fmt: skip
    assert jammed.supported == ("load on its shaft",)


@pytest.mark.parametrize(
    ("measured", "strength"),
    [(4.80, "not supported"), (4.75, "cannot say"), (4.65, "cannot say"), (4.55, "supported")],
)
def test_a_capacitor_near_its_limit_is_not_condemned(measured: float, strength: str) -> None:
    # Limit 94 % of 5.0 is 4.70 microfarad; a meter's range is good to 2 %.
    pump = judge_motor(MotorReadings("pump", capacitance=measured * 1e-6, marked_capacitance=5e-6), PLATE)
    assert {c.name: c.strength for c in pump.causes}["run capacitor"] == strength


def test_no_volts_no_verdict_on_the_motor() -> None:
    dead = judge_motor(MotorReadings(terminals=0.0, runs=False), PLATE)
    assert dead.supported == ("supply at its terminals",)
    assert any("follow its chain" in act.text for act in dead.acts)


def test_capacitors_are_discharged_before_they_are_measured() -> None:
    acts = by_condition(judge_motor(MotorReadings(), PLATE).acts)[Safe.ISOLATED]
    assert acts.index("discharge the capacitors through a resistor and prove it") < acts.index(
        "measure the capacitors, leads off"
    )


def test_cautions() -> None:
    codes = [c.code for c in cautions("A3", gauges=True)]
    assert codes == [
        "qualified", "prove_tester", "discharge", "isolated_leads", "second_supplies", "ignition", "pressure",
        "overnight",
    ]  # fmt: skip
    assert "ignition" in [c.code for c in cautions(None)]
    assert "ignition" not in [c.code for c in cautions("A1")]
    assert "ignition" in [c.code for c in cautions("B2L")]


maybe = st.one_of(st.just(NAN), st.floats(0.0, 300.0))
ohm = st.one_of(st.just(NAN), st.just(INF), st.floats(0.1, 50.0))


@settings(derandomize=True, deadline=None, max_examples=300)
@given(
    st.builds(
        MotorReadings, name=st.sampled_from(["compressor", "pump", "fan"]), terminals=maybe,
        terminals_starting=maybe, supply_starting=maybe, amps=maybe, rated_amps=maybe, locked_amps=maybe,
        runs=st.sampled_from([True, False, None]), capacitance=st.one_of(st.just(NAN), st.floats(0, 1e-4)),
        marked_capacitance=st.one_of(st.just(NAN), st.floats(1e-7, 1e-4)),
        windings=st.builds(Windings, ohm, ohm, ohm, st.one_of(st.just(NAN), st.floats(0, 1e8))),
        pressure_ratio=maybe,
    )
)  # fmt: skip
def test_no_cause_rests_on_a_reading_that_was_not_taken(read: MotorReadings) -> None:
    found = judge_motor(read, PLATE)
    needs = {
        "supply at its terminals": (read.terminals,),
        "supply sag at start": (read.terminals_starting,),
        "run capacitor": (read.capacitance, read.marked_capacitance),
        "start capacitor": (read.start_capacitance, read.marked_start_capacitance),
        "internal overload": (read.windings.c_s, read.windings.c_r, read.windings.s_r),
        "load on its shaft": (read.amps, read.rated_amps, read.capacitance, read.marked_capacitance),
        "start against pressure": (read.pressure_ratio,),
    }
    for name in found.supported:
        assert not any(math.isnan(value) for value in needs.get(name, ())), found
    assert found.statement
    assert all(act.safe for act in found.acts)
