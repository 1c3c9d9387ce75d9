"""``evenrun record``: readings from devices to a session folder, shown live."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from contextlib import ExitStack
from pathlib import Path

from logger.app import open_recording
from logger.engine import Link
from logger.errors import DONE, NOT_AVAILABLE
from logger.keep_awake import awake
from logger.lengths import parse_length
from logger.log_setup import log_file, logging_to
from logger.run_live import run_live, tell_warnings
from logger.setup_file import load_setup
from logger.status_file import StatusFile, begin_status
from logger.watch import Watch
from logger.watch_file import load_watch


def run(args: argparse.Namespace) -> int:
    """Record until stopped."""
    path = Path(args.setup)
    for_s = parse_length(args.length) if args.length else None
    setup, text = load_setup(path)
    watch = None if args.watch is None else Watch(load_watch(args.watch))
    if args.status:
        begin_status(Path(args.status))
    with ExitStack() as stack:
        stack.enter_context(logging_to(log_file()))
        recording = open_recording(setup, text, Path(args.out), beside=path.parent)
        engine = recording.engine
        engine.watch = watch
        if args.status:
            stack.enter_context(StatusFile(Path(args.status), engine, recording.folder))
        asleep = stack.enter_context(awake())
        if asleep:
            engine.note("awake", "", asleep)
            if watch is not None:
                print(f"Note: {asleep}.", file=sys.stderr)
        warnings = run_live(engine, args.units or "si", title=setup.title, for_s=for_s, quiet=args.quiet)
    tell_warnings(warnings)
    print(f"Session: {recording.folder}")
    return _say_silent(list(engine.links.values()))


def _say_silent(links: Sequence[Link]) -> int:
    """Name the devices that gave no reading, since an empty recording looks like a good one from afar."""
    silent = [link for link in links if link.counts.readings == 0]
    for link in silent:
        why = link.event.reason.rstrip(".") if link.event is not None else ""
        print(f"{link.name} gave no reading{': ' + why if why else ''}.", file=sys.stderr)
    if not silent or len(silent) < len(links):
        return DONE
    print("Nothing was read at all; look at power, plug and address ('evenrun scan').", file=sys.stderr)
    return NOT_AVAILABLE
