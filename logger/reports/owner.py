"""The owner's page: was it broken, is it fixed, what to watch, and how sure that is. No blame, no promise."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.compare import Compared, Comparison
from analysis.presets import PresetName, duration, show
from analysis.refrigerant_ledger import Ledger
from analysis.unit_card import UnitCard
from analysis.units import Quantity
from analysis.visit import VisitRecord
from analysis.windows import Stretch
from logger.comparison import Studied, verdict_line
from logger.moments import utc_text
from logger.reports.freezing import freezing
from logger.reports.owner_words import (
    good_margin,
    liquid_word,
    margin_of,
    mean_of,
    owner_rows,
    with_uncertainty,
)
from logger.reports.paper import made_by, together
from logger.shown_values import plain

NOT_SAID = "Not stated."
_MOST_ACTIONS = 6


@dataclass(frozen=True, slots=True)
class Answer:
    """One question of the owner's, answered."""

    question: str
    answer: str
    words: str
    tag: str = ""


def owner_facts(
    studied: Sequence[Studied],
    compared: Compared | None,
    record: VisitRecord | None,
    card: UnitCard | None,
    preset: PresetName,
    *,
    written_us: int,
) -> dict[str, object]:
    """Gather what the page says.

    Parameters
    ----------
    studied
        One session, or as found and as left.
    compared
        Where there are two.
    record
        The visit's record; without it the page answers no question that only a person can.
    card
        For the limits; without it nothing is judged against any.
    """
    comparison = best_of(compared)
    sides = sides_of(studied, comparison)
    titles = ("before", "after") if len(sides) == 2 else ("measured",)
    stretches = [stretch for stretch in sides if stretch is not None]
    last = stretches[-1] if stretches else None
    drawing = (
        freezing(list(zip(titles, stretches, strict=True)), liquid_word(last), preset)
        if last is not None
        else None
    )
    broken = record is not None and record.owner.broken == "yes"
    return {
        "heading": "Your heat pump: what was wrong and what was done"
        if broken
        else "Your heat pump: what was looked at and what was done",
        "sub": _sub(studied, record, card, last),
        "answers": answers(record, compared, card, stretches),
        "freezing": drawing,
        "margins": [margin_of(stretch, card, preset) for stretch in stretches] if drawing else [],
        "good": good_margin(card, last.settings.mode, preset) if last is not None else "",
        "liquid": liquid_word(last) if last is not None else "water",
        "titles": titles,
        "rows": owner_rows(stretches, card, preset) if stretches else [],
        "fair": comparison is None or comparison.fairness.fair,
        "marked": card is not None,
        "actions": [(plain(a.found), plain(a.did)) for a in record.actions[:_MOST_ACTIONS]] if record else [],
        "more_actions": max(len(record.actions) - _MOST_ACTIONS, 0) if record else 0,
        "refrigerant": refrigerant_lines(record.ledger, preset) if record else [],
        "untested": untested_lines(record, compared, stretches),
        "temporary": temporary_lines(record),
        "to_do": [plain(line) for line in record.owner.to_do] if record else [],
        "sure": [together(line) for line in _how_sure(comparison, stretches, preset)],
        "recordings": _recordings(studied),
        **made_by(written_us),
    }


def best_of(compared: Compared | None) -> Comparison | None:
    """Give the fairest comparison; None where there is none."""
    if compared is None or not compared.comparisons:
        return None
    return max(compared.comparisons, key=lambda comparison: comparison.fairness.fair)


def sides_of(studied: Sequence[Studied], comparison: Comparison | None) -> list[Stretch]:
    """Give the stretches that the page is about: both ends of the comparison, or the best one."""
    if comparison is not None:
        return [comparison.as_found, comparison.as_left]
    latest = [stretch for one in studied[-1:] for stretch in one.stretches]
    return [max(latest, key=lambda stretch: (stretch.steady, stretch.seconds))] if latest else []


def _sub(
    studied: Sequence[Studied], record: VisitRecord | None, card: UnitCard | None, last: Stretch | None
) -> list[str]:
    names = [record.site, record.machine] if record else []
    machine = ", ".join(plain(name) for name in names if name) or (card.title if card else studied[-1].title)
    kind = [machine, card.kind if card else "", last.settings.refrigerant if last else ""]
    kind += [last.settings.mode] if last and last.settings.mode else []
    days = sorted({utc_text(one.session.header.utc_start_us)[:10] for one in studied})
    visit = [f"recorded {' to '.join(dict.fromkeys((days[0], days[-1])))}"]
    visit += [f"report {plain(record.report)}"] if record and record.report else []
    visit += ["for the owner"]
    return [" · ".join(plain(part) for part in line if part) for line in (kind, visit)]


def answers(
    record: VisitRecord | None, compared: Compared | None, card: UnitCard | None, stretches: Sequence[Stretch]
) -> list[Answer]:
    """Answer the owner's questions, each only as far as a person has answered it."""
    if record is None:
        silent = "No record of the visit lies beside these recordings, so nobody has answered this."
        return [Answer("Was it broken?", NOT_SAID, silent), Answer("Is it fixed?", NOT_SAID, silent)]
    owner = record.owner
    broken = Answer(
        "Was it broken?",
        {"yes": "Yes.", "no": "No.", "": NOT_SAID}[owner.broken],
        plain(owner.broken_how) or ("" if owner.broken else "The visit's record does not say."),
    )
    told = [broken, _fixed(record, compared, card, stretches)]
    if owner.approved_watch:
        first, _, rest = plain(owner.approved_watch).partition(". ")
        answer = first if first.endswith(".") or not rest else f"{first}."
        short = len(answer) <= 60
        words = rest if short else plain(owner.approved_watch)
        tag = "approved by the technician"
        told.append(Answer("What to watch", answer if short else "Please note:", words, tag))
    return told


