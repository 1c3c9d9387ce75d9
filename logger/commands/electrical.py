"""``evenrun electrical [FILE.toml|SESSION]``: a dead machine by its volts and ohms."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import msgspec

from logger.asking import Asker
from logger.electrical_facts import report_facts
from logger.electrical_file import case_of, load_electrical
from logger.electrical_form import ElectricalForm
from logger.electrical_live import case_of_session
from logger.electrical_report import report_on, report_text
from logger.electrical_tables import ElectricalTable
from logger.errors import DONE, CommandError, DamagedInputError, NotAvailableError


def run(args: argparse.Namespace) -> int:
    """Print what the readings say; without a file they are asked for."""
    if args.file and Path(args.file).is_dir():
        case = case_of_session(Path(args.file), args.plate)
    elif args.file:
        case = load_electrical(Path(args.file))
    elif args.json:
        raise CommandError("--json needs a FILE.toml; without a file the readings are asked for in a form.")
    else:
        if args.save:
            _must_be_free(Path(args.save))  # asked before anything is typed, so that nothing typed is lost
        table = ElectricalForm(Asker(input, print)).fill()
        if args.save:
            _save(Path(args.save), table)
        try:
            case = case_of(table)
        except ValueError as refused:
            raise CommandError(f"What was typed cannot be understood: {refused}") from None
    try:
        report = report_on(case)
    except (ValueError, CommandError) as refused:
        told = f"{args.file or 'What was typed'}: {str(refused).rstrip('.')}."
        raise (DamagedInputError if args.file else CommandError)(told) from None
    if args.json:
        print(json.dumps(report_facts(report), allow_nan=False))
    else:
        print(report_text(report))
    return DONE


def _must_be_free(path: Path) -> None:
    if path.exists():
        raise CommandError(f"{path} is there already; give --save another name.")
    if not path.parent.is_dir():
        raise NotAvailableError(f"There is no folder {path.parent}; make it, or give --save another name.")


def _save(path: Path, table: ElectricalTable) -> None:
    """Write what was typed as a file that this command reads again; never over another one."""
    text = msgspec.toml.encode(table).decode()
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except OSError as error:
        print(f"{path} cannot be written ({error.strerror}); this is what was typed:")
        print(text)
        return
    print(f"Written: {path}")
