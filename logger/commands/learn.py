"""``evenrun learn``: watch an unknown instrument's lines for ten seconds and draft a profile."""

from __future__ import annotations

import argparse
import asyncio
import sys

from drivers.base import DriverError, Timing
from drivers.clock import SystemClock
from drivers.learn import learn
from drivers.profile_sections import Link
from logger.errors import DONE, NotAvailableError
from logger.lengths import parse_length
from logger.shown_values import plain


def run(args: argparse.Namespace) -> int:
    """Print the drafted profile; what was seen goes to the error stream."""
    link = Link(baud=args.baud)
    try:
        draft = asyncio.run(learn(args.address, link, SystemClock(), Timing(), parse_length(args.length)))
    except DriverError as error:
        raise NotAvailableError(str(error)) from None
    for sentence in draft.evidence:
        print(plain(sentence), file=sys.stderr)
    if draft.profile:
        print(draft.profile)
    return DONE
