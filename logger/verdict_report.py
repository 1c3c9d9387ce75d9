"""Findings and proofs as text for a terminal and as one JSON object."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from analysis.evidence import Line, quantity_of_symbol
from analysis.finding import Finding, Status
from analysis.findings import VerdictOfVisit, acts_in_order
from analysis.guards import Conflict
from analysis.presets import PresetName, show_among, show_expanded
from analysis.proof_acts import ACTS, how_to_get
from analysis.proofs import Proof, Verdict
from analysis.units import Quantity

CAUTION = (
    "evenrun only reads. Work on live parts, refrigerant and pressure is for qualified persons; "
    "local codes and licensed practice decide."
)


def line_facts(line: Line) -> dict[str, object]:
    """Give a line of evidence as plain values (SI)."""
    numbers = {name: _known(getattr(line, name)) for name in ("value", "u", "low", "high")}
    return {"symbol": line.symbol, **numbers, "unit": line.unit, "source": line.source, "words": line.words}


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None


def finding_facts(finding: Finding) -> dict[str, object]:
    """Give a finding as plain values."""
    return {
        "statement": finding.statement,
        "strength": finding.strength,
        "strength_words": finding.strength_words,
        "status": finding.status.value,
        "reason": finding.reason,
        "signs": finding.signs,
        "for": [line_facts(line) for line in finding.supporting],
        "against": [line_facts(line) for line in finding.against],
        "missing": list(finding.missing),
        "apart": list(finding.apart),
        "acts": [{"text": act.text, "safe": act.safe.value} for act in finding.acts],
        "source": finding.source,
    }


def proof_facts(proof: Proof) -> dict[str, object]:
    """Give a proof as plain values."""
    return {
        "statement": proof.statement,
        "verdict": proof.verdict.value,
        "reason": proof.reason,
        "lines": [line_facts(line) for line in proof.lines],
        "missing": list(proof.missing),
        "acts": [{"text": act.text, "safe": act.safe.value} for act in ACTS.get(proof.code, ())],
    }


def conflict_facts(conflict: Conflict) -> dict[str, object]:
    """Give a conflict as plain values."""
    return {
        "code": conflict.code,
        "sentence": conflict.sentence,
        "ask": conflict.ask,
        "fits": list(conflict.fits),
    }


def verdict_facts(found: VerdictOfVisit) -> dict[str, object]:
    """Give everything that is said of a visit; findings by code."""
    codes: dict[str, object] = {}
    for finding in found.findings:
        codes.setdefault(finding.code, finding_facts(finding))
    return {
        "mode": found.visit.mode or None,
        "refrigerant": found.visit.refrigerant or None,
        "steady": found.visit.steady,
        "conflicts": [conflict_facts(conflict) for conflict in found.conflicts],
        "water": proof_facts(found.water),
        "findings": codes,
        "order": [finding.code for finding in found.findings if finding.status is not Status.DECLINED],
        "notes": list(found.notes),
    }


def line_text(line: Line, preset: PresetName, barometer: float) -> str:
    """Write a line of evidence for a person."""
    quantity = quantity_of_symbol(line.symbol)
    name = line.symbol.replace("_", " ")
    if quantity is None and math.isfinite(line.value):
        if line.unit in _SMALL[preset]:
            return f"{name} {_small(line, preset)} [{line.source}]"
        quantity = _OF_UNIT.get(line.unit)
    if quantity is None or not math.isfinite(line.value):
        return f"{line.words or name} ({line.source})"
    gauge = quantity is Quantity.ABSOLUTE_PRESSURE
    quantity, less = (Quantity.GAUGE_PRESSURE, barometer) if gauge else (quantity, 0.0)
    ends = [end - less for end in (line.low, line.high) if math.isfinite(end)]
    value, *shown_ends = show_among(quantity, line.value - less, ends, preset)
    limits = " to ".join(shown_ends)
    if len(ends) == 1:
        limits = f"{'at least' if math.isfinite(line.low) else 'at most'} {limits}"
    # One blank between what there is: a line may have no words of its own.
    told = [name, value, f"{show_expanded(quantity, line.u, preset)} (k = 2)"]
    told += [line.words] if line.words else []
    return " ".join(told) + (f", limits {limits}" if limits else "") + f" [{line.source}]"


_OF_UNIT = {
    "Pa": Quantity.PRESSURE_DIFFERENCE, "kg": Quantity.MASS, "m/s": Quantity.SPEED, "1": Quantity.RATIO,
}  # fmt: skip
"""What a line holds whose symbol is none of the verdict's."""
_MICRON = 0.133322387415
"""Pascal in a micrometre of mercury, the trade's unit of vacuum (ISO 80000-4)."""


