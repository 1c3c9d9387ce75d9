"""Two stored sessions, or both ends of one, put side by side for the compare view."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.compare import Compared
from analysis.marks import standing_marks
from analysis.timeline import Event
from analysis.unit_card import UnitCard
from logger.comparison import compare_sessions, not_tested_lines, study
from logger.desktop.bands import bands_of
from logger.desktop.scene_compare import ComparePage
from logger.session import Session


def compare_page(as_found: Session, as_left: Session, card: UnitCard | None) -> ComparePage:
    """Work both sessions out and compare them.

    Raises
    ------
    CommandError
        If one of them holds no readings of a measuring point.
    """
    found, left = study(as_found), study(as_left)
    events = (*as_found.events, *as_left.events)
    return page_of_comparison(compare_sessions(found, left), found.title, events, card)


def page_of_comparison(
    compared: Compared, title: str, events: Sequence[Event], card: UnitCard | None
) -> ComparePage:
    """Put what was compared on a page."""
    comparison = compared.comparisons[0] if compared.comparisons else None
    mode = comparison.mode if comparison is not None else ""
    bands = bands_of(card.bands, mode) if card is not None else {}
    notes = list(not_tested_lines(compared))
    repairs = [mark.text for mark in standing_marks(events) if mark.text == "I changed"]
    if repairs:
        notes.insert(0, f"Marked as changed: {len(repairs)} times.")
    return ComparePage(comparison, title, bands, tuple(notes))
