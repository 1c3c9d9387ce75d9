"""``evenrun correct``: put a wrong assignment, offset, refrigerant or barometer right by one more event."""

from __future__ import annotations

import argparse

from logger.amend import amend
from logger.errors import DONE
from logger.lengths import parse_length
from logger.replay import open_session


def run(args: argparse.Namespace) -> int:
    """Append the correction and say what to do next."""
    session = open_session(args.session, tell=False)
    since = parse_length(args.since)
    event = amend(session, args.kind, args.channel, args.text, round(since * 1e6))
    about = f" of {event.subject}" if event.subject else ""
    print(f"From {since:g} s on: {event.kind}{about} is '{event.text}'. Readings are as they were.")
    print(f"'evenrun recheck {args.session}' works everything out again.")
    return DONE
