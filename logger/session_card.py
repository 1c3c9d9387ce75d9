"""The unit card that belongs to a session: named by the person, beside the session, or recorded with it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from analysis.card_file import CardFile
from analysis.unit_card import CardError, UnitCard, unit_card
from logger.errors import DamagedInputError
from logger.session import Session
from logger.written_file import decode_written, read_table, read_written

UNIT = "unit.toml"


def written_card(sessions: Sequence[Session], given: str = "") -> tuple[CardFile, str] | None:
    """Find the card as it is written.

    Parameters
    ----------
    sessions
        The newest first.
    given
        A file named by the person.

    Returns
    -------
    (card, where it is from) or None
        None where there is none.

    Raises
    ------
    CommandError
        If it cannot be read.
    """
    files = [Path(given)] if given else [session.folder / UNIT for session in sessions]
    for path in files:
        if given or path.is_file():
            return read_table(path, CardFile, "unit card"), str(path)
    for session in sessions:
        if session.header.unit_card:
            where = f"recorded with {session.folder.name}"
            return decode_written(session.header.unit_card, CardFile, where), where
    return None


def find_card(sessions: Sequence[Session], given: str = "") -> UnitCard | None:
    """Find the card with its values; None where there is none."""
    found = written_card(sessions, given)
    return None if found is None else _valued(*found)


def card_of(text: str, where: str) -> UnitCard:
    """Read a unit card's text; ``where`` is what a refusal calls it.

    Raises
    ------
    DamagedInputError
        If a key or value cannot be read, by its key path.
    """
    return _valued(decode_written(text, CardFile, where), where)


def read_card(path: Path) -> UnitCard:
    """Read a unit card.

    Raises
    ------
    NotAvailableError
        If it is not there.
    DamagedInputError
        If a key or value cannot be read, by its key path.
    """
    return card_of(read_written(path, "unit card"), str(path))


def _valued(written: CardFile, where: str) -> UnitCard:
    try:
        return unit_card(written)
    except CardError as refused:
        raise DamagedInputError(f"{where}: {refused}") from None
