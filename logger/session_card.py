"""The unit card that belongs to a session: named by the person, beside the session, or recorded with it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from analysis.card_file import CardFile
from analysis.unit_card import CardError, UnitCard, unit_card
from drivers.strict_toml import TomlError, decode
from logger.commands.check_card import read_text
from logger.errors import DamagedInputError
from logger.session import Session

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
            return _decoded(read_text(path, "unit card"), str(path)), str(path)
    for session in sessions:
        if session.header.unit_card:
            where = f"recorded with {session.folder.name}"
            return _decoded(session.header.unit_card, where), where
    return None


def find_card(sessions: Sequence[Session], given: str = "") -> UnitCard | None:
    """Find the card with its values; None where there is none."""
    found = written_card(sessions, given)
    if found is None:
        return None
    try:
        return unit_card(found[0])
    except CardError as refused:
        raise DamagedInputError(f"{found[1]}: {refused}") from None


def _decoded(text: str, where: str) -> CardFile:
    try:
        return decode(text, CardFile)
    except TomlError as refused:
        raise DamagedInputError(f"{where}: {refused}") from None
