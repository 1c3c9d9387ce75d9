"""Files that a person writes: set-up, card, map, visit record. All are read, and refused, in the same way.

What is not there or cannot be opened is status 4; what is no text or says something wrong is status 3.
"""

from __future__ import annotations

from pathlib import Path
from typing import TypeVar

import msgspec

from drivers.strict_toml import TomlError, decode, read_text
from logger.errors import DamagedInputError, NotAvailableError

_Table = TypeVar("_Table", bound=msgspec.Struct)


def read_written(path: Path, what: str) -> str:
    """Read a text file that a person wrote.

    Parameters
    ----------
    path
        Where it is.
    what
        What it is called in a refusal, for example ``unit card``.

    Raises
    ------
    NotAvailableError
        If it is not there or cannot be opened.
    DamagedInputError
        If it is no text.
    """
    try:
        return read_text(path, "utf-8-sig")
    except FileNotFoundError:
        raise NotAvailableError(f"There is no {what} {path}; check its name and folder.") from None
    except IsADirectoryError:
        raise NotAvailableError(f"The {what} {path} is a folder; name the file in it.") from None
    except PermissionError:
        raise NotAvailableError(f"The {what} {path} may not be read; change its permissions.") from None
    except OSError as error:
        why = error.strerror or "the operating system refused"
        raise NotAvailableError(f"The {what} {path} cannot be read: {why}.") from None
    except UnicodeDecodeError:
        raise DamagedInputError(f"The {what} {path} is no text file; write it in UTF-8.") from None


def decode_written(text: str, kind: type[_Table], where: str) -> _Table:
    """Read the text of such a file; ``where`` is what a refusal calls it.

    Raises
    ------
    DamagedInputError
        If a key or value is wrong, by its key path.
    """
    try:
        return decode(text, kind)
    except TomlError as refused:
        raise DamagedInputError(f"{where}: {refused}") from None


def read_table(path: Path, kind: type[_Table], what: str) -> _Table:
    """Read such a file into its structure.

    Raises
    ------
    NotAvailableError, DamagedInputError
        As :func:`read_written` and :func:`decode_written` do.
    """
    return decode_written(read_written(path, what), kind, str(path))
