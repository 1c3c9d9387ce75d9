"""``evenrun replay``: play a session again as if it were live."""

from __future__ import annotations

import argparse
import math

from logger.errors import DONE, CommandError
from logger.replay import open_session
from logger.replaying import play


def run(args: argparse.Namespace) -> int:
    """Play it."""
    if not (math.isfinite(args.speed) and args.speed > 0):
        raise CommandError("--speed must be more than zero.")
    if play(open_session(args.session), args.units or "si", args.speed) is None:
        print("There are no readings in this session.")
    return DONE
