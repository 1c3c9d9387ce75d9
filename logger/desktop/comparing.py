"""Two stored sessions put side by side for the compare view."""

from __future__ import annotations

from analysis.marks import standing_marks
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
    compared = compare_sessions(found, left)
    comparison = compared.comparisons[0] if compared.comparisons else None
    mode = comparison.mode if comparison is not None else ""
    bands = bands_of(card.bands, mode) if card is not None else {}
    notes = list(not_tested_lines(compared))
    repairs = [
        mark.text
        for session in (as_found, as_left)
        for mark in standing_marks(session.events)
        if mark.text == "I changed"
    ]
    if repairs:
        notes.insert(0, f"Marked as changed: {len(repairs)} times.")
    return ComparePage(comparison, found.title, bands, tuple(notes))
