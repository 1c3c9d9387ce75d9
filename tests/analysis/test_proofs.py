"""Proofs: met, not met, cannot say, each with its evidence and what is missing."""

from __future__ import annotations

import dataclasses
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.evidence import Visit, seen_value
from analysis.finding_values import with_values
from analysis.flow_routes import FlowRoute
from analysis.proofs import Proof, Verdict, prove_all, prove_water
from analysis.proofs_pressure import prove_liquid_decay, prove_nitrogen, prove_vacuum
from tests.analysis.hall import phase, read_card


def proofs(visit: Visit) -> dict[str, Proof]:
    card = read_card()
    return {proof.code: proof for proof in prove_all(with_values(visit, card), card)}


@pytest.mark.parametrize(
    ("name", "water"),
    [("as-found", Verdict.NOT_MET), ("water-right", Verdict.MET), ("as-left", Verdict.MET)],
)
def test_the_hall_s_water(name: str, water: Verdict) -> None:
    assert proofs(phase(name))["water_proven"].verdict is water


def test_the_hall_as_left() -> None:
    found = proofs(phase("as-left"))
    assert found["freeze_margin"].verdict is Verdict.MET
    assert found["superheat_in_band"].verdict is Verdict.MET
    assert found["subcooling_in_band"].verdict is Verdict.MET
    assert found["heat_balance"].reason == "too uncertain to grade"  # unmatched clamps on a 4 K change
    assert found["supply_voltage_in_band"].verdict is Verdict.CANNOT_SAY
    assert found["supply_voltage_in_band"].missing


def test_matched_probes_let_the_heat_balance_be_graded() -> None:
    hall = phase("as-left")
    matched = {
        name: dataclasses.replace(seen, u=0.07)
        if name.endswith(("entering_temperature", "leaving_temperature"))
        else seen
        for name, seen in hall.values.items()
    }
    assert proofs(dataclasses.replace(hall, values=matched))["heat_balance"].verdict is Verdict.MET


def test_the_hall_as_found_is_close_to_freezing() -> None:
    found = proofs(phase("as-found"))
    assert found["freeze_margin"].verdict is not Verdict.MET
    assert "be ready to stop" in found["freeze_margin"].reason
    assert found["subcooling_in_band"].verdict is Verdict.NOT_MET


def test_flow_and_heat_that_contradict_each_other_are_no_proof() -> None:
    card = read_card()
    lying = phase("as-left", load_flow="0.30 L/s")
    assert prove_water(with_values(lying, card), card).verdict is not Verdict.MET


def test_the_route_is_always_said() -> None:
    card = read_card()
    by_drop = prove_water(with_values(phase("as-left"), card), card)
    assert "pressure drop table, which cannot judge scale" in by_drop.reason
    values = {**phase("as-left").values, "source_flow": seen_value("source_flow", 0.6e-3, 1e-5)}
    timed = dataclasses.replace(phase("as-left"), values=values, flow_route=FlowRoute.TIMED_CONTAINER)
    assert "timed container" in prove_water(with_values(timed, card), card).reason


def test_without_a_band_for_the_flow_the_water_cannot_be_proven() -> None:
    values = {**phase("as-left").values, "source_flow": seen_value("source_flow", 0.6e-3, 1e-5)}
    proof = prove_water(with_values(dataclasses.replace(phase("as-left"), values=values)))
    assert proof.verdict is Verdict.CANNOT_SAY
    assert any("unit card or healthy reference" in what for what in proof.missing)


def test_a_healthy_reference_serves_in_place_of_a_card() -> None:
    def metered(name: str, flow: float) -> Visit:
        values = {**phase(name).values, "source_flow": seen_value("source_flow", flow, 1e-5)}
        return with_values(dataclasses.replace(phase(name), values=values))

    healthy = metered("as-left", 0.60e-3)
    assert prove_water(metered("water-right", 0.60e-3), None, healthy).verdict is Verdict.MET
    assert prove_water(metered("as-found", 0.33e-3), None, healthy).verdict is Verdict.NOT_MET


def test_plain_water_near_freezing_is_not_proven() -> None:
    from analysis.liquids import Liquid

    cold = dataclasses.replace(phase("as-left"), source_liquid=Liquid("water"))
    proof = prove_water(with_values(cold))
    assert proof.verdict is Verdict.NOT_MET
    assert "close to freezing" in proof.reason


@pytest.mark.parametrize(("ratio", "verdict"), [(0.38, Verdict.NOT_MET), (0.99, Verdict.MET)])
def test_the_pump_s_capacitor(ratio: float, verdict: Verdict) -> None:
    values = {
        **phase("as-left").values,
        "pump_capacitance": seen_value("pump_capacitance", ratio * 5e-6, 5e-8),
    }
    assert proofs(dataclasses.replace(phase("as-left"), values=values))["pump_capacitor"].verdict is verdict


def test_a_value_beyond_its_limit_by_less_than_its_uncertainty_decides_nothing() -> None:
    values = {**phase("as-left").values, "superheat": seen_value("superheat", 9.2, 0.6)}
    assert (
        proofs(dataclasses.replace(phase("as-left"), values=values))["superheat_in_band"].verdict
        is Verdict.CANNOT_SAY
    )


