"""``evenrun analyse``: what a session's readings mean, over its steady stretches."""

from __future__ import annotations

import argparse
import json

from analysis.windows import steady_stretches
from logger.errors import DONE
from logger.replay import analyse_session, open_session
from logger.session_report import session_facts, session_text


def run(args: argparse.Namespace) -> int:
    """Print the analysis."""
    session = open_session(args.session)
    results = list(analyse_session(session))
    stretches = steady_stretches(results)
    if args.json:
        print(json.dumps(session_facts(session, stretches, results), allow_nan=False))
    else:
        print(session_text(session, stretches, results, args.units or "si"))
    return DONE
