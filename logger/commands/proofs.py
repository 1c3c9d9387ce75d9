"""``evenrun proofs`` tries the stated tests on a session or a typed visit, the water first."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from analysis.finding_values import with_values
from analysis.guards import guards
from analysis.proofs import prove_all
from logger.commands.check_card import read_card
from logger.commands.findings import read_visit
from logger.errors import DONE
from logger.verdict_report import conflict_facts, proof_facts, proofs_text


def run(args: argparse.Namespace) -> int:
    """Print the proofs."""
    card = read_card(Path(args.card)) if args.card else None
    visit, title = read_visit(args.visit, card)
    reference = with_values(read_visit(args.reference, card)[0], card) if args.reference else None
    visit = with_values(visit, card)
    conflicts = guards(visit)
    proofs = prove_all(visit, card, reference)
    if args.json:
        facts = {
            "visit": args.visit,
            "title": title,
            "conflicts": [conflict_facts(conflict) for conflict in conflicts],
            "proofs": {proof.code: proof_facts(proof) for proof in proofs},
        }
        print(json.dumps(facts, allow_nan=False))  # noqa: T201
    else:
        for conflict in conflicts:
            print(f"CHECK: {conflict.sentence} {conflict.ask}")  # noqa: T201
        print(proofs_text(proofs, args.units or "si", visit.barometer_pa))  # noqa: T201
    return DONE
