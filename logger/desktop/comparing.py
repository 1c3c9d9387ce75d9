"""Two stored sessions, or both ends of one, put side by side for the compare view."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from analysis.compare import Compared, Comparison
from analysis.marks import standing_marks
from analysis.timeline import Event
from analysis.unit_card import UnitCard
from logger.comparison import compare_between, compare_sessions, not_tested_lines, study
from logger.desktop.bands import bands_of
from logger.desktop.scene_compare import ComparePage
from logger.session import Session


def compare_page(
    as_found: Session, as_left: Session, card: UnitCard | None, between: Session | None = None
) -> ComparePage:
    """Work the sessions out and compare them.

    Parameters
    ----------
    as_found, as_left
        Both ends of the repair.
    card
        The machine's unit card.
    between
        The machine between two repairs.

    Raises
    ------
    CommandError
        If one of them holds no readings of a measuring point.
    """
    found, left = study(as_found), study(as_left)
    middle = compare_between(found, study(between) if between is not None else None)
    events = (*as_found.events, *(between.events if between is not None else ()), *as_left.events)
    return page_of_comparison(compare_sessions(found, left), found.title, events, card, middle)


def page_of_comparison(
    compared: Compared,
    title: str,
    events: Sequence[Event],
    card: UnitCard | None,
    between: Mapping[str, Comparison] = MappingProxyType({}),
) -> ComparePage:
    """Put what was compared on a page."""
    comparison = compared.comparisons[0] if compared.comparisons else None
    mode = comparison.mode if comparison is not None else ""
    bands = bands_of(card.bands, mode) if card is not None else {}
    notes = list(not_tested_lines(compared))
    repairs = [mark.text for mark in standing_marks(events) if mark.text == "I changed"]
    if repairs:
        notes.insert(0, f"Marked as changed: {len(repairs)} times.")
    middle = between.get(mode)
    if middle is not None and not middle.fairness.fair:
        names = ", ".join(condition.label for condition in middle.fairness.blocking)
        notes.insert(0, f"Between the repairs: not under like conditions ({names}).")
    return ComparePage(comparison, title, bands, tuple(notes), middle)