def _fixed(
    record: VisitRecord, compared: Compared | None, card: UnitCard | None, stretches: Sequence[Stretch]
) -> Answer:
    """Say yes only as far as the technician says so, and beside it whether measurement shows it."""
    question, owner = "Is it fixed?", record.owner
    if owner.not_fixed:
        return Answer(question, "Not yet.", plain(owner.not_fixed))
    if not owner.fixed:
        return Answer(question, NOT_SAID, "The visit's record does not say.")
    modes = " and ".join(owner.fixed)
    measured = {c.mode: c for c in compared.comparisons} if compared else {}
    words = []
    for mode in owner.fixed:
        one = measured.get(mode)
        if one is not None and one.fairness.fair:
            words.append(f"{mode.capitalize()}: measured before and after, under like conditions.")
        elif one is not None:
            words.append(f"{mode.capitalize()}: the technician says so; before and after cannot be compared.")
        elif any(s.steady and s.settings.mode == mode for s in stretches):
            words.append(f"{mode.capitalize()}: measured after the work only.")
        else:
            words.append(f"{mode.capitalize()}: the technician says so; it was not measured.")
    left = stretches[-1] if stretches else None
    if left is not None and any(cell.out for row in owner_rows([left], card, "si") for cell in row.cells):
        words.append("Not every value lies within the limits of the unit card; see the table.")
    return Answer(question, f"Yes, for {modes}.", " ".join(words))


def refrigerant_lines(ledger: Ledger, preset: PresetName) -> list[str]:
    """Say what was moved, as weighed; what was not weighed has no mass."""
    lines = []
    for transfer in ledger.transfers:
        name = plain(ledger.refrigerant) or "refrigerant"
        if math.isfinite(transfer.weighed):
            lines.append(
                f"{show(Quantity.MASS, transfer.weighed, preset)} of {name} {transfer.kind}, weighed."
            )
        else:
            lines.append(f"{name} {transfer.kind}; it was not weighed, so no mass is stated.")
    return lines


def untested_lines(
    record: VisitRecord | None, compared: Compared | None, stretches: Sequence[Stretch]
) -> list[str]:
    """List what was not tested: what the technician says, and every mode without a measurement."""
    said = record.untested if record else ()
    lines = [plain(f"{one.what}: {one.why}" if one.why else one.what) for one in said]
    words = " ".join(one.what.lower() for one in said)
    if compared is not None:
        lacking = [f"{mode}: {lack}" if lack != "not tested" else mode for mode, lack in compared.not_tested]
    else:
        done = {stretch.settings.mode for stretch in stretches if stretch.steady}
        lacking = [mode for mode in ("heating", "cooling") if mode not in done]
    return lines + [line for line in lacking if line.split(":")[0] not in words]


def temporary_lines(record: VisitRecord | None) -> list[str]:
    """List temporary repairs that stand, or say that there are none, or that nobody said."""
    if record is None:
        return ["not recorded"]
    open_ones = [repair for repair in record.temporary_repairs if repair.open]
    return [
        plain(f"{r.what} (since {r.since}{f', to be replaced by {r.until}' if r.until else ''})")
        for r in open_ones
    ] or ["none"]


def _how_sure(comparison: Comparison | None, stretches: Sequence[Stretch], preset: PresetName) -> list[str]:
    lines: list[str] = []
    if comparison is not None:
        entering = [
            f"{c.label} {show(c.quantity, c.as_found, preset)} and {show(c.quantity, c.as_left, preset)}"
            for c in comparison.fairness.conditions
            if c.name.startswith("entering") and c.quantity is not None
            and isinstance(c.as_found, float) and isinstance(c.as_left, float)
        ]  # fmt: skip
        if comparison.fairness.fair:
            lines.append(f"Fair comparison: {'; '.join(entering)}; steady both times.")
        else:
            lines.append(f"{verdict_line(comparison, preset)}.")
    elif stretches and not stretches[-1].steady:
        lines.append("The machine did not run evenly, so nothing here may be judged.")
    elif stretches:
        lines.append(f"Measured while it ran evenly for {duration(stretches[-1].seconds)}.")
    if not stretches:
        return [*lines, "There are no readings of a measuring point."]
    last = stretches[-1]
    for symbol, label in (("heat_to_load", "Heat delivered"), ("heat_to_source", "Heat to the water")):
        texts = [text for stretch in stretches if (text := with_uncertainty(symbol, stretch, preset))]
        if texts:
            lines.append(f"{label}: {' and '.join(texts)}.")
    flow = last.inputs.get("source_volume_flow", ())
    if "source_pressure_drop" in flow:
        lines.append("Flow comes from the pressure drop across the coil and its rated point.")
    elif "source_flow" in flow:
        lines.append("Flow comes from a flow meter.")
    balance = mean_of(last, "heat_balance")
    if balance is not None:
        closes = f"{abs(balance.value) * 100.0:.0f} %"
        u = f", ± {math.ceil(2.0 * balance.u * 100.0):.0f} %" if math.isfinite(balance.u) else ""
        lines.append(f"The energy balance closes to {closes}{u}.")
    lines.append("After ± stands the expanded uncertainty (k = 2).")
    return lines


def _recordings(studied: Sequence[Studied]) -> str:
    parts = []
    for one in studied:
        points = len(one.stretches[-1].points) if one.stretches else 0
        lost = sum(event.kind == "dropout" for event in one.session.events)
        dropouts = "no dropout" if not lost else "one dropout" if lost == 1 else f"{lost} dropouts"
        parts.append(f"{plain(one.session.folder.name)}: {points} measuring points, {dropouts}")
    return "; ".join(parts)
