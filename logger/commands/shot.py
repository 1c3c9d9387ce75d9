"""``evenrun shot``: one view as a picture, or all views audited."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING, cast

from analysis.presets import PresetName, duration
from logger.desktop.looks import LOOKS, LookName
from logger.desktop.saving import save_picture
from logger.errors import DONE, FAULTS_FOUND, CommandError, NotAvailableError

if TYPE_CHECKING:
    from logger.desktop.review import Review
    from logger.desktop.scene import Scene


def run(args: argparse.Namespace) -> int:
    """Draw it, or audit."""
    preset = cast(PresetName, args.units or "si")
    if args.audit:
        return _audit(args, preset)
    if not args.view:
        raise CommandError("Name a view, such as levels, or ask for --audit.")
    if not args.out:
        raise CommandError("Say where the picture goes: --out F.png.")
    width, height = _size(args.size)
    scene = _scene(args, preset)
    try:
        saved = save_picture(scene, LOOKS[cast(LookName, args.look)], width, height, args.out)
    except ImportError:
        raise CommandError(
            "A picture needs PySide6: install it with pip install 'evenrun[desktop]'."
        ) from None
    if not saved:
        raise NotAvailableError(
            f"{args.out} cannot be written; it must end in .png, in a folder that is there."
        )
    print(args.out)
    return DONE


def _size(text: str) -> tuple[int, int]:
    parts = text.lower().split("x")
    if len(parts) != 2 or not all(part.isdigit() for part in parts):
        raise CommandError(f"--size '{text}' is no size; write it like 1280x800.")
    width, height = int(parts[0]), int(parts[1])
    if not (320 <= width <= 8192 and 200 <= height <= 8192):
        raise CommandError("--size must lie between 320x200 and 8192x8192.")
    return width, height


def _moment_us(text: str) -> int:
    """Read h:mm:ss, m:ss or seconds."""
    try:
        parts = [float(part) for part in text.split(":")]
    except ValueError:
        parts = []
    if not 1 <= len(parts) <= 3 or any(not 0 <= part < 1e6 for part in parts):
        raise CommandError(f"--at '{text}' is no moment; write it like 0:42:00.")
    seconds = 0.0
    for part in parts:
        seconds = seconds * 60.0 + part
    return round(seconds * 1e6)


def go_to(review: Review, at: str) -> None:
    """Show a moment of a session.

    Raises
    ------
    CommandError
        If it is no moment, or lies behind the end.
    """
    review.shown_us = _moment_us(at)
    if review.shown_us > review.end_us:
        length = duration(review.end_us / 1e6)
        raise CommandError(f"--at {at} lies behind the end of the session, which is {length} long.")


def _scene(args: argparse.Namespace, preset: PresetName) -> Scene:
    from logger.desktop.drawing import Choices, draw
    from logger.desktop.history import History
    from logger.desktop.review import Review
    from logger.desktop.staged import STAGES, stage
    from logger.replay import open_session

    choices = Choices(view=args.view)
    if args.view == "typed":
        if args.session:
            raise CommandError(
                "The typed view draws a made-up visit, not a session: leave the session out, or draw levels."
            )
        from logger.desktop.staged_typed import staged_typed

        present, typed = staged_typed(preset)
        return draw(present, History(keep_rows=False), choices, typed=typed)
    if args.view == "report":
        return _report(args, preset)
    if args.view == "session" and not args.session:
        from dataclasses import replace

        from logger.desktop.staged_pages import staged_sessions

        present, history = stage("as-found", preset)
        pages = staged_sessions(present, preset)
        if (args.scene or "whole") not in pages:
            raise CommandError(
                f"There is no scene '{args.scene}' of this view; there are {', '.join(pages)}."
            )
        present = replace(present, kind="review")
        return draw(present, history, choices, session=pages[args.scene or "whole"])
    if args.view == "find":
        return _find(args, preset)
    if args.view in ("electrical", "shorts"):
        from logger.desktop.electrical_shot import electrical_shot

        return electrical_shot(args, preset)
    if args.view == "devices" and (args.scene or "").startswith("match-"):
        from logger.desktop.staged_match import staged_matches

        present, history = stage("as-found", preset)
        matches = {f"match-{name}": page for name, page in staged_matches(preset).items()}
        if args.scene not in matches:
            raise CommandError(f"There is no scene '{args.scene}'; there are {', '.join(matches)}.")
        return draw(present, history, choices, matching=matches[args.scene])
    if args.scene:
        if args.scene not in STAGES:
            raise CommandError(f"There is no scene '{args.scene}'; there are {', '.join(STAGES)}.")
        from logger.desktop.staged_pages import staged_compare

        present, history = stage(args.scene, preset)
        page = staged_compare(args.scene, preset) if args.view == "compare" else None
        return draw(present, history, choices, page=page)
    if not args.session:
        raise CommandError("Name a session, or a made-up scene with --scene.")
    review = Review.open(open_session(args.session), preset, args.card or "")
    page = None
    if args.other:
        from logger.desktop.comparing import compare_page

        middle = open_session(args.between) if args.between else None
        page = compare_page(review.session, open_session(args.other), review.card, middle)
    if args.at:
        go_to(review, args.at)
    if args.view == "session":
        from logger.desktop.session_desk import SessionDesk

        page_of = SessionDesk(review, preset).page(review.present())
        return draw(review.present(), review.history, choices, session=page_of)
    present = review.present()
    history = review.history if present.newest else History(keep_rows=False)
    return draw(present, history, choices, None, review.events, page)


def _find(args: argparse.Namespace, preset: PresetName) -> Scene:
    """Draw a made-up page on which a visit is set up."""
    from logger.desktop.present import Present
    from logger.desktop.scene_find import find_scene
    from logger.desktop.staged_find import staged_finds

    if args.session:
        raise CommandError("This page is shown before a session begins: leave the session out.")
    pages, name = staged_finds(preset), args.scene or "taken"
    if name not in pages:
        raise CommandError(f"There is no scene '{name}' of this view; there are {', '.join(pages)}.")
    return find_scene(Present(preset=preset, kind="idle"), pages[name])


def _report(args: argparse.Namespace, preset: PresetName) -> Scene:
    """Draw the report view of a session or a pair, or one of the made-up pages."""
    from pathlib import Path

    from logger.desktop.paperwork import Paperwork
    from logger.desktop.present import Present
    from logger.desktop.review import Review
    from logger.desktop.scene_report import report_scene
    from logger.desktop.staged_pages import staged_reports
    from logger.replay import open_session

    if not args.session:
        pages = staged_reports(preset)
        name = args.scene or "owner"
        if name not in pages:
            raise CommandError(f"There is no scene '{name}' of this view; there are {', '.join(pages)}.")
        return report_scene(Present(preset=preset), pages[name])
    paperwork = Paperwork(Path(args.session), args.other or "", preset, args.card or "")
    paperwork.open()
    paperwork.join(600.0)
    present = Review.open(open_session(args.session), preset, args.card or "").present()
    return report_scene(present, paperwork.page)


def _audit(args: argparse.Namespace, preset: PresetName) -> int:
    """Look through every view of every staged scene in every look."""
    from logger.desktop.audit_all import audit_all

    faults, count = audit_all()
    if args.json:
        print(json.dumps({"scenes": count, "faults": [str(fault) for fault in faults]}))
    else:
        for fault in faults:
            print(fault)
        print(f"{count} scenes looked through, {len(faults)} faults.")
    return FAULTS_FOUND if faults else DONE
