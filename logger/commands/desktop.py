"""``evenrun desktop``: the window, on a stored session, on devices, or to set a visit up."""

from __future__ import annotations

import argparse
from pathlib import Path

from logger.desktop.remembered import fresh_session_folder
from logger.desktop.running import need_window, run_electrical, run_opening, run_review, run_setup, run_typed
from logger.errors import CommandError


def run(args: argparse.Namespace) -> int:
    """Open it."""
    named = [f"--{what}" for what in ("setup", "typed", "electrical") if getattr(args, what)] + [
        "a session"
    ] * bool(args.session)
    if len(named) > 1:
        raise CommandError(f"{' and '.join(named)} are several things to open; name one of them.")
    if args.session:
        return run_review(
            args.session,
            units=args.units or "",
            look=args.look,
            card=args.card or "",
            other=args.other or "",
            between=args.between or "",
        )
    if args.setup:
        out = Path(args.out) if args.out else fresh_session_folder(Path(args.setup).stem)
        return run_setup(
            Path(args.setup), out, units=args.units or "", look=args.look, watch=args.watch,
            status=args.status or "",
        )  # fmt: skip
    if args.watch is not None or args.status:
        raise CommandError("--watch and --status go with a recording: name its set-up with --setup.")
    if args.electrical:
        return run_electrical(Path(args.electrical), units=args.units or "", look=args.look)
    need_window()
    if args.typed:
        return _typed(args)
    return run_opening(units=args.units or "", look=args.look)


def _typed(args: argparse.Namespace) -> int:
    out = Path(args.out) if args.out else fresh_session_folder("typed")
    return run_typed(
        args.typed, out, units=args.units or "", look=args.look, mode=args.mode or "",
        card=args.card or "", barometer=args.barometer or "", fluid=args.fluid or "",
    )  # fmt: skip
