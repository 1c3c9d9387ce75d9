"""Findings: evidence for, against and missing; held until the water is proven; acts with their condition."""

from __future__ import annotations

import dataclasses
import math
from itertools import combinations

import pytest

from analysis.evidence import OBSERVATIONS, Visit, seen_value
from analysis.finding import Finding
from analysis.finding_acts import Act, Safe
from analysis.finding_rule import Role
from analysis.finding_rules import CODES, RULES
from analysis.finding_values import with_values
from analysis.findings import Status, VerdictOfVisit, acts_in_order, find, why_condensing_rose
from analysis.proofs import Verdict
from analysis.unit_card import CutOut
from tests.analysis.hall import phase, read_card

WANTED = {
    "undercharge", "overcharge", "low_source_flow", "scaled_source_coil", "iced_source_coil", "air_in_loop",
    "clogged_strainer", "weak_pump", "low_load_flow", "liquid_line_restriction", "valve_starving",
    "valve_flooding", "hunting", "non_condensables", "compressor_valve_leak", "reversing_valve_leak",
    "water_in_refrigerant", "source_exhausted", "cut_out_set_against_fluid", "probe_fault",
    "wrong_refrigerant", "control_voltage_loss", "short_cycling",
}  # fmt: skip


def named(found: VerdictOfVisit, code: str) -> Finding:
    return next(finding for finding in found.findings if finding.code == code)


def codes(found: VerdictOfVisit, status: Status) -> set[str]:
    return {finding.code for finding in found.with_status(status)}


def test_every_code_of_the_plan_is_there() -> None:
    assert set(CODES) == WANTED


# The hall's story -----------------------------------------------------------------------------------------


def test_overcharge_is_held_until_the_water_is_proven() -> None:
    found = find(phase("as-found"), read_card())
    assert found.water.verdict is Verdict.NOT_MET
    surplus = named(found, "overcharge")
    assert surplus.status is Status.HELD
    assert surplus.strength > 0.6
    assert "water not proven" in surplus.reason
    assert {"low_source_flow", "weak_pump"} <= codes(found, Status.ACTIVE)
    assert found.findings[0].code == "low_source_flow"
    assert "undercharge" not in codes(found, Status.ACTIVE) | codes(
        found, Status.HELD
    )  # low suction is not low charge


def test_in_a_start_only_what_harms_at_once_is_said() -> None:
    starting = dataclasses.replace(phase("as-found"), just_started=True, steady=False)
    found = find(starting, read_card())
    assert codes(found, Status.ACTIVE) == {"low_source_flow"}
    assert "has just started" in named(found, "weak_pump").reason
    told = acts_in_order(found.findings)
    assert Safe.RELIEVED not in told
    assert not any("Purge" in text for text in told.get(Safe.STOPPED, ()))


def test_once_the_water_is_right_overcharge_is_active_and_first() -> None:
    found = find(phase("water-right"), read_card())
    assert found.water.verdict is Verdict.MET, found.water.reason
    assert found.findings[0].code == "overcharge"
    assert found.findings[0].status is Status.ACTIVE
    assert "low_source_flow" not in codes(found, Status.ACTIVE)


def test_as_left_nothing_is_left_to_say() -> None:
    found = find(phase("as-left"), read_card())
    assert found.water.verdict is Verdict.MET, found.water.reason
    assert [(f.code, f.strength) for f in found.with_status(Status.ACTIVE) if f.strength > 0.5] == []


def test_the_half_repair_s_higher_condensing_temperature_is_explained() -> None:
    card = read_card()
    before, after = with_values(phase("as-found"), card), with_values(phase("water-right"), card)
    sentence = why_condensing_rose(before, after)
    assert "more heat" in sentence
    assert "no worsening" in sentence
    assert why_condensing_rose(after, with_values(phase("as-left"), card)) == ""


def test_a_reference_with_warmer_brine_is_not_used() -> None:
    warm = phase("as-left", source_entering_temperature="9 degC", source_leaving_temperature="5.1 degC")
    found = find(phase("water-right"), read_card(), warm)
    assert any("reference was not used" in note for note in found.notes)
    alike = find(phase("water-right"), read_card(), phase("as-left"))
    assert not any("reference was not used" in note for note in alike.notes)
    assert named(alike, "overcharge").status is Status.ACTIVE


