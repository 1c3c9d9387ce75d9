"""``evenrun findings`` says what the readings of a session or of a typed visit support."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from analysis.case_file import CaseError, CaseFile, visit_of_case
from analysis.evidence import Visit
from analysis.finding_values import with_values
from analysis.findings import find, why_condensing_rose
from analysis.unit_card import UnitCard
from logger.errors import DONE, DamagedInputError
from logger.replay import open_session
from logger.session_card import find_card, read_card
from logger.session_visit import visit_of_session
from logger.verdict_report import verdict_facts, verdict_text
from logger.written_file import read_table


def read_visit(path: str, card: UnitCard | None) -> tuple[Visit, str]:
    """Read a session folder or a typed visit; gives it with its title.

    Raises
    ------
    CommandError
        If it is missing or cannot be read.
    """
    if path.endswith(".toml"):
        try:
            case = read_table(Path(path), CaseFile, "typed visit")
            return visit_of_case(case, card), case.title
        except CaseError as refused:
            raise DamagedInputError(f"{path}: {refused}") from None
    session = open_session(path)
    return visit_of_session(session, card), session.header.title


def card_for(path: str, given: str | None) -> UnitCard | None:
    """Read the card that the person names, else the one that lies beside or in the session."""
    if given:
        return read_card(Path(given))
    return None if path.endswith(".toml") else find_card([open_session(path, tell=False)])


def run(args: argparse.Namespace) -> int:
    """Print the findings."""
    card = card_for(args.visit, args.card)
    visit, title = read_visit(args.visit, card)
    reference = read_visit(args.reference, card)[0] if args.reference else None
    found = find(visit, card, reference)
    rise = why_condensing_rose(with_values(reference, card), found.visit) if reference is not None else ""
    if args.json:
        facts = {"visit": args.visit, "title": title, **verdict_facts(found)}
        if rise:
            facts["condensing_rise"] = rise
        print(json.dumps(facts, allow_nan=False))
    else:
        print(verdict_text(found, args.units or "si", title))
        if rise:
            print(f"Against the reference: {rise}.")
    return DONE
