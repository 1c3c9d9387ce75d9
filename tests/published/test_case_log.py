"""The published cases: what is proven must be found, what is unconfirmed must be declined."""

from __future__ import annotations

import pytest

from analysis.case_file import CaseFile, visit_of_case
from analysis.finding import Finding
from analysis.finding_rules import RULES
from analysis.findings import Status, VerdictOfVisit, find
from analysis.liquids import Liquid
from analysis.pressure_drop import PressureDropTable
from analysis.saturation import refrigerant
from analysis.unit_card import EXAMPLE, Band, UnitCard, unit_card
from analysis.water import heat_factor, heat_from_liquid, leaving_temperature
from tests.published.case_log import NORMAL_MATRIX, ROWS, Row

PSI, GPM, BTU_H = 6894.757, 6.30902e-5, 0.29307107
BY_NUMBER = {row.number: row for row in ROWS}


def verdict(row: Row, **changed: str) -> VerdictOfVisit:
    readings = {symbol: text for symbol, text in (row.readings | changed).items() if text}
    case = CaseFile(
        mode=row.mode, refrigerant=row.refrigerant, metering=row.metering, receiver=row.receiver,
        source_fluid=row.fluid, readings=readings, seen=row.seen,
        gauge_class={"pressure": "2 psi", "temperature": "1 degF", "temperature_difference": "1 degF"},
    )  # fmt: skip
    card = matrix_card() if row.source == NORMAL_MATRIX.source else None
    return find(visit_of_case(case), card)


def matrix_card() -> UnitCard:
    """Take the manual's own normal row as limits: subcooling 10 to 12 F, superheat 8 to 12 F."""
    import dataclasses

    degf = 5 / 9
    bands = (
        Band("subcooling", 9 * degf, 13 * degf, source=NORMAL_MATRIX.source),
        Band("superheat", 7 * degf, 13 * degf, source=NORMAL_MATRIX.source),
    )
    return dataclasses.replace(unit_card(EXAMPLE), bands=bands)


def said(found: VerdictOfVisit) -> list[Finding]:
    return [finding for finding in found.findings if finding.status is not Status.DECLINED]


@pytest.mark.parametrize("row", [r for r in ROWS if r.kind == "top"], ids=lambda r: f"case {r.number}")
def test_a_proven_cause_is_first_or_shares_the_first_place(row: Row) -> None:
    found = said(verdict(row))
    assert found, "nothing was said"
    best = max(finding.strength for finding in found)
    first = {finding.code for finding in found if finding.strength >= best - 1e-9}
    assert first & set(row.expected), [(f.code, f.strength) for f in found]


@pytest.mark.parametrize("row", [r for r in ROWS if r.kind == "among"], ids=lambda r: f"case {r.number}")
def test_a_published_cause_is_among_the_first_three(row: Row) -> None:
    found = said(verdict(row))
    ranked = sorted(found, key=lambda finding: -finding.strength)[:3]
    assert set(row.expected) <= {finding.code for finding in ranked}, [(f.code, f.strength) for f in found]
    for what in row.missing:
        asked = {text for finding in ranked for text in finding.missing}
        assert what in asked


@pytest.mark.parametrize("row", [r for r in ROWS if r.kind == "normal"], ids=lambda r: f"case {r.number}")
def test_a_published_healthy_state_raises_nothing(row: Row) -> None:
    found = verdict(row)
    assert [(f.code, f.strength) for f in said(found) if f.strength > 0.5] == []
    assert found.conflicts == ()


@pytest.mark.parametrize("row", [r for r in ROWS if r.kind == "decline"], ids=lambda r: f"case {r.number}")
def test_what_is_unconfirmed_is_declined(row: Row) -> None:
    found = verdict(row)
    charge = {rule.code for rule in RULES if rule.charge}
    assert [f.code for f in said(found) if f.status is Status.ACTIVE and f.code in charge] == []
    assert [f.code for f in said(found) if f.strength > 0.8] == []
    assert found.water.verdict.value == "cannot say"


def test_without_subcooling_row_7_lists_both_causes_and_asks_for_it() -> None:
    """The manual tells undercharge from a plugged valve by subcooling alone."""
    found = said(verdict(BY_NUMBER[7], subcooling=""))
    codes = {finding.code for finding in found}
    assert {"undercharge", "valve_starving"} <= codes
    for code in ("undercharge", "valve_starving"):
        finding = next(f for f in found if f.code == code)
        assert "subcooling" in finding.missing
        assert finding.strength < 0.8