def test_flow_from_the_coil_s_own_drop_does_not_judge_scale() -> None:
    found = find(phase("as-found", load_flow="", compressor_power=""), read_card())
    assert named(found, "scaled_source_coil").status is Status.DECLINED
    assert "coil drop ratio" in named(found, "scaled_source_coil").missing


def test_swapped_brine_probes_are_a_conflict_and_hold_what_concerns_the_refrigerant() -> None:
    found = find(
        phase("water-right", source_entering_temperature="0.1 degC", source_leaving_temperature="4.0 degC"),
        read_card(),
    )
    assert any(conflict.code == "source_probes_swapped" for conflict in found.conflicts)
    assert named(found, "probe_fault").status is Status.ACTIVE
    assert named(found, "overcharge").status is not Status.ACTIVE


def test_a_refrigerant_declared_by_mistake_is_named() -> None:
    r134a = phase("as-left")
    from analysis.saturation import refrigerant

    wrong = dataclasses.replace(r134a, curve=refrigerant("R22"), refrigerant="R22")
    found = find(wrong, read_card())
    assert found.conflicts
    assert {"wrong_refrigerant", "probe_fault"} & codes(found, Status.ACTIVE)
    assert not any(
        f.status is Status.ACTIVE and f.code in ("undercharge", "overcharge") for f in found.findings
    )


# Rules of the engine --------------------------------------------------------------------------------------


def test_no_charge_finding_is_active_before_the_water_is_proven() -> None:
    charge = {rule.code for rule in RULES if rule.charge}
    for name in ("as-found", "water-right", "as-left"):
        for lacking in ("source_pressure_drop", "source_leaving_temperature", "source_entering_temperature"):
            found = find(phase(name, **{lacking: ""}), read_card())
            assert found.water.verdict is not Verdict.MET
            assert not codes(found, Status.ACTIVE) & charge


def test_a_person_may_vouch_for_the_water() -> None:
    bare = phase("water-right", source_pressure_drop="")
    assert named(find(bare, read_card()), "overcharge").status is Status.HELD
    vouched = dataclasses.replace(bare, water_proven_by="technician A, 08:40")
    assert named(find(vouched, read_card()), "overcharge").status is Status.ACTIVE


def test_what_needs_settling_is_held_while_settling() -> None:
    unsettled = dataclasses.replace(phase("water-right"), steady=False)
    assert "settled" in named(find(unsettled, read_card()), "overcharge").reason


def test_water_in_the_refrigerant_goes_above_everything() -> None:
    seen = dataclasses.replace(phase("as-found"), observations=frozenset({"oil_milky"}))
    found = find(seen, read_card())
    assert found.findings[0].code == "water_in_refrigerant"
    assert found.findings[0].acts[0].safe is Safe.STOPPED
    assert "do not restart" in found.findings[0].statement


def test_a_cut_out_below_freezing_is_found() -> None:
    card = dataclasses.replace(read_card(), cut_out=CutOut(260.0, "evaporating temperature", "seen"))
    assert "cut_out_set_against_fluid" in codes(find(phase("as-left"), card), Status.ACTIVE)
    assert "cut_out_set_against_fluid" not in codes(find(phase("as-left"), read_card()), Status.ACTIVE)


@pytest.mark.parametrize(
    ("symbol", "value", "code"),
    [("superheat_swing", 4.5, "hunting"), ("starts_per_hour", 9.0, "short_cycling"),
     ("control_voltage", 0.1, "control_voltage_loss")],
)  # fmt: skip
def test_findings_beside_charge_and_water(symbol: str, value: float, code: str) -> None:
    healthy = phase("as-left")
    assert code not in codes(find(healthy, read_card()), Status.ACTIVE)
    ill = dataclasses.replace(healthy, values={**healthy.values, symbol: seen_value(symbol, value, 0.1)})
    assert code in codes(find(ill, read_card()), Status.ACTIVE)


def test_air_wavers_and_a_falling_well_is_exhausted() -> None:
    found = phase("as-found", pump_current="0.92 A")
    values = {**found.values, "flow_scatter": seen_value("flow_scatter", 0.12, 0.01)}
    assert "air_in_loop" in codes(find(dataclasses.replace(found, values=values), read_card()), Status.ACTIVE)
    well = dataclasses.replace(phase("as-left"), observations=frozenset({"well_level_falls"}))
    assert "source_exhausted" in codes(find(well, read_card()), Status.ACTIVE)


