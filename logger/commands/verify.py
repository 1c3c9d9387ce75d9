"""``evenrun verify``: look for damage in a session's files."""

from __future__ import annotations

import argparse
import json

from logger.errors import DONE, FAULTS_FOUND
from logger.replay import open_session
from logger.verify import verify


def run(args: argparse.Namespace) -> int:
    """Print each fault with file and line."""
    session = open_session(args.session, tell=False)
    faults = verify(session.folder)
    if args.json:
        found = [{"file": f.file, "line": f.line, "fault": f.sentence} for f in faults]
        print(json.dumps({"session": str(session.folder), "faults": found}))
    elif faults:
        for fault in faults:
            print(fault)
        print(f"{len(faults)} faults. 'evenrun recover {session.folder}' keeps every whole row.")
    else:
        print(f"{session.folder}: no fault found.")
    return FAULTS_FOUND if faults else DONE
