"""Watching the probes of a set-up until their cup is even, or the time is up."""

from __future__ import annotations

import asyncio
import signal
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from logger.app import Recording, open_recording
from logger.errors import NotAvailableError
from logger.match_outcome import Outcome, Taken, taken_now
from logger.recent import Recent
from logger.session_errors import SessionError
from logger.setup_file import load_setup

LOOK_S = 1.0
TELL_EVERY = 10
"""What stands against it is told at every tenth look, and whenever it is another thing."""
Judge = Callable[[Taken], Outcome | None]
"""Gives what comes of the present readings; None before there are any."""


def watch_setup(path: Path, folder: Path, for_s: float, judge: Judge) -> Outcome | None:
    """Record from a set-up's devices and judge each second; gives the first that is even, else the last.

    None where nothing could be judged.

    Parameters
    ----------
    path
        The set-up.
    folder
        Of the session that is recorded meanwhile; must not exist.
    for_s
        Longest time [s].
    judge
        What is looked for.

    Raises
    ------
    CommandError
        If the set-up is wrong, or rows cannot be stored.
    """
    setup, text = load_setup(path)
    recording = open_recording(setup, text, folder, beside=path.parent)
    try:
        return asyncio.run(_watch(recording, for_s, judge))
    except SessionError as error:
        raise NotAvailableError(f"{error}.") from None


async def _watch(recording: Recording, for_s: float, judge: Judge) -> Outcome | None:
    engine = recording.engine
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        with suppress(NotImplementedError):  # Windows: Ctrl-C comes as KeyboardInterrupt
            loop.add_signal_handler(number, engine.stop, "stopped by the person")
    recent = Recent(engine.ring)
    task = asyncio.create_task(engine.run(round(for_s * 1e6)))
    found: Outcome | None = None
    told, looks = "", 0
    while not task.done():
        await asyncio.wait({task}, timeout=LOOK_S)
        found = judge(taken_now(engine, recent)) or found
        first = found.against[0] if found is not None and found.against else ""
        if first and (first.split(",")[0] != told.split(",")[0] or looks % TELL_EVERY == 0):
            print(first, file=sys.stderr, flush=True)
            told = first
        looks += 1
        if found is not None and not found.against:
            engine.stop("even enough")
            break
    await task
    return found