def test_two_numbers_from_one_reading_are_one_sign() -> None:
    """Subcooling and condensing approach share the high-side pressure; flow and water change are one sign."""
    values = {
        "subcooling": seen_value("subcooling", 15.0, 0.3),
        "condensing_approach": seen_value("condensing_approach", 14.0, 0.3),
    }
    found = find(Visit(values, "heating"))
    assert named(found, "overcharge").signs == 1
    assert "one sign" in named(found, "overcharge").strength_words
    assert any("non_condensables" in text for text in named(found, "overcharge").apart)
    water = {
        "source_volume_flow": seen_value("source_volume_flow", 0.3e-3, 0.01e-3),
        "source_change": seen_value("source_change", 6.5, 0.2),
    }
    assert named(find(Visit(water, "heating"), read_card()), "low_source_flow").signs == 1


def test_strength_falls_with_uncertainty() -> None:
    strengths = []
    for u in (0.3, 1.5, 4.0):
        values = {**phase("water-right").values, "subcooling": seen_value("subcooling", 12.0, u)}
        found = find(dataclasses.replace(phase("water-right"), values=values), read_card())
        strengths.append(named(found, "overcharge").strength)
    assert strengths[0] >= strengths[1] > strengths[2]


def test_limits_of_common_practice_cap_the_strength() -> None:
    alone = find(Visit({"superheat": seen_value("superheat", 20.0, 0.3)}, "heating"))
    finding = named(alone, "valve_starving")
    assert finding.strength <= 0.75
    assert finding.supporting[0].source == "common practice, no source"


def test_a_restriction_and_a_starving_valve_are_not_told_apart_without_the_reading_that_tells() -> None:
    values = {
        "superheat": seen_value("superheat", 18.0, 0.4),
        "evaporating_approach": seen_value("evaporating_approach", 12.0, 0.4),
        "subcooling": seen_value("subcooling", 6.0, 0.4),
    }
    found = find(Visit(values, "heating"))
    assert named(found, "liquid_line_restriction").strength == named(found, "valve_starving").strength
    assert any("drier" in text for text in named(found, "valve_starving").apart)
    values["liquid_line_temperature_drop"] = seen_value("liquid_line_temperature_drop", 6.0, 0.3)
    told = find(Visit(values, "heating"))
    assert named(told, "liquid_line_restriction").strength > 1.5 * named(told, "valve_starving").strength


def test_low_subcooling_with_a_receiver_stays_weak() -> None:
    values = {**phase("as-left").values, "subcooling": seen_value("subcooling", 0.0, 0.3)}
    bare = dataclasses.replace(phase("as-left"), values=values)
    with_receiver = dataclasses.replace(bare, receiver=True)
    assert named(find(bare, read_card()), "undercharge").strength > 0.6
    assert named(find(with_receiver, read_card()), "undercharge").strength <= 0.4


def test_without_readings_everything_is_declined() -> None:
    found = find(Visit())
    assert {finding.status for finding in found.findings} == {Status.DECLINED}
    assert found.water.verdict is Verdict.CANNOT_SAY
    assert found.water.missing


def test_lines_carry_value_limit_unit_and_source() -> None:
    for finding in find(phase("as-found"), read_card()).findings:
        for line in (*finding.supporting, *finding.against):
            assert line.source
            assert line.unit
            assert math.isfinite(line.value)
            assert math.isfinite(line.u)
            assert math.isfinite(line.low) or math.isfinite(line.high)


# Acts -----------------------------------------------------------------------------------------------------


def test_every_rule_advises_and_every_act_names_its_condition() -> None:
    for rule in RULES:
        assert rule.acts, rule.code
        assert rule.source
        assert all(isinstance(act.safe, Safe) for act in rule.acts)
        assert all(name in OBSERVATIONS for name in (*rule.seen, *rule.seen_against))
        assert all(rival in CODES for rival in rule.rivals)
        assert any(sign.role is Role.MUST for sign in rule.signs) or rule.seen


