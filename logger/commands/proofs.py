"""``evenrun proofs`` tries the stated tests on a session or a typed visit, the water first."""

from __future__ import annotations

import argparse
import json
import math
from pathlib import Path

from analysis.case_file import CaseError, CaseFile, pressure_proofs
from analysis.evidence import Visit
from analysis.finding_values import with_values
from analysis.guards import guards
from analysis.proofs import Proof, prove_all
from analysis.proofs_hot_water import has_desuperheater, prove_desuperheater
from analysis.proofs_record import record_proofs
from analysis.proofs_run_in import prove_run_in
from analysis.unit_card import UnitCard
from logger.commands.findings import card_for, read_visit
from logger.errors import DONE, CommandError, DamagedInputError
from logger.replay import end_us, open_session
from logger.verdict_report import conflict_facts, proof_facts, proofs_text
from logger.visit_file import find_visit
from logger.written_file import read_table


def _pressure_tests(path: str) -> tuple[Proof, ...]:
    """Try the pressure tests that a typed visit holds; a session holds none (``--tests`` names them)."""
    if not path.endswith(".toml"):
        return ()
    try:
        return pressure_proofs(read_table(Path(path), CaseFile, "typed visit"))
    except CaseError as refused:
        raise DamagedInputError(f"{path}: {refused}") from None


def _record(args: argparse.Namespace) -> tuple[Proof, ...]:
    """Try what the visit's record holds: the named one, else that beside the session."""
    session = [] if args.visit.endswith(".toml") else [open_session(args.visit).folder]
    found = find_visit(session, args.record or "")
    return record_proofs(found[0]) if found is not None else ()


def _run_in(args: argparse.Namespace, visit: Visit, card: UnitCard | None) -> tuple[Proof, ...]:
    """Hold the visit against the session as left, if one is named."""
    if not args.as_left:
        return ()
    left = with_values(read_visit(args.as_left, card)[0], card)
    hours = math.nan
    if not any(path.endswith(".toml") for path in (args.visit, args.as_left)):
        now, was = (open_session(path) for path in (args.visit, args.as_left))
        hours = (now.header.utc_start_us - was.header.utc_start_us - end_us(was)) / 3.6e9
    return (prove_run_in(visit, left, card, hours=hours),)


def run(args: argparse.Namespace) -> int:
    """Print the proofs."""
    if args.tests and not args.tests.endswith(".toml"):
        raise CommandError(f"--tests {args.tests}: name a typed file that ends in .toml.")
    card = card_for(args.visit, args.card)
    visit, title = read_visit(args.visit, card)
    reference = with_values(read_visit(args.reference, card)[0], card) if args.reference else None
    visit = with_values(visit, card)
    conflicts = guards(visit)
    tests = [path for path in (args.visit, args.tests) if path]
    proofs = (
        *prove_all(visit, card, reference),
        *((prove_desuperheater(visit, card),) if has_desuperheater(visit, card) else ()),
        *(proof for path in tests for proof in _pressure_tests(path)),
        *_record(args),
        *_run_in(args, visit, card),
    )
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
