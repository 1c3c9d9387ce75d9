"""``evenrun record``: readings from devices to a session folder, shown live."""

from __future__ import annotations

import argparse
from pathlib import Path

from logger.app import open_recording
from logger.errors import DONE
from logger.lengths import parse_length
from logger.run_live import run_live, tell_warnings
from logger.setup_file import load_setup


def run(args: argparse.Namespace) -> int:
    """Record until stopped."""
    path = Path(args.setup)
    for_s = parse_length(args.length) if args.length else None
    setup, text = load_setup(path)
    recording = open_recording(setup, text, Path(args.out), beside=path.parent)
    warnings = run_live(
        recording.engine, args.units or "si", title=setup.title, for_s=for_s, quiet=args.quiet
    )
    tell_warnings(warnings)
    print(f"Session: {recording.folder}")  # noqa: T201
    return DONE