@pytest.mark.parametrize("condition", [None, "", "running", "always"])
def test_an_act_without_a_condition_is_refused(condition: str | None) -> None:
    with pytest.raises(ValueError, match="names no condition"):
        Act("Read the pressures.", condition)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "only"),
    [("Open the strainer.", Safe.RELIEVED), ("Flush the coil.", Safe.RELIEVED),
     ("Measure the capacitor.", Safe.ISOLATED), ("Lift both ends of the branch.", Safe.ISOLATED)],
)  # fmt: skip
def test_forbidden_pairs_of_act_and_condition(text: str, only: Safe) -> None:
    Act(text, only)
    for safe in Safe:
        if safe is not only:
            with pytest.raises(ValueError, match="safe only when"):
                Act(text, safe)


def test_nothing_lowers_the_flow_of_a_running_machine() -> None:
    with pytest.raises(ValueError, match="lowers the flow"):
        Act("Throttle the source valve.", Safe.WHILE_RUNNING)


def test_acts_are_grouped_in_the_fixed_order_and_never_mixed() -> None:
    found = find(phase("as-found"), read_card())
    grouped = acts_in_order(found.findings)
    assert list(grouped) == [safe for safe in Safe if safe in grouped]
    for one, other in combinations(grouped.values(), 2):
        assert not set(one) & set(other)


def test_a_held_finding_advises_readings_only() -> None:
    held = find(phase("as-found"), read_card()).with_status(Status.HELD)
    overcharge = next(finding for finding in held if finding.code == "overcharge")
    assert any("Recover" in act.text for act in overcharge.acts)
    assert list(acts_in_order([overcharge])) == [Safe.WHILE_RUNNING]


# What the card says of the machine ------------------------------------------------------------------------


def test_a_variable_speed_compressor_has_a_reference_at_like_power_only() -> None:
    card = dataclasses.replace(read_card(), variable_speed_compressor=True)
    slow = phase("as-left", compressor_power="1.50 kW")
    assert any("speed" in note for note in find(phase("water-right"), card, slow).notes)
    assert not any("speed" in note for note in find(phase("water-right"), card, phase("as-left")).notes)
    assert not any("speed" in note for note in find(phase("water-right"), read_card(), slow).notes)


def test_an_open_loop_has_no_standing_pressure_to_judge() -> None:
    static = seen_value("source_static_gauge", 2e3, 1e3)
    found = phase("as-found", pump_current="0.92 A")
    values = {
        **found.values,
        "source_static_gauge": static,
        "flow_scatter": seen_value("flow_scatter", 0.12, 0.01),
    }
    visit = dataclasses.replace(found, values=values)
    for loop, counts in (("closed pressurised", True), ("open", False), ("closed non-pressurised", False)):
        air = named(find(visit, dataclasses.replace(read_card(), loop=loop)), "air_in_loop")
        assert any(line.symbol == "source_static_gauge" for line in air.supporting) is counts


def test_circuits_and_a_regulating_valve_are_said() -> None:
    card = dataclasses.replace(read_card("bakery"), circuits=2)
    notes = find(Visit(mode="cooling"), card).notes
    assert any("regulating valve" in note for note in notes)
    assert any("2 circuits" in note for note in notes)


# Mode -----------------------------------------------------------------------------------------------------


def test_an_undeclared_mode_comes_from_the_load_side_and_never_from_the_source() -> None:
    found = find(dataclasses.replace(phase("water-right"), mode=""), read_card())
    assert found.visit.mode == "heating"
    assert any("taken from the load side" in note for note in found.notes)
    swapped = phase(
        "water-right", source_entering_temperature="0.1 degC", source_leaving_temperature="4 degC"
    )
    still = find(dataclasses.replace(swapped, mode=""), read_card())
    assert still.visit.mode == "heating"
    assert any(conflict.code == "source_probes_swapped" for conflict in still.conflicts)
    no_load = phase("water-right", load_entering_temperature="", load_leaving_temperature="")
    assert find(dataclasses.replace(no_load, mode=""), read_card()).visit.mode == ""


def test_a_machine_that_stands_still_gives_no_cause_that_needs_it_to_run() -> None:
    found = find(dataclasses.replace(phase("as-found"), running=False, steady=False), read_card())
    assert not [f.code for f in found.findings if f.status is not Status.DECLINED]
    assert {f.strength for f in found.findings if "does not run" in f.reason} == {0.0}
    lines = {line.symbol for line in found.water.lines}
    assert "freeze_margin" not in lines, "the leaving water's distance has a name of its own"
