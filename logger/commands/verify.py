"""``evenrun verify``: look for damage in a session's files."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from logger.errors import DONE, FAULTS_FOUND, DamagedInputError, NotAvailableError
from logger.replay import no_session
from logger.session_errors import NotASessionError, SessionError, StillRecordingError
from logger.verify import verify


def run(args: argparse.Namespace) -> int:
    """Print each fault with file and line."""
    folder = Path(args.session)
    try:
        faults = verify(folder)
    except NotASessionError as error:
        raise no_session(error) from None
    except StillRecordingError as error:
        raise NotAvailableError(f"{error}.") from None
    except SessionError as error:
        raise DamagedInputError(f"{error}.") from None
    if args.json:
        found = [{"file": f.file, "line": f.line, "fault": f.sentence} for f in faults]
        print(json.dumps({"session": str(folder), "faults": found}))
    elif faults:
        for fault in faults:
            print(fault)
        print(f"{len(faults)} faults. 'evenrun recover {folder}' keeps every whole row.")
    else:
        print(f"{folder}: no fault found.")
    return FAULTS_FOUND if faults else DONE
