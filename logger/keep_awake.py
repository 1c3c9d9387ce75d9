"""Keeping the computer awake while it records; where it cannot be kept awake, that is said."""

from __future__ import annotations

import importlib
import logging
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager

_log = logging.getLogger(__name__)
HELP = "switch off sleep in the system's power settings; a sleep shows among the events"


@contextmanager
def awake() -> Iterator[str]:
    """Hold off sleep while the context lasts; the screen may still go dark.

    Yields
    ------
    str
        Empty where sleep is held off, else a sentence for the person. Recording goes on either way.
    """
    with ExitStack() as stack:
        try:
            keep = importlib.import_module("wakepy").keep
            mode = stack.enter_context(keep.running(on_fail="pass"))
            sentence = "" if mode.active else f"sleep is not held off on this system: {HELP}"
        except Exception as error:  # whatever the system's services do, it is no reason not to record
            _log.info("sleep is not held off", exc_info=True)
            why = "wakepy is not installed" if isinstance(error, ImportError) else type(error).__name__
            sentence = f"sleep is not held off ({why}): {HELP}"
        yield sentence
