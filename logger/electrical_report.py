"""Electrical readings worked out, as text for a terminal; cautions always come first."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.electrical import VoltReading, voltage_unbalance
from analysis.electrical_chain import ChainVerdict
from analysis.electrical_elimination import Elimination, eliminate
from analysis.electrical_motors import MotorVerdict, judge_motor
from analysis.electrical_safety import Caution, Isolation, by_condition, cautions
from analysis.electrical_short_hunt import ShortHunt, hunt
from analysis.electrical_transformer import (
    TransformerReadings,
    TransformerVerdict,
    fuse_reasoning,
    judge_transformer,
    load_reasoning,
)
from analysis.electrical_verdict import judge_chain
from analysis.finding_acts import Act
from analysis.presets import number
from analysis.refrigerants import SAFETY_CLASSES, RefusedRefrigerant, UnknownRefrigerant, canonical_name
from logger.electrical_file import Circuit, ElectricalCase
from logger.errors import CommandError


@dataclass(frozen=True, slots=True)
class ElectricalReport:
    """Everything that the readings say."""

    case: ElectricalCase
    cautions: tuple[Caution, ...]
    chains: tuple[ChainVerdict, ...]
    transformer: TransformerVerdict | None
    fuse: str
    load: str
    hunt: ShortHunt | None
    elimination: Elimination | None
    motors: tuple[MotorVerdict, ...]
    unbalance: float


def safety_class_of(name: str) -> str | None:
    """Give a refrigerant's safety class; None where the name is empty or its class is not known.

    Raises
    ------
    CommandError
        If there is no such refrigerant.
    """
    if not name:
        return None
    try:
        return SAFETY_CLASSES.get(canonical_name(name))
    except RefusedRefrigerant:
        return None  # known by name, and treated as if it could burn
    except UnknownRefrigerant as unknown:
        raise CommandError(str(unknown)) from None


def report_on(case: ElectricalCase) -> ElectricalReport:
    """Work out a case."""
    coil = _coil_volts(case.circuits)
    chains = []
    for circuit in case.circuits:
        coils = dict(coil)
        if math.isfinite(circuit.coil_volts):
            coils |= {p.closed_by: circuit.coil_volts for p in circuit.points if p.closed_by}
        chains.append(
            judge_chain(
                circuit.name, circuit.points, circuit.readings, case.limits, call=circuit.call, coil=coils,
                across=circuit.across,
            )
        )  # fmt: skip
    read, fuse, load = case.transformer, "", ""
    if read is not None and math.isfinite(read.va):
        fuse = fuse_reasoning(read.va, read.fuse, case.limits.control_nominal).statement
        if case.loads:
            sealed, inrush = tuple(row[1] for row in case.loads), tuple(row[2] for row in case.loads)
            load = load_reasoning(read.va, sealed, inrush)[1]
    found = None
    if case.branches is not None:
        found = hunt(
            read or TransformerReadings(), case.branches, case.isolation, limits=case.limits,
            common_earthed=case.common_earthed, after=case.after,
        )  # fmt: skip
    phases = case.phase_volts
    return ElectricalReport(
        case=case,
        cautions=cautions(safety_class_of(case.refrigerant)),
        chains=tuple(chains),
        transformer=judge_transformer(read, case.limits) if read is not None else None,
        fuse=fuse,
        load=load,
        hunt=found,
        elimination=eliminate(case.calls) if case.calls else None,
        motors=tuple(judge_motor(motor, case.limits) for motor in case.motors),
        unbalance=voltage_unbalance((phases[0], phases[1], phases[2])) if len(phases) == 3 else math.nan,
    )


def _coil_volts(circuits: Sequence[Circuit]) -> dict[str, float]:
    """Volts of coils read in any circuit; a reading under load stands before one at no load."""
    found: dict[str, float] = {}
    for loaded in (False, True):
        for circuit in circuits:
            for reading in circuit.readings:
                if reading.known and (reading.loaded is True) is loaded and reading.point.endswith("coil"):
                    found[reading.point] = reading.volts
    return found


def report_text(report: ElectricalReport) -> str:
    """Write a report for a person, cautions before the first value."""
    case = report.case
    lines = ["Before the first value:"]
    lines += [f"  {caution.text}" for caution in report.cautions]
    lines += ["", *([case.title] if case.title else []), _isolation(case.isolation)]
    acts: list[Act] = []
    for chain in report.chains:
        lines += ["", *_chain(chain)]
        acts += chain.acts
    if math.isfinite(report.unbalance):
        lines += ["", f"Supply unbalance: {100.0 * report.unbalance:.1f} %, {_unbalance(report.unbalance)}"]
    if report.transformer is not None:
        lines += ["", *_transformer(report)]
        acts += report.transformer.acts
    if report.hunt is not None:
        lines += ["", *_hunt(report.hunt)]
        acts += report.hunt.acts
    if report.elimination is not None:
        lines += ["", f"Calls tried: {report.elimination.statement}"]
    for motor in report.motors:
        lines += ["", *_motor(motor)]
        acts += motor.acts
    groups = by_condition(tuple(acts))
    if groups:
        lines += ["", "Next"]
        for condition, texts in groups.items():
            lines += [f"  [{condition.value}]", *(f"    {text}" for text in texts)]
    return "\n".join(lines)


def _isolation(isolation: Isolation | None) -> str:
    if isolation is None:
        return "Isolation: none entered; everything counts as live."
    head = f"Isolated {isolation.when or '(no time)'} by {isolation.who or '(nobody named)'}"
    supplies = "".join(
        f"; {s.name}: {'isolated' if s.isolated else 'LIVE' if s.isolated is False else 'not stated'}"
        for s in isolation.second_supplies or ()
    )
    if isolation.second_supplies == ():
        supplies = "; no second supply"
    lacks = isolation.lacks()
    return f"{head}{supplies}" + (f"; not complete, lacking {'; '.join(lacks)}" if lacks else ", proven dead")


def _chain(chain: ChainVerdict) -> list[str]:
    lines = [f"{chain.circuit.capitalize()} circuit: {chain.limits.text()}"]
    label = {point.name: point.shown for point in chain.points}
    for reading in chain.readings:
        mark = "  <" if chain.loss is not None and reading.point == chain.loss.at else ""
        lines.append(f"  {label[reading.point]:<26}{_volts(reading):>9}  {_when(reading)}{mark}".rstrip())
    outcome = chain.outcome.value
    told = chain.statement.removeprefix(f"{outcome}: ").removeprefix(f"{outcome} ")
    lines.append(f"  {outcome.upper()}: {told}")
    lines += [
        f"  also: {loss.named or ' or '.join(loss.parts)} ({loss.kind.value})" for loss in chain.further
    ]
    for words, texts in (("cleared", chain.cleared), ("missing", chain.missing)):
        if texts:
            lines.append(f"  {words}: {', '.join(texts)}")
    return lines


def _volts(reading: VoltReading) -> str:
    return f"{number(reading.volts, 0 if reading.volts >= 60.0 else 1)} V"


def _when(reading: VoltReading) -> str:
    load = {True: "under load", False: "no load", None: ""}[reading.loaded]
    return " ".join(
        text for text in (reading.time, reading.who, load, "live" if reading.live else "") if text
    )


def _unbalance(share: float) -> str:
    if share > 0.03:
        return "above 3 %: put it right before the machine runs"
    return "above 2 %: a warning" if share > 0.02 else "within 2 %"


def _transformer(report: ElectricalReport) -> list[str]:
    assert report.transformer is not None, "asked only where there is one"
    lines = ["Transformer", f"  {report.transformer.state.value.upper()}: {report.transformer.statement}"]
    return lines + [f"  {text}" for text in (report.fuse, report.load) if text]


def _hunt(found: ShortHunt) -> list[str]:
    lines = [f"Short hunt: {found.entered} of {found.wanted} values entered"]
    lines += [f"  {verdict.statement}" for verdict in found.branches]
    rest = found.statement.removeprefix(found.transformer.statement).removeprefix("; ")
    lines += [f"  {rest}"] if rest else []
    if found.held_back:
        lines.append(f"  HELD BACK: {', '.join(found.held_back)}, until: {'; '.join(found.release)}")
    else:
        lines.append("  new parts are no longer held back")
    if found.missing:
        lines.append(f"  missing: {', '.join(found.missing)}")
    lines.append(f"  repair {found.repair}")
    return lines


def _motor(motor: MotorVerdict) -> list[str]:
    lines = [f"{motor.name.capitalize()}: {motor.statement}"]
    for cause in motor.causes:
        told = cause.evidence_for or cause.against
        lacking = f"missing {', '.join(cause.missing)}" if cause.strength == "cannot say" else ""
        lines.append(f"  {cause.strength}: {cause.name} ({', '.join(told) or lacking})")
    return lines
