"""``evenrun desktop``: the window, on a stored session or on the simulated hall."""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

from logger.desktop.running import need_window, run_demo, run_electrical, run_review, run_typed


def run(args: argparse.Namespace) -> int:
    """Open it."""
    if args.session:
        return run_review(
            args.session, units=args.units or "", look=args.look, card=args.card or "", other=args.other or ""
        )
    if args.electrical:
        return run_electrical(Path(args.electrical), units=args.units or "", look=args.look)
    need_window()
    if args.typed:
        return _typed(args)
    out = Path(tempfile.mkdtemp(prefix="evenrun-desktop-"))
    print(
        "No session was named: this is the simulated hall, read like any device and recorded.",
        file=sys.stderr,
    )
    return run_demo("hall", out, units=args.units or "", look=args.look)


def _typed(args: argparse.Namespace) -> int:
    out = Path(args.out) if args.out else Path(tempfile.mkdtemp(prefix="evenrun-typed-")) / "visit"
    return run_typed(
        args.typed, out, units=args.units or "", look=args.look, mode=args.mode or "",
        card=args.card or "", barometer=args.barometer or "", fluid=args.fluid or "",
    )  # fmt: skip
