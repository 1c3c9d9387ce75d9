"""When the window turns to another source: which view is shown, what is worked out beside, what is told."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from logger.desktop.source import Source

if TYPE_CHECKING:
    from logger.desktop.paperwork import Paperwork


def view_for(source: Source, before: Source, view: str) -> str:
    """Give the view that is shown first.

    A session that is opened from another one keeps the view. A visit that begins shows its levels, or its
    devices where nothing feeds a measuring point yet; one that is set up shows the devices.
    """
    if hasattr(source, "finding"):
        return "devices"
    if hasattr(source, "choose"):
        return "typed"
    if hasattr(before, "finding"):
        return "levels" if getattr(source, "joined", True) else "devices"
    return view


def paperwork_for(source: Source) -> Paperwork | None:
    """Give what sets pages about a session; None where there is none, or only typed rows."""
    from logger.desktop.paperwork import Paperwork

    folder: Path | None = getattr(source, "folder", None)
    if folder is None or hasattr(source, "choose"):
        return None
    return Paperwork(folder, "", source.present().preset, growing=source.recording)


def where_told(source: Source) -> str:
    """Say where what is recorded lies; nothing where nothing is recorded."""
    if not source.recording:
        return ""
    simulated = source.present().kind == "simulated"
    told = "a simulated machine, recorded in " if simulated else "recorded in "
    return told + home_words(str(getattr(source, "folder", "")))


def home_words(folder: str) -> str:
    """Write a folder in the person's own one short, so that its end can be read.

    Examples
    --------
    >>> home_words(str(Path.home() / "visits"))[2:]
    'visits'
    """
    try:
        return f"~/{Path(folder).relative_to(Path.home())}"
    except (RuntimeError, ValueError):  # there is none, or it lies elsewhere
        return folder
