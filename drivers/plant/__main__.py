"""Run one phase of a story: `python -m drivers.plant --story hall --phase as-found --speed 60 --port 0`."""

from __future__ import annotations

import argparse
import sys
from typing import NoReturn

from drivers.plant.server import serve
from drivers.plant.simulation import Plant
from drivers.plant.stories import STORIES


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        """One sentence and exit status 2."""
        sys.stderr.write(f"plant: {message}; see --help.\n")
        raise SystemExit(2)


def main(arguments: list[str] | None = None) -> int:
    """Read the command line and serve.

    Returns
    -------
    int
        0 done; 2 wrong use; 4 port not available.
    """
    parser = _Parser(
        prog="python -m drivers.plant", description="The simulated heat pump as a text-line device."
    )
    parser.add_argument("--story", required=True, choices=sorted(STORIES))
    parser.add_argument("--phase", help="a phase of the story (its first one when left out)")
    parser.add_argument(
        "--speed", type=float, default=60.0, help="plant seconds per second; 0: as fast as read"
    )
    parser.add_argument("--port", type=int, default=0)
    parser.add_argument("--seconds", type=int, help="plant seconds to stream (the phase's own length)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--start-at", type=int, default=0, metavar="SECONDS", help="begin this far into the phase"
    )
    parser.add_argument("--wait", type=float, default=600.0, help="seconds to wait for the first client")
    options = parser.parse_args(arguments)
    story = STORIES[options.story]
    phases = {phase.name: phase for phase in story.phases}
    name = options.phase or story.phases[0].name
    if name not in phases:
        parser.error(f"the story {story.name} has no phase {name!r}; choose one of {', '.join(phases)}")
    phase = phases[name]
    if not 0.0 <= options.speed < float("inf"):
        parser.error(f"--speed is {options.speed}; it must be 0 (as fast as read) or more")
    if not 0 <= options.port <= 65535:
        parser.error(f"--port is {options.port}; it must lie between 0 (any) and 65535")
    if options.start_at < 0:
        parser.error(f"--start-at is {options.start_at}; it must be 0 or more seconds")
    if not options.wait > 0.0:
        parser.error(f"--wait is {options.wait}; it must be more than 0 seconds")
    seconds = options.seconds if options.seconds is not None else phase.seconds - options.start_at
    if seconds < 1:
        parser.error(f"nothing is left to stream: the phase {name} lasts {phase.seconds} s")
    plant = Plant(story.scenario(phase), options.seed)
    try:
        return serve(plant, seconds, options.speed, options.port, options.start_at, options.wait)
    except OSError as problem:
        sys.stderr.write(f"plant: port {options.port} cannot be used ({problem.strerror}); try --port 0.\n")
        return 4
    except KeyboardInterrupt:
        return 0


if __name__ == "__main__":
    raise SystemExit(main())
