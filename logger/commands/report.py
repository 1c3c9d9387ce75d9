"""``evenrun report A [B] --out FILE.html``: one self-contained page."""

from __future__ import annotations

import argparse
import contextlib
import time
from pathlib import Path

from logger.comparison import compare_sessions, study
from logger.errors import DONE, CommandError, NotAvailableError
from logger.replay import end_us, open_session
from logger.reports.envelope import Envelope
from logger.reports.technician import Seen, technician_page


def run(args: argparse.Namespace) -> int:
    """Write the page."""
    out = Path(args.out)
    _check(args, out)
    folders = [args.as_found] + ([args.as_left] if args.as_left else [])
    roles = ["as found", "as left"] if args.as_left else ["session"]
    seen = []
    for folder, role in zip(folders, roles, strict=True):
        session = open_session(folder)
        envelope = Envelope(end_us(session))
        seen.append(Seen(role, study(session, envelope.add), envelope))
    compared = None
    if args.as_left:
        compared = compare_sessions(
            seen[0].studied, seen[1].studied, phase_found=args.phase_found, phase_left=args.phase_left
        )
    page = technician_page(seen, compared, args.units or "si", written_us=time.time_ns() // 1000)
    _write(out, page)
    print(f"Report: {out}")  # noqa: T201
    return DONE


def _check(args: argparse.Namespace, out: Path) -> None:
    if args.reader != "technician":
        raise CommandError(f"The page for the {args.reader} cannot be written yet; use --for technician.")
    if out.suffix.lower() not in (".html", ".htm"):
        raise CommandError(f"--out {out}: name a file that ends in .html; a browser prints it to PDF.")
    if out.is_dir():
        raise CommandError(f"--out {out} is a folder; name a file in it.")
    if not args.as_left and (args.phase_found or args.phase_left):
        raise CommandError("--phase-found and --phase-left choose what is compared; name a second session.")


def _write(out: Path, page: str) -> None:
    """Write beside and move into place, so that an older page is never left half overwritten."""
    part = out.with_name(f".{out.name}.part")
    try:
        part.write_text(page, encoding="utf-8", newline="\n")
        part.replace(out)
    except OSError as error:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        raise NotAvailableError(f"The page {out} cannot be written: {error.strerror}.") from None
