"""TOML files read strictly: an unknown key is refused by its key path, with the keys that are known."""

from __future__ import annotations

import difflib
import errno
import re
from pathlib import Path
from typing import Any, TypeVar, get_args

import msgspec

_Type = TypeVar("_Type", bound=msgspec.Struct)
MOST_BYTES = 1 << 20
"""A configuration file larger than this is refused unread."""


class TomlError(ValueError):
    """A file does not say what it must; the text is one sentence with the key path and the way out."""


def read_text(path: Path, encoding: str = "utf-8") -> str:
    """Read a configuration file, but never more of it than one may hold.

    Raises
    ------
    OSError
        If it cannot be read, or is larger.
    UnicodeDecodeError
        If it is no text.
    """
    with path.open("rb") as file:
        content = file.read(MOST_BYTES + 1)
    if len(content) > MOST_BYTES:
        raise OSError(errno.EFBIG, f"it has more than {MOST_BYTES >> 20} MB; that is no configuration")
    # As in text files: any line end is one line feed.
    return content.decode(encoding).replace("\r\n", "\n").replace("\r", "\n")


def decode(text: str, kind: type[_Type]) -> _Type:
    """Read TOML text as a strict structure.

    Raises
    ------
    TomlError
        If the text is no TOML, has an unknown key, or a value of the wrong kind.

    Examples
    --------
    >>> class Probe(msgspec.Struct, forbid_unknown_fields=True):
    ...     name: str
    >>> decode("nam = 'a'", Probe)
    Traceback (most recent call last):
    drivers.strict_toml.TomlError: 'nam' is not a key here; known are name.
    """
    if len(text) > MOST_BYTES:
        raise TomlError(f"the file has more than {MOST_BYTES >> 20} MB; that is no configuration.")
    try:
        return msgspec.toml.decode(text, type=kind)
    except msgspec.ValidationError as refused:
        raise TomlError(_sentence(str(refused), kind)) from None
    except (msgspec.DecodeError, ValueError, RecursionError) as refused:
        raise TomlError(f"not readable as TOML: {str(refused).rstrip('.')}.") from None


_UNKNOWN = re.compile(r"Object contains unknown field `([^`]*)`(?: - at `\$(.*)`)?")
_AT = re.compile(r"(.*) - at `\$\.?(.*)`", re.DOTALL)


def _sentence(text: str, kind: type[msgspec.Struct]) -> str:
    """Turn the validator's message into a sentence with the key path and the keys that are known."""
    if unknown := _UNKNOWN.match(text):
        key, path = unknown.group(1), (unknown.group(2) or "").lstrip(".")
        known = _keys_at(path, kind)
        near = difflib.get_close_matches(key, known, n=2, cutoff=0.6) or known
        where = f"{_path(path)}.{key}" if path else key
        return f"'{where}' is not a key here; known are {', '.join(near)}."
    if at := _AT.match(text):
        return f"'{_path(at.group(2))}': {at.group(1).replace('`', chr(39))}."
    return f"{text.replace('`', chr(39))}."


def _path(path: str) -> str:
    """People count from one."""
    return re.sub(r"\[(\d+)\]", lambda m: f"[{int(m.group(1)) + 1}]", path)


def _keys_at(path: str, root: type[msgspec.Struct]) -> list[str]:
    """Names of the keys that the structs at a path take, all members of a choice together."""
    kinds: list[type[msgspec.Struct]] = [root]
    for step in filter(None, re.split(r"[.\[]", re.sub(r"\[\.\.\.\]|\[\d+\]", "", path))):
        kinds = [
            inner
            for kind in kinds
            for field in msgspec.structs.fields(kind)
            if field.encode_name == step
            for inner in _structs_in(field.type)
        ]
    names = [field.encode_name for kind in kinds for field in msgspec.structs.fields(kind)]
    return list(dict.fromkeys(names))


def _structs_in(kind: Any) -> list[type[msgspec.Struct]]:
    """Find the structs that a type holds: itself, or within a choice, a list or a table."""
    if isinstance(kind, type) and issubclass(kind, msgspec.Struct):
        return [kind]
    return [found for inner in get_args(kind) for found in _structs_in(inner)]
