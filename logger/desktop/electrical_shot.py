"""The electrical and the shorts view as a picture: of a session, or of made-up work."""

from __future__ import annotations

import argparse
from pathlib import Path

from analysis.presets import PresetName
from logger.desktop.drawing import Choices, draw
from logger.desktop.electrical_source import ElectricalSource, visit_beside
from logger.desktop.history import History
from logger.desktop.scene import Scene
from logger.desktop.staged_electrical import ELECTRICAL_STAGES, staged_electrical
from logger.electrical_file import load_electrical
from logger.errors import CommandError


def electrical_shot(args: argparse.Namespace, preset: PresetName) -> Scene:
    """Draw the view that was asked for.

    Raises
    ------
    CommandError
        If there is no such scene or session.
    """
    choices, nothing = Choices(view=args.view), History(keep_rows=False)
    if not args.session:
        if args.scene and args.scene not in ELECTRICAL_STAGES:
            told = ", ".join(ELECTRICAL_STAGES)
            raise CommandError(f"There is no electrical scene '{args.scene}'; there are {told}.")
        present, page = staged_electrical(args.view, args.scene or "", preset)
        return draw(present, nothing, choices, electrical=page)
    if Path(args.session).is_file():
        load_electrical(Path(args.session))  # refused with the key path where it is wrong
        source = ElectricalSource(Path(args.session), preset)
        electrical = visit_beside(source).page(source.present())
        return draw(source.present(), nothing, choices, electrical=electrical)
    from logger.commands.shot import go_to
    from logger.desktop.review import Review
    from logger.replay import open_session

    review = Review.open(open_session(args.session), preset, args.card or "")
    if args.at:
        go_to(review, args.at)
    present = review.present()
    visit = visit_beside(review)
    return draw(present, nothing, choices, electrical=visit.page(present))
