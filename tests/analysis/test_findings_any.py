"""Whatever is typed or read: one sentence or a verdict, and no charge finding without proven water."""

from __future__ import annotations

import json
import math

from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.case_file import CaseError, CaseFile, visit_of_case
from analysis.evidence import EXTRA_SYMBOLS, OBSERVATIONS, Visit, seen_value
from analysis.finding_rules import RULES
from analysis.finding_values import with_values
from analysis.findings import Status, find
from analysis.liquids import Liquid
from analysis.points import POINTS
from analysis.presets import PresetName
from analysis.proofs import Verdict, prove_all
from analysis.saturation import refrigerant
from logger.verdict_report import verdict_facts, verdict_text
from tests.analysis.hall import read_card

CARD = read_card()
CHARGE = {rule.code for rule in RULES if rule.charge}
SYMBOLS = (*POINTS, *EXTRA_SYMBOLS, "superheat", "subcooling", "evaporating_approach", "condensing_approach")
_numbers = st.one_of(
    st.floats(allow_nan=True, allow_infinity=True), st.floats(-50.0, 400.0), st.floats(1e4, 4e6)
)
_values = st.dictionaries(st.sampled_from(SYMBOLS), st.tuples(_numbers, st.floats(0.0, 1e4)), max_size=14)


@st.composite
def visits(draw: st.DrawFn) -> Visit:
    return Visit(
        {s: seen_value(s, value, u) for s, (value, u) in draw(_values).items()},
        mode=draw(st.sampled_from(("", "heating", "cooling"))),
        curve=draw(st.sampled_from((None, refrigerant("R410A"), refrigerant("R407C")))),
        source_liquid=draw(
            st.sampled_from((None, Liquid("water"), Liquid("propylene_glycol", mass_fraction=0.25)))
        ),
        steady=draw(st.booleans()),
        running=draw(st.booleans()),
        observations=frozenset(draw(st.sets(st.sampled_from(sorted(OBSERVATIONS)), max_size=3))),
        metering=draw(st.sampled_from(("expansion valve", "fixed orifice", "not known"))),
        receiver=draw(st.sampled_from((None, True, False))),
    )


@settings(derandomize=True, deadline=None, max_examples=150)
@given(visits(), st.booleans(), st.booleans())
def test_any_visit_gives_a_verdict(visit: Visit, with_card: bool, itself_as_reference: bool) -> None:
    card = CARD if with_card else None
    found = find(visit, card, visit if itself_as_reference else None)
    for finding in found.findings:
        assert 0.0 <= finding.strength <= 1.0
        assert finding.status is not Status.HELD or finding.reason
        if finding.status is Status.ACTIVE and finding.code in CHARGE:
            assert found.water.verdict is Verdict.MET
            assert not found.conflicts
    json.dumps(verdict_facts(found), allow_nan=False)
    presets: tuple[PresetName, ...] = ("si", "us")
    for preset in presets:
        text = verdict_text(found, preset)
        assert "nan" not in text.lower().split()
        assert "inf" not in text.lower().split()
    for proof in prove_all(with_values(visit, card), card):
        assert proof.verdict is not Verdict.MET or proof.lines or proof.reason


_UNITS = st.sampled_from(("K", "degC", "degF", "bar(g)", "psig", "kPa", "L/s", "V", ""))
_amounts = st.builds("{} {}".format, st.floats(-1e3, 1e6), _UNITS)
_ranges = st.builds("{} to {} {}".format, st.floats(0, 50), st.floats(0, 50), _UNITS)
_names = st.one_of(st.sampled_from(SYMBOLS), st.text(max_size=8))
_classes = st.sampled_from(("pressure", "temperature", "temperature_difference", "flow", "x"))


@settings(derandomize=True, deadline=None, max_examples=200)
@given(
    st.dictionaries(_names, st.one_of(st.text(max_size=12), _amounts, _ranges), max_size=4),
    st.dictionaries(_classes, st.one_of(st.text(max_size=8), _amounts, st.just("3 %")), max_size=2),
)
def test_any_typed_text_is_read_or_refused_in_one_sentence(
    readings: dict[str, str], classes: dict[str, str]
) -> None:
    sentence = ""
    try:
        visit = visit_of_case(CaseFile(readings=readings, gauge_class=classes))
    except CaseError as refused:
        sentence = str(refused)
    if sentence:
        assert sentence.strip().endswith(".")
    else:
        assert all(math.isfinite(seen.u) for seen in visit.values.values() if math.isfinite(seen.value))
        find(visit, CARD)