_SMALL: dict[PresetName, dict[str, tuple[float, int, str]]] = {
    "si": {"Pa(a)": (1.0, 0, "Pa(a)"), "m": (1e-3, 0, "mm")},
    "us": {"Pa(a)": (_MICRON, 0, "microns"), "m": (0.0254, 1, "in")},
}
"""Vacuums and levels are read in smaller units than pressures and lengths elsewhere."""


def _small(line: Line, preset: PresetName) -> str:
    factor, decimals, unit = _SMALL[preset][line.unit]
    value, u, high = (f"{x / factor:.{decimals}f}" for x in (line.value, 2.0 * line.u, line.high))
    return f"{value} {unit} ± {u} (k = 2), at most {high} {unit}"


def verdict_text(found: VerdictOfVisit, preset: PresetName, title: str = "") -> str:
    """Write everything that is said of a visit for a person."""
    visit = found.visit
    barometer = visit.barometer_pa
    lines = [title] if title else []
    lines.append(f"Mode {visit.mode or 'not declared'}, {visit.refrigerant or 'refrigerant not declared'}.")
    if not visit.steady:
        lines.append(
            "The machine had not settled: what needs settling is held."
            if visit.running
            else "It did not run: only what a standing machine shows is judged; take readings while it runs."
        )
    for conflict in found.conflicts:
        lines += ["", f"CHECK: {conflict.sentence}", f"  {conflict.ask}"]
    lines += ["", f"Water proven: {found.water.verdict.value}. {found.water.reason}"]
    lines += [f"  {line_text(line, preset, barometer)}" for line in found.water.lines]
    lines += [f"  missing: {what}" for what in found.water.missing]
    shown = [finding for finding in found.findings if finding.status is not Status.DECLINED]
    nothing = "nothing stands out" if found.water.verdict is Verdict.MET else "not enough to say"
    lines += ["", "What the readings support:" if shown else f"What the readings support: {nothing}."]
    for finding in shown:
        lines += _finding_text(finding, preset, barometer)
    grouped = acts_in_order(shown)
    if grouped:
        lines += ["", "Next:"]
        for safe, texts in grouped.items():
            lines += [f"  {safe.value}:", *(f"    {text}" for text in texts)]
    lines += [f"Note: {note}." for note in found.notes]
    lines += ["", CAUTION]
    return "\n".join(lines)


def _finding_text(finding: Finding, preset: PresetName, barometer: float) -> Iterable[str]:
    yield f"  {finding.statement} ({finding.code})"
    yield f"    {finding.status.value}; {finding.strength_words} (strength {finding.strength:.2f})"
    if finding.reason:
        yield f"    {finding.reason}"
    for head, evidence in (("for", finding.supporting), ("against", finding.against)):
        for line in evidence:
            yield f"    {head}: {line_text(line, preset, barometer)}"
    for what in finding.missing:
        yield f"    missing: {what}"
    for what in finding.apart:
        yield f"    not told apart from: {what}"


def proofs_text(proofs: Sequence[Proof], preset: PresetName, barometer: float) -> str:
    """Write proofs for a person."""
    lines: list[str] = []
    for proof in proofs:
        lines.append(f"{proof.verdict.value.upper():<11} {proof.statement} ({proof.code})")
        lines += [f"    {proof.reason}"] if proof.reason else []
        lines += [f"    {line_text(line, preset, barometer)}" for line in proof.lines]
        lines += [f"    missing: {what}" for what in proof.missing]
    for safe, texts in how_to_get(proofs).items():
        lines += ["", f"To get what is missing, {safe.value}:", *(f"    {text}" for text in texts)]
    return "\n".join([*lines, "", CAUTION])
