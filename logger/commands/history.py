"""``evenrun history FOLDER``: one machine over its visits, at like conditions, and whether it drifts."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from logger.errors import DONE
from logger.history import history_facts, history_lines, machine_history


def run(args: argparse.Namespace) -> int:
    """Print the history."""
    found = machine_history(Path(args.folder), _progress if sys.stderr.isatty() else None)
    if args.json:
        print(json.dumps(history_facts(found), allow_nan=False))
    else:
        for line in history_lines(found, args.units or "si"):
            print(line)
    return DONE


def _progress(name: str) -> None:
    print(f"working out {name}", file=sys.stderr)
