"""``evenrun strip SESSION --out DIR``: a copy for sharing, without names, places, serials, notes, photos."""

from __future__ import annotations

import argparse
from pathlib import Path

from logger.errors import DONE
from logger.replay import open_session
from logger.strip import strip


def run(args: argparse.Namespace) -> int:
    """Write the copy and say what stayed behind."""
    outcome = strip(open_session(args.session), Path(args.out))
    print(f"{args.out}: {outcome.readings} readings; {outcome.card}.")
    left = ", ".join(f"{count} {kind}" for kind, count in sorted(outcome.left_behind.items()))
    print(f"Left behind: titles, labels, addresses, set-up, visit record, photos; events: {left or 'none'}.")
    if outcome.unreadable:
        print(f"{outcome.unreadable} lines that could not be read stayed behind too.")
    print("Dates and times of day, barometer and refrigerant stay in the copy; look at it before sharing.")
    return DONE
