"""Proofs of work that was done: purge, leak test, ledger, desuperheater, run-in; and how they are taken."""

from __future__ import annotations

import dataclasses
import math

import pytest

from analysis.evidence import Visit, seen_value
from analysis.finding_acts import Safe
from analysis.finding_values import with_values
from analysis.proof_acts import ACTS, how_to_get
from analysis.proofs import Proof, Verdict, prove_all
from analysis.proofs_hot_water import FLOW, IN, OUT, has_desuperheater, prove_desuperheater
from analysis.proofs_record import prove_leaks, prove_ledger, prove_purge, record_proofs
from analysis.proofs_run_in import prove_run_in
from analysis.refrigerant_ledger import Ledger, Transfer
from analysis.unit_card import Band
from analysis.visit import LeakCheck, Purge, VisitRecord
from tests.analysis.hall import phase, read_card

HALL = read_card()


def hot(entering: float, leaving: float, gas: float = 77.0, u: float = 0.3, **more: float) -> Visit:
    celsius = {IN: entering, OUT: leaving, "discharge_temperature": gas}
    values = {name: seen_value(name, t + 273.15, u) for name, t in celsius.items()}
    values |= {name: seen_value(name, x) for name, x in more.items()}
    return Visit(values, "heating")


@pytest.mark.parametrize(
    ("entering", "leaving", "gas", "verdict", "words"),
    [
        (45.0, 49.0, 77.0, Verdict.MET, ""),
        (45.0, 45.2, 77.0, Verdict.NOT_MET, "hardly heated"),
        (30.0, 44.0, 77.0, Verdict.NOT_MET, "too little of it flows"),
        (50.0, 46.0, 77.0, Verdict.NOT_MET, "gives its heat to the refrigerant"),
        (58.0, 64.0, 85.0, Verdict.NOT_MET, "scald"),
        (74.0, 75.0, 76.0, Verdict.NOT_MET, "scald"),
        (45.0, 80.0, 60.0, Verdict.NOT_MET, "scald"),
        (45.0, 55.4, 77.0, Verdict.CANNOT_SAY, "within its uncertainty"),
        (48.0, 48.1, 50.0, Verdict.CANNOT_SAY, "nothing to give"),
        (40.0, 52.0, 48.0, Verdict.CANNOT_SAY, "exchanged"),
    ],
)
def test_the_desuperheater(entering: float, leaving: float, gas: float, verdict: Verdict, words: str) -> None:
    proof = prove_desuperheater(hot(entering, leaving, gas))
    assert proof.verdict is verdict, proof
    assert words in proof.reason


def test_the_desuperheater_s_limits_are_the_card_s_where_it_states_them() -> None:
    bands = (
        Band("desuperheater_change", 278.15 - 273.15, 8.0, source="sheet"),
        Band(OUT, high=273.15 + 55.0, source="sheet"),
    )
    card = dataclasses.replace(HALL, bands=(*HALL.bands, *bands))
    assert prove_desuperheater(hot(45.0, 49.0), HALL).verdict is Verdict.MET
    proof = prove_desuperheater(hot(45.0, 48.0), card)
    assert proof.verdict is Verdict.NOT_MET
    assert proof.lines[0].source == "card: sheet"
    assert "scald" in prove_desuperheater(hot(50.0, 56.5), card).reason
    assert has_desuperheater(Visit(), card)
    assert not has_desuperheater(phase("as-left"), HALL)


def test_the_desuperheater_s_heat_has_its_uncertainty() -> None:
    proof = prove_desuperheater(hot(45.0, 49.0, **{FLOW: 0.05e-3}))
    heat = next(line for line in proof.lines if line.symbol == "desuperheater_heat")
    assert heat.value == pytest.approx(0.05 * 0.989 * 4180.0 * 4.0, rel=0.01)
    assert heat.u == pytest.approx(heat.value * math.hypot(0.03, 0.3 * math.sqrt(2.0) / 4.0), rel=1e-6)


def test_the_desuperheater_needs_all_three_and_a_settled_machine() -> None:
    bare = Visit({IN: seen_value(IN, 318.15)}, "heating")
    assert prove_desuperheater(bare).missing == (
        "water out of the desuperheater", "discharge line, before the desuperheater",
    )  # fmt: skip
    unsettled = dataclasses.replace(hot(45.0, 49.0), steady=False)
    assert prove_desuperheater(unsettled).verdict is Verdict.CANNOT_SAY


