"""``evenrun check-card`` holds a unit card against itself."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from analysis.card_checks import check_card
from analysis.card_file import CardFile
from analysis.unit_card import CardError, UnitCard, unit_card
from drivers import strict_toml
from drivers.strict_toml import TomlError, decode
from logger.errors import DONE, FAULTS_FOUND, DamagedInputError, NotAvailableError


def read_text(path: Path, what: str) -> str:
    """Read a text file that a person wrote.

    Raises
    ------
    NotAvailableError, DamagedInputError
        If it cannot be read, or is no text.
    """
    try:
        return strict_toml.read_text(path)
    except OSError as error:
        raise NotAvailableError(f"The {what} {path} cannot be read: {error.strerror}.") from None
    except UnicodeDecodeError:
        raise DamagedInputError(f"The {what} {path} is no text file; write it in UTF-8.") from None


def read_card(path: Path) -> UnitCard:
    """Read a unit card.

    Raises
    ------
    NotAvailableError
        If it is not there.
    DamagedInputError
        If a key or value cannot be read, by its key path.
    """
    try:
        return unit_card(decode(read_text(path, "unit card"), CardFile))
    except (TomlError, CardError) as refused:
        raise DamagedInputError(f"{path}: {refused}") from None


def run(args: argparse.Namespace) -> int:
    """Check a card; 1 where something on it cannot be right."""
    path = Path(args.card)
    card = read_card(path)
    faults = check_card(card)
    if args.json:
        facts = {
            "card": str(path),
            "title": card.title,
            "limits": len(card.bands),
            "faults": [{"path": fault.path, "sentence": fault.sentence} for fault in faults],
        }
        print(json.dumps(facts))
    else:
        for fault in faults:
            print(f"{path}: {fault}")
        found = "no fault found" if not faults else f"{len(faults)} to put right"
        print(f"{card.title}: {len(card.bands)} limits, {found}.")
    return FAULTS_FOUND if faults else DONE
