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
    for option, goes_with, named_too in (
        ("watch", "setup", args.watch is not None), ("status", "setup", args.status),
        ("with", "session", args.other), ("mode", "typed", args.mode),
        ("barometer", "typed", args.barometer), ("fluid", "typed", args.fluid),
    ):  # fmt: skip
        if named_too and not getattr(args, goes_with):
            what = "a SESSION" if goes_with == "session" else f"--{goes_with}"
            raise CommandError(f"--{option} goes with {what}: name that too, or leave --{option} out.")
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
            Path(args.setup), out, units=args.units or "", look=args.look, card=args.card or "",
            watch=args.watch, status=args.status or "",
        )  # fmt: skip
    if args.electrical:
        return run_electrical(Path(args.electrical), units=args.units or "", look=args.look)
    need_window()
    if args.typed:
        return _typed(args)
    named_place = Path(args.out) if args.out else None
    return run_opening(units=args.units or "", look=args.look, card=args.card or "", out=named_place)


def _typed(args: argparse.Namespace) -> int:
    out = Path(args.out) if args.out else fresh_session_folder("typed")
    return run_typed(
        args.typed, out, units=args.units or "", look=args.look, mode=args.mode or "",
        card=args.card or "", barometer=args.barometer or "", fluid=args.fluid or "",
    )  # fmt: skip
