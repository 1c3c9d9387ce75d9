"""``evenrun demo``: a simulated machine before and after its repair, recorded through the real path."""

from __future__ import annotations

import argparse
import math
import tempfile
import time
from pathlib import Path

from analysis.presets import PresetName
from logger.demo import STORIES
from logger.demo_run import run_live_machine, run_story
from logger.desktop import display_missing, open_demo
from logger.errors import DONE, CommandError, NotAvailableError
from logger.plain_console import PlainConsole


def run(args: argparse.Namespace) -> int:
    """Run the story, or the machine live for some seconds."""
    story = STORIES[args.story]
    if args.seconds is not None and not 0.0 < args.seconds < math.inf:
        raise CommandError("--seconds must be more than 0 s, as --seconds 60.")
    out = _new_folder(Path(args.out) if args.out else Path(tempfile.gettempdir()), story.name)
    preset: PresetName = args.units or ("us" if story.name == "bakery" else "si")
    if args.seconds is not None:
        run_live_machine(story, out, preset, args.seconds)
        return DONE
    console = PlainConsole(width=None if PlainConsole().is_terminal else 110)
    run_story(story, out, preset, console, as_json=args.json)
    if args.no_gui or args.json or display_missing():
        return DONE
    console.print("Now the window, on the machine as found, running live; Ctrl-C here or closing it ends it.")
    live = out / "live"
    live.mkdir()
    return open_demo(story.name, live, units=preset)


def _new_folder(parent: Path, name: str) -> Path:
    """Make a new folder for this run, so that no run writes over another one."""
    stamp = time.strftime("%Y-%m-%d-%H%M%S")
    for number in range(100):
        folder = parent / f"evenrun-demo-{name}-{stamp}{f'-{number}' if number else ''}"
        try:
            folder.mkdir(parents=True)
        except FileExistsError:
            continue
        except OSError as error:
            raise NotAvailableError(f"The folder {folder} cannot be made: {error.strerror}.") from None
        return folder
    raise NotAvailableError(f"No new folder could be made in {parent}; give another one with --out.")
