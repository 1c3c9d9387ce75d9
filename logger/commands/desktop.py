"""``evenrun desktop``: the window, on a stored session or on the simulated hall."""

from __future__ import annotations

import argparse
import itertools
import sys
import tempfile
from datetime import datetime
from pathlib import Path

from logger.desktop.running import need_window, run_demo, run_electrical, run_review, run_setup, run_typed
from logger.errors import CommandError, NotAvailableError


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
        out = Path(args.out) if args.out else _folder(Path(args.setup).stem)
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
    out = Path(tempfile.mkdtemp(prefix="evenrun-desktop-"))
    print(
        "No session was named: this is the simulated hall, read like any device and recorded.",
        file=sys.stderr,
    )
    return run_demo("hall", out, units=args.units or "", look=args.look)


def _folder(what: str) -> Path:
    """Name a folder for a session where the person named none: in the platform's folder, by its minute."""
    from logger.desktop.remembered import sessions_folder

    place = sessions_folder()
    try:
        place.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise NotAvailableError(f"{place} cannot be made: {error.strerror}; name one with --out.") from None
    began = f"{datetime.now().astimezone():%Y-%m-%d-%H%M}-{what}"
    names = itertools.chain([began], (f"{began}-{number}" for number in itertools.count(2)))
    return next(place / name for name in names if not (place / name).exists())


def _typed(args: argparse.Namespace) -> int:
    out = Path(args.out) if args.out else _folder("typed")
    return run_typed(
        args.typed, out, units=args.units or "", look=args.look, mode=args.mode or "",
        card=args.card or "", barometer=args.barometer or "", fluid=args.fluid or "",
    )  # fmt: skip
