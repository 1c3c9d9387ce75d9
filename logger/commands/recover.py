"""``evenrun recover``: mend a session that was broken off; the original is kept."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from logger.errors import DONE, DamagedInputError, NotAvailableError
from logger.recover import recover
from logger.replay import no_session
from logger.session_errors import NotASessionError, SessionError, StillRecordingError, StorageError


def run(args: argparse.Namespace) -> int:
    """Mend the session and say what was cut."""
    try:
        recovery = recover(Path(args.session))
    except (StillRecordingError, StorageError) as error:
        raise NotAvailableError(f"{error}.") from None
    except NotASessionError as error:
        raise no_session(error) from None
    except SessionError as error:
        raise DamagedInputError(f"{error}.") from None
    if args.json:
        cut = [{"file": f.file, "line": f.line, "fault": f.sentence} for f in recovery.cut]
        answer = {"changed": recovery.changed, "rows": recovery.rows, "cut": cut}
        print(json.dumps(answer | {"warnings": list(recovery.warnings)}))
        return DONE
    for piece in recovery.cut:
        print(f"cut: {piece}")
    print(recovery.sentence)
    if recovery.cut:
        print("What was cut is kept in the folder 'damaged'.")
    for warning in recovery.warnings:
        print(f"But {warning}.")
    return DONE
