"""Findings put into the support panel's words."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from analysis.analyser import Results
from analysis.derived import BY_SYMBOL
from analysis.evidence import START_S, Line, quantity_of_symbol, visit_of_stretch
from analysis.finding import Finding, Status
from analysis.findings import VerdictOfVisit, acts_in_order, find
from analysis.points import POINTS
from analysis.presets import PresetName
from analysis.proofs import Verdict
from analysis.saturation import SaturationCurve
from analysis.unit_card import UnitCard
from analysis.units import Quantity
from analysis.windows import steady_stretches
from logger.desktop.amounts import amount
from logger.desktop.support_words import CONDITIONS, NOT_JUDGED, Entry, Support

MOST_LINES = 3
MOST_ACTS = 1
"""For each condition."""
MOST_DECLINED = 2


def advise(
    rows: Iterable[Results],
    curves: Mapping[str, SaturationCurve],
    card: UnitCard | None,
    *,
    running: bool,
    since_change_s: float,
) -> VerdictOfVisit | None:
    """Judge the newest rows; None where there are none.

    Parameters
    ----------
    rows
        About the last minute.
    running
        Whether the machine runs.
    since_change_s
        How long it has run since its last start or change [s].
    """
    stretches = steady_stretches(rows)
    if not stretches:
        return None
    best = max(stretches, key=lambda stretch: (stretch.steady, stretch.seconds))
    curve = curves.get(best.settings.refrigerant)
    just_started = not best.steady and since_change_s - best.seconds < START_S
    return find(visit_of_stretch(best, curve, card, running=running, just_started=just_started), card)


def support_of(found: VerdictOfVisit | None, preset: PresetName, barometer_pa: float) -> Support:
    """Put a verdict into the panel's words."""
    if found is None:
        return NOT_JUDGED
    entries = [
        Entry("check this first", "Refrigerant, probes or scale: the readings contradict each other",
              against=(_in_preset(conflict.sentence, conflict.code, preset),))
        for conflict in found.conflicts
    ]  # fmt: skip
    declined = 0
    if not found.visit.running:
        entries.append(Entry("not judged", "The machine stands still"))
    for finding in found.findings:
        if not found.visit.running and not finding.supporting:
            continue
        if finding.status is Status.DECLINED:
            if not finding.against or declined == MOST_DECLINED:
                continue
            declined += 1
        entries.append(_entry(finding, preset, barometer_pa))
    if not entries:
        steady = "not judged while settling" if not found.visit.steady else "not enough to say"
        entries.append(Entry(steady, "Nothing stands out", missing=found.water.missing[:MOST_LINES]))
    active = found.with_status(Status.ACTIVE)
    acts: list[tuple[str, str]] = [
        (safe.value, text) for safe, texts in acts_in_order(active).items() for text in texts[:MOST_ACTS]
        if safe.value in CONDITIONS
    ]  # fmt: skip
    proven = found.water.verdict is Verdict.MET
    if found.visit.running and not proven and not any(safe == CONDITIONS[0] for safe, _ in acts):
        acts.insert(
            0, (CONDITIONS[0], "prove the water" if found.visit.steady else "wait, or prove the water")
        )
    return Support(tuple(entries), tuple(acts), proven)


def _entry(finding: Finding, preset: PresetName, barometer_pa: float) -> Entry:
    strength = finding.strength_words
    if finding.status is Status.HELD:
        strength = f"held back: {finding.reason.split(':')[0].split(';')[0]}"
        if "contradict" in finding.reason:
            strength = "held back: check the readings"
        elif "settled" in finding.reason:
            strength = "not judged while settling"

    def lines(evidence: Iterable[Line]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(_line(line, preset, barometer_pa) for line in evidence))[:MOST_LINES]

    supporting = () if finding.status is Status.DECLINED else lines(finding.supporting)
    missing = () if finding.status is Status.DECLINED else finding.missing[:MOST_LINES]
    return Entry(strength, _sentence(finding.statement), supporting, lines(finding.against), missing)


def _in_preset(sentence: str, code: str, preset: PresetName) -> str:
    """Give a sentence that holds numbers in degrees Celsius only where that is the preset's unit."""
    return code.replace("_", " ") if preset == "us" and "°C" in sentence else sentence


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _line(line: Line, preset: PresetName, barometer_pa: float) -> str:
    """Write a line of evidence: what, how much, and how it stands."""
    quantity = quantity_of_symbol(line.symbol)
    name = line.symbol.replace("_", " ")
    if line.symbol in BY_SYMBOL:
        name = BY_SYMBOL[line.symbol].label.split(" (")[0]
    elif line.symbol in POINTS:
        name = POINTS[line.symbol].label
    if quantity is None or not math.isfinite(line.value):
        return _in_preset(line.words or name, name, preset)
    value = line.value
    if quantity is Quantity.ABSOLUTE_PRESSURE:
        quantity, value = Quantity.GAUGE_PRESSURE, value - barometer_pa
    shown = amount(quantity, value, preset, 2.0 * line.u).text
    return f"{name} {shown}" + (f", {line.words}" if line.words and len(line.words) < 24 else "")
