"""``evenrun import``: a foreign table becomes a session; ``--draft`` proposes the map for one."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from logger.draft_mapping import draft
from logger.errors import DAMAGED, DONE, CommandError, NotAvailableError
from logger.import_report import import_facts, import_text, refusal_sentence
from logger.importing import import_tables
from logger.mapping_check import load_mapping


def run(args: argparse.Namespace) -> int:
    """Import, or propose a map."""
    paths = [Path(name) for name in args.file]
    if args.draft:
        return _draft(paths, args.out)
    if not args.map or not args.out:
        raise CommandError("An import needs --map MAP.toml and --out DIR; '--draft' proposes a map.")
    mapping, text = load_mapping(Path(args.map))
    report = import_tables(paths, mapping, text, Path(args.out), _show_rows)
    if sys.stderr.isatty():
        print(file=sys.stderr)
    print(json.dumps(import_facts(report), allow_nan=False) if args.json else import_text(report))
    sentence = refusal_sentence(report)
    if sentence:
        print(sentence, file=sys.stderr)
    return DAMAGED if sentence else DONE


def _show_rows(rows: int) -> None:
    """Show how far a long import is, where a person watches."""
    if sys.stderr.isatty():
        print(f"\r{rows} rows", end="", file=sys.stderr, flush=True)


def _draft(paths: list[Path], out: str | None) -> int:
    if len(paths) != 1:
        raise CommandError("--draft looks at one file; name only one.")
    text = draft(paths[0])
    if out is None:
        print(text, end="")
        return DONE
    try:
        with Path(out).open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        raise NotAvailableError(f"{out} is there already; choose another name.") from None
    except OSError as error:
        raise NotAvailableError(f"{out} cannot be written: {error.strerror}.") from None
    print(f"Map: {out}")
    return DONE
