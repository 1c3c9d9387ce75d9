"""Electrical readings worked out, as one JSON object; cautions are its first key."""

from __future__ import annotations

import math
from collections.abc import Sequence

from analysis.electrical import Limits
from analysis.electrical_chain import ChainVerdict
from analysis.electrical_short_hunt import ShortHunt
from analysis.finding_acts import Act
from logger.electrical_report import ElectricalReport


def report_facts(report: ElectricalReport) -> dict[str, object]:
    """Give a report as plain values: SI, null where not known, ``"open"`` for open ohms."""
    case = report.case
    isolation = case.isolation
    return {
        "cautions": [{"code": c.code, "text": c.text} for c in report.cautions],
        "title": case.title,
        "limits": _limits(case.limits),
        "isolation": None
        if isolation is None
        else {
            "who": isolation.who,
            "when": isolation.when,
            "complete": isolation.complete,
            "lacks": list(isolation.lacks()),
            "second_supplies": None
            if isolation.second_supplies is None
            else [{"name": s.name, "isolated": s.isolated} for s in isolation.second_supplies],
        },
        "circuits": [_chain_facts(chain) for chain in report.chains],
        "voltage_unbalance": _known(report.unbalance),
        "transformer": None
        if report.transformer is None
        else {
            "state": report.transformer.state.value,
            "condemned": report.transformer.condemned,
            "statement": report.transformer.statement,
            "missing": list(report.transformer.missing),
            "fuse": report.fuse or None,
            "load": report.load or None,
            "next": _acts(report.transformer.acts),
        },
        "short_hunt": None if report.hunt is None else _hunt_facts(report.hunt),
        "calls": None
        if report.elimination is None
        else {
            "suspects": list(report.elimination.suspects),
            "statement": report.elimination.statement,
        },
        "motors": [
            {
                "name": motor.name,
                "statement": motor.statement,
                "supported": list(motor.supported),
                "causes": [
                    {
                        "name": cause.name,
                        "strength": cause.strength,
                        "for": list(cause.evidence_for),
                        "against": list(cause.against),
                        "missing": list(cause.missing) if cause.strength == "cannot say" else [],
                    }
                    for cause in motor.causes
                ],
                "next": _acts(motor.acts),
            }
            for motor in report.motors
        ],
    }


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _acts(acts: Sequence[Act]) -> list[dict[str, str]]:
    return [{"condition": act.safe.value, "text": act.text} for act in acts]


def _limits(limits: Limits) -> dict[str, object]:
    return {
        "supply_low": _known(limits.supply_low),
        "supply_high": _known(limits.supply_high),
        "supply_source": limits.supply_source or None,
        "pull_in": limits.pull_in,
        "pull_in_source": limits.pull_in_source,
    }


def _chain_facts(chain: ChainVerdict) -> dict[str, object]:
    loss = chain.loss
    return {
        "name": chain.circuit,
        "outcome": chain.outcome.value,
        "statement": chain.statement,
        "under_load": chain.loaded,
        "loss": None
        if loss is None
        else {
            "kind": loss.kind.value, "after": loss.after or None, "at": loss.at, "named": loss.named or None,
            "parts": list(loss.parts),
        },
        "cleared": list(chain.cleared),
        "questions": list(chain.questions),
        "missing": list(chain.missing),
        "readings": [
            {"point": r.point, "volts": _known(r.volts), "loaded": r.loaded, "time": r.time or None,
             "who": r.who or None, "live": r.live}
            for r in chain.readings
        ],
        "next": _acts(chain.acts),
    }  # fmt: skip


def _hunt_facts(found: ShortHunt) -> dict[str, object]:
    def ohms(value: float) -> float | str | None:
        return None if math.isnan(value) else "open" if math.isinf(value) else value

    return {
        "statement": found.statement,
        "entered": found.entered,
        "wanted": found.wanted,
        "missing": list(found.missing),
        "held_back": list(found.held_back),
        "release": list(found.release),
        "questions": list(found.questions),
        "repair": found.repair,
        "branches": [
            {
                "name": v.branch.name,
                "state": v.state.value,
                "to_common": ohms(v.branch.to_common),
                "to_earth": ohms(v.branch.to_earth),
                "repaired": v.branch.repaired,
                "look_here_first": v.look_here_first,
            }
            for v in found.branches
        ],
        "next": _acts(found.acts),
    }
