"""``evenrun record``: readings from devices to a session folder, shown live."""

from __future__ import annotations

import argparse
import sys
from contextlib import ExitStack
from pathlib import Path

from logger.app import open_recording
from logger.keep_awake import awake
from logger.lengths import parse_length
from logger.log_setup import log_file, logging_to
from logger.recording_end import say_silent, tell_warnings
from logger.run_live import run_live
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
    return say_silent(list(engine.links.values()))
