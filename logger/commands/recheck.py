"""``evenrun recheck``: work everything out again and compare with what was shown."""

from __future__ import annotations

import argparse
import json

from analysis.presets import PresetName
from analysis.windows import steady_stretches
from logger.errors import DONE, FAULTS_FOUND
from logger.rechecking import recheck
from logger.replay import analyse_session, open_session
from logger.session_report import session_facts, session_text


def run(args: argparse.Namespace) -> int:
    """Print what differs, then the analysis as it is now."""
    session = open_session(args.session)
    outcome, results = recheck(session, analyse_session(session))
    stretches = steady_stretches(results)
    if args.json:
        answer = {"recheck": outcome.facts(), "analysis": session_facts(session, stretches, results)}
        print(json.dumps(answer, allow_nan=False))
    else:
        preset: PresetName = args.units or "si"
        print(outcome.text(preset))
        print()
        print(session_text(session, stretches, results, preset))
    return FAULTS_FOUND if outcome.changes else DONE
