"""What may lie in a session's folder: files, and nothing that hangs a reader or leads a writer elsewhere.

A session may come from anybody. A pipe would hold a reader for ever, a device would never end, and a link in
the place of one of the writers' own files would let them write over a file outside.
"""

from __future__ import annotations

import re
import stat
from pathlib import Path

from logger.session_errors import NotASessionError, SessionError, reason_of

PLAIN_NAME = re.compile(
    r"(datapackage\.json|summary\.json|events\.csv|results\.csv|readings(-[0-9]{4,9})?\.(csv|parquet))"
)
"""Names that a session's own files have; never a path."""
LONGEST_US = 400 * 86_400_000_000
"""What lies further from the start cannot be worked out: a row each second would fill the memory [us]."""
MOST_DESCRIPTOR = 64 << 20
"""A larger descriptor is none [byte]."""


def check_files(folder: Path) -> None:
    """Look at what is in a session's place before anything is opened.

    Raises
    ------
    SessionError
        Naming what is no file, or a link where only files may be.
    """
    try:
        found = sorted(folder.iterdir()) if folder.is_dir() else []
    except OSError as error:
        raise NotASessionError(f"the folder cannot be looked into: {reason_of(error)}", folder) from None
    for path in found:
        own = PLAIN_NAME.fullmatch(path.name) is not None
        if own and path.exists() and not path.is_file():
            raise SessionError("is no file; put a copy of the session's file in its place", path)
        if (path.name.startswith(".") or path.name == "damaged") and path.is_symlink():
            raise SessionError("is a link to another place; remove it before the session is used", path)
        if path.name.startswith(".") and not own and _strange(path):
            raise SessionError("is no file; remove it before the session is used", path)


def _strange(path: Path) -> bool:
    """Whether it is a pipe, a device or a socket."""
    mode = path.lstat().st_mode
    return not (stat.S_ISREG(mode) or stat.S_ISDIR(mode) or stat.S_ISLNK(mode))
