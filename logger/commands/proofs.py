"""``evenrun proofs`` tries the stated tests on a session or a typed visit, the water first."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from analysis.case_file import CaseError, CaseFile, pressure_proofs
from analysis.finding_values import with_values
from analysis.guards import guards
from analysis.proofs import Proof, prove_all
from drivers.strict_toml import TomlError, decode
from logger.commands.check_card import read_text
from logger.commands.findings import card_for, read_visit
from logger.errors import DONE, DamagedInputError
from logger.verdict_report import conflict_facts, proof_facts, proofs_text


def _pressure_tests(path: str) -> tuple[Proof, ...]:
    """Try the pressure tests that a typed visit holds; a session holds none."""
    if not path.endswith(".toml"):
        return ()
    try:
        return pressure_proofs(decode(read_text(Path(path), "typed visit"), CaseFile))
    except (TomlError, CaseError) as refused:
        raise DamagedInputError(f"{path}: {refused}") from None


def run(args: argparse.Namespace) -> int:
    """Print the proofs."""
    card = card_for(args.visit, args.card)
    visit, title = read_visit(args.visit, card)
    reference = with_values(read_visit(args.reference, card)[0], card) if args.reference else None
    visit = with_values(visit, card)
    conflicts = guards(visit)
    proofs = (*prove_all(visit, card, reference), *_pressure_tests(args.visit))
    if args.json:
        facts = {
            "visit": args.visit,
            "title": title,
            "conflicts": [conflict_facts(conflict) for conflict in conflicts],
            "proofs": {proof.code: proof_facts(proof) for proof in proofs},
        }
        print(json.dumps(facts, allow_nan=False))
    else:
        for conflict in conflicts:
            print(f"CHECK: {conflict.sentence} {conflict.ask}")
        print(proofs_text(proofs, args.units or "si", visit.barometer_pa))
    return DONE
