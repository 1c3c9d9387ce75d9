"""Guards: every impossible declaration is caught, no right one is; the conflict is named and asked."""

from __future__ import annotations

import random

import pytest

from analysis.evidence import Visit, seen_value
from analysis.guards import guards
from analysis.saturation import refrigerant
from tests.analysis.running_states import REFRIGERANTS, draw, impossible, visit

PSI, BAROMETER = 6894.757, 101_325.0


def declared_wrong(rng: random.Random, count: int) -> tuple[int, list[str]]:
    """Catch impossible declarations; gives how many were tried and which were missed."""
    missed: list[str] = []
    tried = 0
    while tried < count:
        state = draw(rng)
        declared = rng.choice([name for name in REFRIGERANTS if name != state.name] + [state.name] * 2)
        shift = rng.choice((0.0, -BAROMETER, BAROMETER)) if declared == state.name else 0.0
        if not impossible(state, declared, shift):
            continue
        tried += 1
        if not guards(visit(state, declared, rng, shift)):
            missed.append(f"{state} declared {declared} shift {shift}")
    return tried, missed


def declared_right(rng: random.Random, count: int) -> list[str]:
    """Give the right declarations that a guard stops all the same."""
    stopped: list[str] = []
    for _ in range(count):
        state = draw(rng)
        found = guards(visit(state, state.name, rng))
        if found:
            stopped.append(f"{state}: {found[0].code} {found[0].sentence}")
    return stopped


def test_impossible_declarations_are_caught_and_right_ones_are_not() -> None:
    rng = random.Random(20)
    _, missed = declared_wrong(rng, 200)
    assert missed == []
    assert declared_right(rng, 200) == []


def test_swapped_water_probes_are_named() -> None:
    rng = random.Random(21)
    for _ in range(100):
        state = draw(rng)
        codes = {conflict.code for conflict in guards(visit(state, state.name, rng, swapped=True))}
        assert "source_probes_swapped" in codes


def typed(mode: str, name: str, **readings: float) -> Visit:
    return Visit({s: seen_value(s, v) for s, v in readings.items()}, mode, name, refrigerant(name))


def test_r22_on_an_r410a_scale_names_the_refrigerant_that_would_fit() -> None:
    """200 psig: R-22 condenses at 101.4 F, R-410A at 69.7 F (CoolProp), below water entering at 85 F."""
    found = guards(
        typed("cooling", "R410A", discharge_pressure=200 * PSI + BAROMETER,
              suction_pressure=70 * PSI + BAROMETER,
              source_entering_temperature=302.6, source_leaving_temperature=308.1)
    )  # fmt: skip
    assert [conflict.code for conflict in found] == ["refrigerant_scale"]
    assert "R22" in found[0].fits
    assert "What is the machine filled with" in found[0].ask


def test_condensing_below_leaving_water_is_doubtful_and_asked() -> None:
    curve = refrigerant("R410A")
    found = guards(
        typed("cooling", "R410A", discharge_pressure=float(curve.p_bubble(304.0)),
              source_entering_temperature=302.0, source_leaving_temperature=310.0)
    )  # fmt: skip
    assert found
    assert "leaving" in found[0].sentence


@pytest.mark.parametrize(
    ("low", "high", "code"),
    [(2.4e6, 0.7e6, "suction_above_discharge"), (0.9e6, 0.9e6, "one_channel"), (0.9e6, 1.0e6, "low_ratio")],
)
def test_pressures_against_each_other(low: float, high: float, code: str) -> None:
    found = guards(typed("heating", "R410A", suction_pressure=low, discharge_pressure=high))
    assert [conflict.code for conflict in found] == [code]


def test_a_stopped_machine_may_have_equal_pressures() -> None:
    stopped = Visit(
        {s: seen_value(s, 0.9e6) for s in ("suction_pressure", "discharge_pressure")},
        "heating",
        running=False,
    )
    assert guards(stopped) == ()


def test_gauge_entered_as_absolute_is_offered_as_the_cause() -> None:
    """R-134a at 35 degC, its 7.9 bar(g) entered as 7.9 bar(a), would condense below its liquid line."""
    curve = refrigerant("R134a")
    p = float(curve.p_bubble(308.0)) - BAROMETER
    found = guards(typed("heating", "R134a", discharge_pressure=p, liquid_temperature=306.0,
                         load_entering_temperature=301.0))  # fmt: skip
    assert found
    assert "gauge pressure was entered as absolute" in found[0].ask


@pytest.mark.parametrize(("excess", "held"), [(0.0, False), (20e3, False), (90e3, True), (-90e3, True)])
def test_standing_pressure_at_rest(excess: float, held: bool) -> None:
    p = float(refrigerant("R410A").p_bubble(288.15)) + excess
    rest = Visit(
        {"standing_pressure": seen_value("standing_pressure", p, 5e3),
         "resting_temperature": seen_value("resting_temperature", 288.15, 0.3)},
        curve=refrigerant("R410A"), refrigerant="R410A", running=False,
    )  # fmt: skip
    assert bool(guards(rest)) is held


def test_nothing_is_said_where_nothing_is_known() -> None:
    assert guards(Visit()) == ()


def test_a_fallen_suction_clamp_is_asked_about() -> None:
    ambient = 287.2
    fallen = typed("heating", "R410A", suction_pressure=683e3, suction_temperature=ambient,
                   source_entering_temperature=277.15, ambient_temperature=ambient + 0.2)  # fmt: skip
    assert "suction_clamp_at_ambient" in {conflict.code for conflict in guards(fallen)}
    hot = typed("heating", "R410A", suction_pressure=683e3, suction_temperature=292.0,
                source_entering_temperature=277.15, ambient_temperature=ambient)  # fmt: skip
    assert guards(hot) == ()  # hot gas, not the air of the room: a leaking reversing valve shows that


def test_liquid_colder_than_what_cooled_it_is_asked_about() -> None:
    cold = typed("heating", "R410A", liquid_temperature=296.0, load_entering_temperature=303.15)
    assert [conflict.code for conflict in guards(cold)] == ["liquid_below_entering"]
