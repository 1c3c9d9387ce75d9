"""``evenrun report A [B] --for owner|office|technician --out FILE``: one self-contained page, HTML or PDF."""

from __future__ import annotations

import argparse
import time
from pathlib import Path

from logger.errors import DONE, CommandError
from logger.reports.making import gather, made
from logger.reports.paper import write_page


def run(args: argparse.Namespace) -> int:
    """Write the report."""
    out = Path(args.out)
    _check(args, out)
    material = gather(
        args.as_found, args.as_left or "", card=args.card, visit=args.visit,
        phase_found=args.phase_found, phase_left=args.phase_left, between=args.between,
    )  # fmt: skip
    content, pages = made(
        material, args.reader, args.paper, args.units or "si", pdf=out.suffix.lower() == ".pdf",
        written_us=time.time_ns() // 1000,
    )  # fmt: skip
    write_page(out, content)
    print(f"Report: {out}")
    if material.record is None and args.reader != "technician":
        print("There is no visit record; write visit.toml beside the session, or give --visit FILE.")
    if args.reader == "owner" and pages > 1:
        print(f"The texts of the visit record take {pages} pages; shorter ones fit on one.")
    return DONE


def _check(args: argparse.Namespace, out: Path) -> None:
    if out.suffix.lower() not in (".html", ".htm", ".pdf"):
        raise CommandError(f"--out {out}: name a file that ends in .html or .pdf.")
    if out.is_dir():
        raise CommandError(f"--out {out} is a folder; name a file in it.")
    if not args.as_left and args.between:
        raise CommandError("--between goes with two sessions: name the one as left, too.")
    if not args.as_left and (args.phase_found or args.phase_left):
        raise CommandError("--phase-found and --phase-left choose what is compared; name a second session.")
