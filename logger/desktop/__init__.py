"""The window. Only :mod:`painter`, :mod:`window` and :mod:`running` need Qt; scenes are plain values.

Nothing is imported here, so that the command line starts without Qt.
"""

from __future__ import annotations

from pathlib import Path


def open_demo(story: str, out: Path, *, units: str = "", look: str = "dark") -> int:
    """Open the window on a story's machine as found, simulated and running live.

    Parameters
    ----------
    story
        Name in :data:`logger.demo.STORIES`.
    out
        Folder that the session goes into; it must exist.
    units
        ``si`` or ``us``; the story's own by default.

    Returns
    -------
    int
        Exit status.

    Raises
    ------
    CommandError
        If there is no PySide6 or no display; with the way out.
    """
    from logger.desktop.running import run_demo

    return run_demo(story, out, units=units, look=look)


def display_missing() -> str:
    """Say why no window can be opened, with the way out; empty where one can."""
    from logger.desktop.display import why_no_window

    return why_no_window()
