"""``evenrun export``: a session as one wide table on a grid."""

from __future__ import annotations

import argparse
from pathlib import Path

from logger.errors import DONE, NotAvailableError
from logger.export import export
from logger.export_formats import ExportOptions
from logger.lengths import parse_length
from logger.replay import open_session
from logger.session_errors import SessionError


def run(args: argparse.Namespace) -> int:
    """Write the table."""
    session = open_session(args.session)
    options = ExportOptions(
        step_us=round(parse_length(args.every) * 1e6),
        locale="comma" if args.spreadsheet else "point",
        names=args.names,
    )
    try:
        rows = export(session, Path(args.out), options)
    except SessionError as error:
        raise NotAvailableError(f"{error}.") from None
    print(f"{args.out}: {rows} rows.")
    return DONE
