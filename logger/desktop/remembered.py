"""What the window remembers from one day to the next: a small file in the platform's folder for settings.

A file that is missing or damaged means the settings of a new computer; nothing of a session is kept here.
"""

from __future__ import annotations

import itertools
import logging
from datetime import datetime
from pathlib import Path

import msgspec

from drivers.strict_toml import TomlError, decode, read_text
from logger.errors import NotAvailableError

_log = logging.getLogger(__name__)
FILE = "desktop.toml"


class Remembered(msgspec.Struct, frozen=True, kw_only=True):
    """The window's settings."""

    sounds: bool = True
    last_session: str = ""
    """Folder of the session that was recorded or opened last."""
    last_visit: str = ""
    """Folder of the last session from devices of one's own; its set-up can be used again."""


def settings_folder() -> Path:
    """Give the platform's folder for settings; it need not exist."""
    import platformdirs

    return Path(platformdirs.user_config_dir("evenrun", appauthor=False))


def sessions_folder() -> Path:
    """Give the platform's folder for what is recorded without a place named; it need not exist."""
    import platformdirs

    return Path(platformdirs.user_data_dir("evenrun", appauthor=False)) / "sessions"


def fresh_session_folder(what: str) -> Path:
    """Name a folder for a session where the person named none: in the platform's folder, by its minute.

    Raises
    ------
    NotAvailableError
        If that place cannot be made.
    """
    place = sessions_folder()
    try:
        place.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise NotAvailableError(f"{place} cannot be made: {error.strerror}; name one with --out.") from None
    began = f"{datetime.now().astimezone():%Y-%m-%d-%H%M}-{what}"
    names = itertools.chain([began], (f"{began}-{number}" for number in itertools.count(2)))
    return next(place / name for name in names if not (place / name).exists())


def own_profiles() -> list[str]:
    """List the person's own profiles, which lie in the folder for settings; paths, sorted."""
    place = settings_folder() / "profiles"
    return sorted(str(path) for path in place.glob("*.toml")) if place.is_dir() else []


def remembered(folder: Path | None = None) -> Remembered:
    """Read what is remembered; of a damaged file, nothing."""
    path = (folder or settings_folder()) / FILE
    try:
        return decode(read_text(path), Remembered)
    except FileNotFoundError:
        return Remembered()
    except (OSError, UnicodeDecodeError, TomlError):
        _log.warning("%s cannot be read; the window begins with the settings of a new computer.", path)
        return Remembered()


def remember(settings: Remembered, folder: Path | None = None) -> bool:
    """Write what is to be remembered; False where the folder refuses, which harms nothing."""
    path = (folder or settings_folder()) / FILE
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        fresh = path.with_suffix(".new")
        fresh.write_bytes(msgspec.toml.encode(settings))
        fresh.replace(path)
    except OSError:
        _log.warning("%s cannot be written; the settings hold until the window is closed.", path)
        return False
    return True
