"""The program's own log: a few files that take turns, no key in them, and nothing of it on the screen.

What a person must know stands in the session's events and in plain sentences. The log is for who looks into a
fault of the program itself.
"""

from __future__ import annotations

import logging
import logging.handlers
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

MOST_BYTES = 1 << 20
KEPT = 4
_KEY = re.compile(r"(?<![0-9A-Fa-f])[0-9A-Fa-f]{32}(?:[0-9A-Fa-f]{32})?(?![0-9A-Fa-f])")
"""Sixteen or 32 bytes in hexadecimal digits, as the keys of broadcasters are written."""
_LOGGERS = ("drivers", "logger", "analysis", "bleak", "pymodbus")


def hide_keys(text: str) -> str:
    """Put a word in the place of everything that looks like a key.

    Examples
    --------
    >>> hide_keys("opened with 00112233445566778899aabbccddeeff")
    'opened with (hidden)'
    """
    return _KEY.sub("(hidden)", text)


class _Format(logging.Formatter):
    """Hides keys in the finished line, wherever they came from: text, argument or exception."""

    def format(self, record: logging.LogRecord) -> str:
        return hide_keys(super().format(record))


def log_file() -> Path:
    """Give the file of this person's log."""
    import platformdirs  # 3 ms that only a recording spends

    return Path(platformdirs.user_log_dir("evenrun", appauthor=False)) / "evenrun.log"


@contextmanager
def logging_to(path: Path, *, most_bytes: int = MOST_BYTES, kept: int = KEPT) -> Iterator[Path | None]:
    """Write what the program logs to a file while the context lasts.

    Yields
    ------
    Path or None
        The file; None where it cannot be written: a recording does not fail for its log.
    """
    handler: logging.Handler
    written: Path | None = path
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handler = logging.handlers.RotatingFileHandler(
            path, maxBytes=most_bytes, backupCount=kept, encoding="utf-8", errors="backslashreplace"
        )
    except OSError:
        handler, written = logging.NullHandler(), None
    handler.setFormatter(_Format("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    before = {name: logging.getLogger(name).propagate for name in _LOGGERS}
    for name in _LOGGERS:
        log = logging.getLogger(name)
        log.addHandler(handler)
        log.propagate = False
    try:
        yield written
    finally:
        for name, propagate in before.items():
            logging.getLogger(name).removeHandler(handler)
            logging.getLogger(name).propagate = propagate
        handler.close()
