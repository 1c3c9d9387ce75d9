"""``evenrun check-card`` holds a unit card against itself."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from analysis.card_checks import check_card
from logger.errors import DONE, FAULTS_FOUND
from logger.session_card import read_card


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
