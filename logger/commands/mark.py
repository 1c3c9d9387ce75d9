"""``evenrun mark SESSION TEXT --at 0:42:00``: note a moment of a session afterwards, by one more event."""

from __future__ import annotations

import argparse
import time

from analysis.presets import duration
from analysis.timeline import Event
from logger.amend import write_event
from logger.errors import DONE, CommandError
from logger.replay import open_session
from logger.shown_values import plain
from logger.visit_file import parse_at


def run(args: argparse.Namespace) -> int:
    """Append the mark."""
    session = open_session(args.session, tell=False)
    text = plain(args.text).strip()
    if not text:
        raise CommandError("A mark needs a text; write what was seen or done.")
    try:
        at_us = round(parse_at(args.at) * 1e6)
    except ValueError as refused:
        raise CommandError(f"--at: {refused}") from None
    if at_us > session.duration_us:
        length = duration(session.duration_us / 1e6)
        raise CommandError(f"--at {args.at} lies behind the end of the session, which is {length} long.")
    write_event(session, Event(at_us, time.time_ns() // 1000, "mark", "", text))
    print(f"Mark at {duration(at_us / 1e6)}: {text}")
    return DONE
