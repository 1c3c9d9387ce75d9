"""Findings: possible causes with the evidence for, against and missing, graded and never certain.

A rule is weighed by its signs (:mod:`analysis.finding_weighing`). Where a rival explains the same readings,
``s (1 - r / (2 s))`` remains of its strength ``s``, ``r`` being the
strongest rival's own, at most ``s``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from analysis.evidence import Visit
from analysis.finding import Finding, Status
from analysis.finding_acts import Safe
from analysis.finding_others import notes_on, of_card, of_conflicts, why_condensing_rose
from analysis.finding_rules import rules_for
from analysis.finding_values import with_values
from analysis.finding_weighing import OWN_ROUTE, Judging, Weighed, strongest
from analysis.guards import Conflict, guards
from analysis.proofs import Proof, Verdict, prove_water
from analysis.unit_card import UnitCard

__all__ = ["Finding", "Status", "VerdictOfVisit", "acts_in_order", "find", "why_condensing_rose"]

LEAST_STRENGTH = 0.2
"""Weaker than this is not a finding."""
LIKELY = 0.5
"""From here on a danger goes before stronger findings."""
ABOVE_ALL = 10
"""Rank of what must be read first whatever else is found."""


@dataclass(frozen=True, slots=True)
class VerdictOfVisit:
    """Everything that is said of a visit."""

    visit: Visit
    conflicts: tuple[Conflict, ...]
    water: Proof
    findings: tuple[Finding, ...]
    """Active first, then held, then declined; each by rank and strength."""
    notes: tuple[str, ...] = ()

    def with_status(self, status: Status) -> tuple[Finding, ...]:
        """Give the findings of one status."""
        return tuple(finding for finding in self.findings if finding.status is status)


def find(visit: Visit, card: UnitCard | None = None, reference: Visit | None = None) -> VerdictOfVisit:
    """Judge a visit.

    Parameters
    ----------
    visit
        As recorded or typed; derived values are worked out here.
    card
        The machine's unit card.
    reference
        A healthy run of the same machine, the best limit there is.

    Returns
    -------
    VerdictOfVisit
        Guards, the water's proof and all findings.

    Examples
    --------
    >>> from analysis.evidence import seen_value
    >>> typed = Visit({"superheat": seen_value("superheat", 17.0, 0.5)}, "heating")
    >>> found = find(typed).with_status(Status.HELD)[0]
    >>> found.code, found.reason.split(":")[0]
    ('liquid_line_restriction', 'water not proven')
    """
    declared_mode = visit.mode
    visit = with_values(visit, card)
    reference = with_values(reference, card) if reference is not None else None
    conflicts = guards(visit)
    water = prove_water(visit, card, reference)
    judged = Judging(visit, card, reference)
    raw = strongest(judged.weigh(rule) for rule in rules_for(visit.mode, visit.metering))
    findings = [_settle(weighed, raw, visit, conflicts, water) for weighed in raw.values()]
    findings += [*of_conflicts(conflicts, visit), *of_card(card)]
    findings.sort(key=lambda f: (*_place(f), -f.strength, f.code))
    return VerdictOfVisit(
        visit, conflicts, water, tuple(findings), notes_on(visit, card, reference, declared_mode)
    )


def _place(finding: Finding) -> tuple[int, int]:
    """Give the order: danger that is likely first, water in the refrigerant above all, then by status."""
    status = {Status.ACTIVE: 1, Status.HELD: 2, Status.DECLINED: 3}[finding.status]
    likely = finding.status is not Status.DECLINED and (
        finding.strength >= LIKELY or finding.rank >= ABOVE_ALL
    )
    return (0 if likely and finding.rank >= ABOVE_ALL else status, -finding.rank if likely else 0)


def _settle(
    weighed: Weighed, raw: Mapping[str, Weighed], visit: Visit, conflicts: Sequence[Conflict], water: Proof
) -> Finding:
    """Let rivals share, and decide the status."""
    rule, strength = weighed.rule, weighed.strength
    apart, strongest_rival = [], 0.0
    for code, reading in rule.rivals.items():
        rival = raw.get(code)
        if rival is None or rival.strength < LEAST_STRENGTH or strength <= 0.0:
            continue
        strongest_rival = max(strongest_rival, rival.strength)
        if rival.strength >= 0.5 * weighed.strength:
            apart.append(f"{rival.rule.statement} ({code}): {reading} would tell")
    if strength > 0.0:
        strength *= 1.0 - 0.5 * min(
            1.0, strongest_rival / strength
        )  # a rival as strong as itself leaves half
    status, reason = Status.ACTIVE, ""
    if strength < LEAST_STRENGTH:
        status = Status.DECLINED
        reason = (
            "its signs are not there" if weighed.against or not weighed.missing else "not enough is measured"
        )
    elif not visit.running and not rule.while_stopped:
        # What a standing machine shows is no sign of anything that needs it to run.
        strength, status = 0.0, Status.DECLINED
        reason = "the machine does not run: take readings while it does"
    elif visit.just_started and not (rule.at_start or rule.while_stopped):
        status, reason = Status.HELD, "the machine has just started: wait until it has settled"
    elif conflicts and (rule.charge or rule.settled):
        status, reason = Status.HELD, f"readings contradict each other: {conflicts[0].ask}"
    elif rule.charge and water.verdict is not Verdict.MET:
        lacks = f"; needed: {'; '.join(water.missing)}" if water.missing else ""
        status, reason = Status.HELD, f"water not proven: {water.reason}{lacks}"
    elif OWN_ROUTE in weighed.missing:
        status, reason = (
            Status.HELD,
            f"a flow from the coil's own drop cannot judge the coil; needed: {OWN_ROUTE}",
        )
    elif rule.settled and not visit.steady:
        status, reason = Status.HELD, "the machine had not settled: take a steady stretch"
    supporting, against, missing = weighed.supporting, weighed.against, weighed.missing
    if not visit.running and not rule.while_stopped:
        supporting = against = missing = ()  # what a standing machine shows is no evidence either way
    return Finding(
        rule.code, rule.statement, round(strength, 3), status, reason, supporting, against,
        missing, tuple(apart), rule.acts, rule.source, weighed.signs, rule.rank,
    )  # fmt: skip


def acts_in_order(findings: Iterable[Finding]) -> dict[Safe, tuple[str, ...]]:
    """Group the acts of findings by the condition in which they are safe; empty groups are left out.

    Only an active finding gives more than what is read while the machine runs: nothing is recovered, opened
    or adjusted for a cause that the readings do not support.
    """
    grouped: dict[Safe, dict[str, None]] = {safe: {} for safe in Safe}
    for finding in findings:
        for act in finding.acts:
            if finding.status is Status.ACTIVE or act.safe is Safe.WHILE_RUNNING:
                grouped[act.safe][act.text] = None
    return {safe: tuple(texts) for safe, texts in grouped.items() if texts}