@pytest.mark.parametrize(
    ("purge", "verdict"),
    [
        (Purge("loop", dead_head_drop=0.02, flow=0.6e-3, bore=0.026), Verdict.MET),
        (Purge("loop", dead_head_drop=0.02, flow=0.2e-3, bore=0.040), Verdict.NOT_MET),
        (Purge("loop", dead_head_drop=0.055), Verdict.CANNOT_SAY),
        (Purge("loop", dead_head_drop=0.08), Verdict.NOT_MET),
        (Purge("loop", flow=0.6e-3, bore=0.026), Verdict.CANNOT_SAY),
    ],
)
def test_a_purge(purge: Purge, verdict: Verdict) -> None:
    assert prove_purge(purge).verdict is verdict


def test_a_leak_test_needs_places_a_method_and_a_known_leak() -> None:
    good = LeakCheck("valves", "tight", "electronic detector", "reference leak")
    assert prove_leaks([good]).verdict is Verdict.MET
    assert prove_leaks([good, dataclasses.replace(good, found="leaks")]).verdict is Verdict.NOT_MET
    for blind in (dataclasses.replace(good, tried_on=""), dataclasses.replace(good, method="")):
        proof = prove_leaks([good, blind])
        assert proof.verdict is Verdict.CANNOT_SAY
        assert proof.missing
    assert prove_leaks([]).missing


def test_the_ledger() -> None:
    moved = (Transfer("recovered", 1.31), Transfer("charged", 1.03))
    closed = Ledger("R410A", moved, mass_before=1.31, mass_after=1.03)
    assert prove_ledger(closed).verdict is Verdict.MET
    lost = prove_ledger(dataclasses.replace(closed, mass_after=0.90))
    assert lost.verdict is Verdict.NOT_MET
    assert lost.reason.startswith("less is in the machine")
    never = prove_ledger(dataclasses.replace(closed, mass_before=math.nan))
    assert never.verdict is Verdict.CANNOT_SAY
    assert never.missing == ("mass in the machine before",)


def test_a_record_asks_only_for_what_was_done() -> None:
    assert record_proofs(VisitRecord()) == ()
    opened = VisitRecord(ledger=Ledger("R410A", (Transfer("recovered", 0.28),)))
    assert [(proof.code, proof.verdict) for proof in record_proofs(opened)] == [
        ("leak_test", Verdict.CANNOT_SAY), ("refrigerant_ledger", Verdict.CANNOT_SAY),
    ]  # fmt: skip


def test_the_run_in() -> None:
    left, same = (with_values(phase("as-left"), HALL) for _ in range(2))
    assert prove_run_in(same, left, HALL, hours=30.0).verdict is Verdict.MET
    early = prove_run_in(same, left, HALL, hours=2.0)
    assert early.verdict is Verdict.CANNOT_SAY
    assert "24 h are asked for" in early.reason
    assert "no later" in prove_run_in(same, left, HALL, hours=-1.0).reason
    fallen = prove_run_in(with_values(phase("as-found"), HALL), left, HALL, hours=30.0)
    assert fallen.verdict is Verdict.NOT_MET
    assert "source volume flow" in fallen.reason
    warm = with_values(phase("as-left", source_entering_temperature="9 degC"), HALL)
    assert "not taken alike" in prove_run_in(warm, left, HALL, hours=30.0).reason


def test_every_proof_says_how_it_is_taken_and_when_that_is_safe() -> None:
    codes = {proof.code for proof in prove_all(phase("as-left"), HALL)}
    assert codes <= set(ACTS)
    assert all(ACTS.values())
    cannot = [Proof(code, "", Verdict.CANNOT_SAY, ()) for code in ACTS]
    grouped = how_to_get(cannot)
    assert list(grouped) == [safe for safe in Safe if safe in grouped]
    nitrogen = next(text for text in grouped[Safe.ISOLATED] if "nitrogen" in text)
    assert "regulator" in nitrogen
    assert "never oxygen" in nitrogen
    assert how_to_get([Proof("run_in", "", Verdict.MET, ())]) == {}
