"""Sentences of judgement on the owner's page: each is approved by a person before it is printed.

What was measured is printed as it is. That a machine was broken, that it is fixed and what to watch are
judgements: the record of the visit states them, or evenrun drafts them from what the readings support, and
none of them appears on a page that the window writes before the technician has approved it.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from analysis.evidence import visit_of_stretch
from analysis.finding import Status
from analysis.findings import find
from analysis.visit import ForOwner, VisitRecord
from analysis.windows import Stretch
from logger.replay import curves_for
from logger.reports.making import Material
from logger.reports.owner import NOT_SAID, answers, best_of, sides_of
from logger.reports.owner_words import margin_of, owner_rows

MOST_CAUSES = 2
_KEYS = {"Was it broken?": "broken", "Is it fixed?": "fixed", "What to watch": "watch"}
_SOMEBODY = "the technician, in the window"


@dataclass(frozen=True, slots=True)
class Sentence:
    """One judgement as it would be printed."""

    key: str
    """``broken``, ``fixed`` or ``watch``."""
    question: str
    text: str
    drafted: bool
    """Whether evenrun wrote it; otherwise it stands in the record of the visit."""


def sentences_of(material: Material) -> tuple[Sentence, ...]:
    """List every judgement that could be printed, from the record or as a draft."""
    said = material.record.owner if material.record is not None else ForOwner()
    whole = replace(_record(material), owner=_with_drafts(material, said))
    return tuple(
        Sentence(key, one.question, f"{one.answer} {one.words}".strip(), not _said(said, key))
        for one in answers(whole, material.compared, material.card, _stretches(material))
        if one.answer != NOT_SAID
        for key in (_KEYS[one.question],)
    )


def approved_only(material: Material, approved: Collection[str]) -> Material:
    """Give the material with the approved judgements and no others."""
    said = material.record.owner if material.record is not None else ForOwner()
    if material.record is None and not approved:
        return material
    owner = _with_drafts(material, said)
    if "broken" not in approved:
        owner = replace(owner, broken="", broken_how="")
    if "fixed" not in approved:
        owner = replace(owner, fixed=(), not_fixed="")
    if "watch" not in approved:
        owner = replace(owner, watch="", watch_approved_by="")
    return replace(material, record=replace(_record(material), owner=owner))


def _record(material: Material) -> VisitRecord:
    return material.record if material.record is not None else VisitRecord()


def _said(owner: ForOwner, key: str) -> bool:
    """Whether the record itself answers a question."""
    return bool({"broken": owner.broken, "fixed": owner.fixed or owner.not_fixed, "watch": owner.watch}[key])


def _with_drafts(material: Material, said: ForOwner) -> ForOwner:
    """Fill in what the record does not say."""
    owner = said
    if not _said(said, "broken") and (causes := _causes(material)):
        owner = replace(owner, broken="yes", broken_how=f"As found, the readings support: {causes}.")
    if not _said(said, "fixed"):
        owner = _draft_fixed(material, owner)
    if not _said(said, "watch") and (watch := _draft_watch(material)):
        owner = replace(owner, watch=watch)
    if owner.watch:
        who = material.record.technician if material.record is not None else ""
        owner = replace(owner, watch_approved_by=said.watch_approved_by or who or _SOMEBODY)
    return owner


def _stretches(material: Material) -> list[Stretch]:
    return sides_of(material.studied, best_of(material.compared))


def _causes(material: Material) -> str:
    """Name what the readings as found actively support, the strongest first."""
    stretches = _stretches(material)
    if not stretches or not stretches[0].steady:
        return ""
    first = stretches[0]
    curve = curves_for(material.seen[0].studied.session).get(first.settings.refrigerant)
    found = find(visit_of_stretch(first, curve, material.card), material.card)
    if found.conflicts:
        return ""
    statements = [finding.statement for finding in found.with_status(Status.ACTIVE)][:MOST_CAUSES]
    return "; ".join(text[:1].lower() + text[1:] for text in statements)


def _draft_fixed(material: Material, owner: ForOwner) -> ForOwner:
    """Say yes for a mode that was measured fairly and lies within the card; say what does not."""
    one = best_of(material.compared)
    if one is None or not one.fairness.fair or not one.mode or material.card is None:
        return owner
    out = [
        f"{row.label} is {row.cells[0].said}"
        for row in owner_rows([one.as_left], material.card, "si") if row.cells[0].out
    ]  # fmt: skip
    margin = margin_of(one.as_left, material.card, "si")
    if margin is not None and margin.word == "TOO LOW":
        out.insert(0, "the coldest place in the unit is too near to freezing")
    if out:
        return replace(owner, not_fixed=f"After the work {'; '.join(out)}.")
    return replace(owner, fixed=(one.mode,))


def _draft_watch(material: Material) -> str:
    stretches = _stretches(material)
    if not stretches or len(stretches) < 2:
        return ""
    margin = margin_of(stretches[-1], material.card, "si")
    if margin is not None and margin.word in ("near limit", "TOO LOW"):
        return "The freeze margin. It lies near its limit: have it measured again when the source is coldest."
    return ""
