"""Photos of a visit as small pictures inside the page: upright, and without what the camera wrote beside."""

from __future__ import annotations

import base64
import importlib
import io
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

THUMBNAIL_PX = 480
MOST_PHOTOS = 40
MOST_BYTES = 50_000_000
"""A larger file is named and not read."""


@dataclass(frozen=True, slots=True)
class Photo:
    """One photo on a page."""

    name: str
    text: str
    data: str = ""
    """The picture as ``data:`` address; empty where it cannot be shown."""
    why_not: str = ""


def photos_of(folder: Path, named: Iterable[tuple[str, str]]) -> list[Photo]:
    """Read the photos that a record names.

    Parameters
    ----------
    folder
        Where they lie.
    named
        File name and the text of its note.

    Returns
    -------
    list of Photo
        Each one; what cannot be shown says why.
    """
    found = []
    for number, (name, text) in enumerate(named):
        if number >= MOST_PHOTOS:
            found.append(Photo(name, text, why_not="not shown, there are many"))
            continue
        found.append(_photo(folder / name, name, text))
    return found


def _photo(path: Path, name: str, text: str) -> Photo:
    try:
        image = importlib.import_module("PIL.Image")
        ops = importlib.import_module("PIL.ImageOps")
    except ImportError:
        return Photo(name, text, why_not="needs the library pillow to be shown (evenrun[pdf])")
    if path.is_symlink() or not path.is_file():
        # A link would show a picture from elsewhere; a pipe would hold the report for ever.
        return Photo(
            name, text, why_not="the file is not there" if not path.is_symlink() else "a link, not shown"
        )
    try:
        if path.stat().st_size > MOST_BYTES:
            return Photo(name, text, why_not="larger than 50 MB, not shown")
        with image.open(path) as opened:
            opened.draft("RGB", (THUMBNAIL_PX, THUMBNAIL_PX))
            small = ops.exif_transpose(opened).convert("RGB")
            small.thumbnail((THUMBNAIL_PX, THUMBNAIL_PX))
            # Made anew from its pixels: place, time and camera of the original do not come along.
            buffer = io.BytesIO()
            small.save(buffer, "JPEG", quality=72)
    except Exception as error:  # a damaged picture fails in many ways, and never stops a report
        return Photo(name, text, why_not=f"cannot be read: {type(error).__name__}")
    return Photo(name, text, "data:image/jpeg;base64," + base64.b64encode(buffer.getvalue()).decode())