def test_before_the_machine_has_settled_superheat_is_not_judged() -> None:
    found = proofs(dataclasses.replace(phase("as-left"), steady=False))
    assert found["superheat_in_band"].verdict is Verdict.CANNOT_SAY
    assert "settled" in found["superheat_in_band"].reason


@pytest.mark.parametrize(("excess", "verdict"), [(0.0, Verdict.MET), (120e3, Verdict.NOT_MET)])
def test_a_machine_at_rest_proves_its_refrigerant(excess: float, verdict: Verdict) -> None:
    from analysis.saturation import refrigerant

    curve = refrigerant("R410A")
    p = float(curve.p_bubble(288.15)) + excess
    readings = {"suction_pressure": p, "discharge_pressure": 1.005 * p, "ambient_temperature": 288.15}
    values = {name: seen_value(name, value, 3e3 if value > 1e3 else 0.2) for name, value in readings.items()}
    rest = Visit(values, "heating", "R410A", curve, running=False)
    assert proofs(rest)["standing_pressure"].verdict is verdict
    running = dataclasses.replace(rest, running=True)
    assert proofs(running)["standing_pressure"].verdict is Verdict.CANNOT_SAY


def test_static_pressure_of_the_loop_is_shown_as_the_gauge_does() -> None:
    values = {"source_static_pressure": seen_value("source_static_pressure", 101_325.0 + 180e3, 2e3)}
    found = proofs(Visit(values, "heating"))["source_static_gauge_in_band"]
    assert found.verdict is Verdict.MET
    assert found.lines[0].value == pytest.approx(180e3)


def test_a_loop_that_lost_its_pressure_is_no_proven_water() -> None:
    def with_gauge(pascal: float) -> Visit:
        values = {"source_static_pressure": seen_value("source_static_pressure", 94_320.0 + pascal, 2e3)}
        return dataclasses.replace(phase("as-left"), values={**phase("as-left").values, **values})

    assert proofs(with_gauge(180e3))["water_proven"].verdict is Verdict.MET
    flat = proofs(with_gauge(5e3))["water_proven"]
    assert flat.verdict is Verdict.NOT_MET
    assert "air can be drawn in" in flat.reason


def test_in_a_start_the_freeze_margin_is_not_judged() -> None:
    starting = dataclasses.replace(phase("as-found"), just_started=True, steady=False)
    proof = proofs(starting)["freeze_margin"]
    assert proof.verdict is Verdict.CANNOT_SAY
    assert proof.reason.startswith("start, not judged")


# Pressure tests -------------------------------------------------------------------------------------------


@settings(derandomize=True, deadline=None, max_examples=60)
@given(st.floats(2e3, 2e4), st.floats(2e5, 6e5), st.sampled_from([0.0, 20.0, 60.0]))
def test_relaxation_is_no_leak_and_a_leak_is_no_relaxation(creep: float, start: float, leak: float) -> None:
    t = [60.0 * 1.6**n for n in range(10)]
    p = [start - creep * math.log(x / 60.0) - leak * x for x in t]
    verdict = prove_liquid_decay(t, p, u_pressure=300.0).verdict
    lost = leak * (t[-1] - t[4])
    if leak == 0.0:
        assert verdict is Verdict.MET
    elif lost > 0.10 * start:
        assert verdict is Verdict.NOT_MET


@settings(derandomize=True, deadline=None, max_examples=60)
@given(st.floats(1e6, 4e6), st.floats(275.0, 305.0), st.floats(-12.0, 12.0))
def test_nitrogen_follows_the_absolute_gas_law(p: float, t: float, change: float) -> None:
    tight = (p, p * (t + change) / t)
    assert prove_nitrogen(tight, (t, t + change), u_pressure=3e3, u_temperature=0.3).verdict is Verdict.MET
    leaking = (p, 0.97 * tight[1])
    assert (
        prove_nitrogen(leaking, (t, t + change), u_pressure=3e3, u_temperature=0.3).verdict is Verdict.NOT_MET
    )


def test_moisture_levels_off_and_a_leak_goes_on() -> None:
    t = [60.0 * n for n in range(16)]
    moist = [60.0 + 400.0 * (1.0 - math.exp(-x / 200.0)) for x in t]
    found = prove_vacuum(t, moist, u_pressure=5.0)
    assert found.verdict is Verdict.NOT_MET
    assert "moisture" in found.reason
    assert "leak" in prove_vacuum(t, [60.0 + 0.4 * x for x in t], u_pressure=5.0).reason


@pytest.mark.parametrize("prove", [prove_liquid_decay, prove_vacuum])
def test_too_few_readings_say_nothing(prove) -> None:  # type: ignore[no-untyped-def]
    for times in ([], [1.0, 2.0], [1.0, 1.0, 2.0, 3.0, 4.0]):
        proof = prove(times, [1e5] * len(times), u_pressure=100.0)
        assert proof.verdict is Verdict.CANNOT_SAY
        assert proof.missing