def test_charge_is_held_in_every_row_without_proven_water() -> None:
    for row in ROWS:
        charge = {rule.code for rule in RULES if rule.charge}
        active = {f.code for f in verdict(row).findings if f.status is Status.ACTIVE}
        assert not active & charge, row.number


def test_row_10_allows_no_refrigerant_finding() -> None:
    charge = {rule.code for rule in RULES if rule.charge}
    assert not {finding.code for finding in said(verdict(BY_NUMBER[10]))} & charge


def test_row_14_stays_weak() -> None:
    found = verdict(BY_NUMBER[14])
    assert max(f.strength for f in found.findings if f.code == "undercharge") <= 0.4


# Arithmetic rows ------------------------------------------------------------------------------------------


def test_row_2_approach_of_ten_degrees() -> None:
    """Row 2: 211 psig of R-22 condenses at 105.1 F, 10 F above the leaving water."""
    t = float(refrigerant("R22").t_bubble(211 * PSI + 101_325.0)) * 9 / 5 - 459.67
    assert t == pytest.approx(105.1, abs=0.1)


def test_row_10_heat_from_the_well() -> None:
    """Row 10: 12 gpm and 9.5 F are about 57 000 Btu/h; the owner stated 54 000."""
    heat = float(heat_from_liquid(Liquid("water"), 12 * GPM, 283.15, 283.15 - 9.5 * 5 / 9)) / BTU_H
    assert heat == pytest.approx(57_000, rel=0.01)


def test_row_20_leaving_water() -> None:
    """Row 20: 50 F in, 6 gpm, 36 700 Btu/h extracted: 37.8 F out."""
    t = float(leaving_temperature(Liquid("water"), 6 * GPM, 283.15, 36_700 * BTU_H)) * 9 / 5 - 459.67
    assert t == pytest.approx(37.8, abs=0.1)


def test_row_21_exponents_and_the_misprint() -> None:
    """Row 21: size 036; 4.5 and 9 gpm at 30 and 70 F; a printed 8.8 where 6.75 fits stands out."""
    flows, t30, t70 = (4.5 * GPM, 9 * GPM), 272.04, 294.26
    table = PressureDropTable(flows, (t30, t70), ((1.6 * PSI, 5.4 * PSI), (1.2 * PSI, 3.8 * PSI)))
    assert table.exponents[0][0] == pytest.approx(1.75, abs=0.01)
    assert table.exponents[1][0] == pytest.approx(1.66, abs=0.01)
    between = 1.6 * PSI * 1.5**1.75  # at 6.75 gpm
    right = PressureDropTable((4.5 * GPM, 6.75 * GPM, 9 * GPM), (t30,), ((1.6 * PSI, between, 5.4 * PSI),))
    misread = PressureDropTable((4.5 * GPM, 8.8 * GPM, 9 * GPM), (t30,), ((1.6 * PSI, between, 5.4 * PSI),))
    assert not right.doubts()
    assert misread.doubts()


def test_row_23_fluid_factors() -> None:
    """Row 23: computed against the trade's round 500 and 485."""
    assert float(heat_factor(Liquid("water"), 283.15)) == pytest.approx(501.6, abs=0.1)
    glycol = Liquid("propylene_glycol", mass_fraction=0.25)
    assert float(heat_factor(glycol, 283.15)) == pytest.approx(475.0, rel=0.006)


# Sign tables ----------------------------------------------------------------------------------------------


SIGN_TABLE = {
    # Signs of superheat and subcooling by fault, machine with expansion valve, cooling. Rossi and Braun 1997,
    # Breuker and Braun 1998 (fixed orifice), Chen and Braun 2001 (expansion valve): from memory of their
    # tables, abstracts read. ``.`` stands for no change or either sign.
    "undercharge": (".", "-"),
    "overcharge": (".", "+"),
    "liquid_line_restriction": ("+", "."),
    "valve_starving": ("+", "."),
    "valve_flooding": ("-", "."),
    "non_condensables": (".", "+"),
}


@pytest.mark.parametrize("code", SIGN_TABLE)
def test_rules_follow_the_published_sign_tables(code: str) -> None:
    """What a rule must see agrees with the published sign, and no rule asks for the opposite one."""
    words = {"+": "high", "-": "low"}
    for rule in (rule for rule in RULES if rule.code == code and "fixed orifice" not in rule.metering):
        for symbol, sign in zip(("superheat", "subcooling"), SIGN_TABLE[code], strict=True):
            ways = {s.way for s in rule.signs if s.symbol == symbol}
            if sign in words:
                assert words[sign] in ways
                assert words["+" if sign == "-" else "-"] not in ways
