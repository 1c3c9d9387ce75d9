"""Writing offsets into a set-up: only lines of its ``[offset]`` table change, all else stays as it is."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path

import msgspec

from drivers.strict_toml import TomlError, decode
from logger.append_file import replace_file
from logger.errors import CommandError, NotAvailableError
from logger.setup_file import Setup, load_setup

_TABLE = re.compile(r"\s*\[\s*offset\s*\]\s*(#.*)?")
_ANY_TABLE = re.compile(r"\s*\[.*")


def offset_lines(texts: Mapping[str, str]) -> list[str]:
    """Write corrections as lines of a set-up's ``[offset]``.

    Examples
    --------
    >>> offset_lines({"water/in": "-0.1 K"})
    ['"water/in" = "-0.1 K"']
    """
    # A JSON string is a TOML basic string as long as it holds no solidus escapes, and json writes none.
    return [f"{json.dumps(channel)} = {json.dumps(text)}" for channel, text in texts.items()]


def with_offsets(text: str, texts: Mapping[str, str]) -> str:
    r"""Give the text of a set-up with these corrections in its ``[offset]`` table.

    Examples
    --------
    >>> print(with_offsets('title = "hall"\n[offset]  # found in June\n"a/b" = "1 K"\n', {"a/b": "-0.1 K"}))
    title = "hall"
    [offset]  # found in June
    "a/b" = "-0.1 K"
    """
    ending = "\r\n" if "\r\n" in text else "\n"
    lines = text.splitlines()
    new = dict(zip(texts, offset_lines(texts), strict=True))
    begin = next((n for n, line in enumerate(lines) if _TABLE.fullmatch(line)), None)
    if begin is None:
        table = ["", "[offset]"] if lines and lines[-1].strip() else ["[offset]"]
        return ending.join([*lines, *table, *new.values(), ""])
    end = next((n for n in range(begin + 1, len(lines)) if _ANY_TABLE.fullmatch(lines[n])), len(lines))
    kept = []
    for line in lines[begin + 1 : end]:
        channel = _key(line)
        kept.append(new.pop(channel, line) if channel else line)
    while kept and not kept[-1].strip():
        kept.pop()
    behind = ["", *lines[end:]] if end < len(lines) else []
    return ending.join([*lines[: begin + 1], *kept, *new.values(), *behind, ""])


def _key(line: str) -> str:
    """Give the key of a line that is one whole pair; empty where it is none."""
    try:
        pairs = tomllib.loads(line)
    except tomllib.TOMLDecodeError:
        return ""
    key, value = next(iter(pairs.items()), ("", None))
    return key if isinstance(value, str) else ""


def write_offsets(path: Path, texts: Mapping[str, str]) -> None:
    """Put corrections into a set-up file, so that at every moment the old or the new one is there, whole.

    Raises
    ------
    CommandError
        If the file's ``[offset]`` is written in a way that cannot be changed line by line, or the disk
        refuses; then nothing is changed.
    """
    before, _ = load_setup(path)
    after = with_offsets(path.read_bytes().decode(), texts)  # with its own line ends
    wanted = msgspec.structs.replace(before, offset={**before.offset, **texts})
    try:
        same = decode(after, Setup) == wanted
    except TomlError:
        same = False
    if not same:
        raise CommandError(
            f"The [offset] table of {path} is written in a way that is not changed here; "
            "put the lines above into it yourself."
        )
    try:
        replace_file(path, after.encode())
    except OSError as error:
        raise NotAvailableError(f"The set-up {path} cannot be written: {error.strerror}.") from None
