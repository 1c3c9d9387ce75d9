"""One line of a session's CSV files, RFC 4180: CRLF at the end, quotes only where they are needed.

A row is one line: line breaks and other control characters do not occur in fields, so a damaged place never
takes its neighbours with it.
"""

from __future__ import annotations

import csv
import re

END = "\r\n"
_NEEDS_QUOTES = re.compile(r'[",]')
_CONTROL = re.compile(r"[\x00-\x1f\x7f\x85\u2028\u2029]+")


def field(text: str) -> str:
    """Quote a field where a comma or a quote makes it necessary.

    Examples
    --------
    >>> field('the "old" pump, left'), field("pump")
    ('"the ""old"" pump, left"', 'pump')
    """
    return f'"{text.replace(chr(34), chr(34) * 2)}"' if _NEEDS_QUOTES.search(text) else text


def one_line(text: str) -> str:
    r"""Put a person's text on one line: each run of line breaks and control characters becomes a blank.

    Examples
    --------
    >>> one_line("pump\nnoisy")
    'pump noisy'
    """
    return _CONTROL.sub(" ", text.encode("utf-8", "replace").decode("utf-8"))


def has_control(text: str) -> bool:
    """Whether a text holds characters that a line cannot carry."""
    return _CONTROL.search(text) is not None


def split_line(line: bytes, count: int) -> list[str]:
    """Take a line apart into its fields; the line terminator may be there or not.

    Raises
    ------
    ValueError
        With what is wrong: not text, control characters, wrong number of fields.
    """
    body = line.removesuffix(b"\n").removesuffix(b"\r")
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError:
        raise ValueError("these bytes are not UTF-8 text") from None
    if has_control(text):
        raise ValueError("NUL or other control characters")
    if '"' in text:
        try:
            fields = next(csv.reader([text], strict=True))
        except (csv.Error, StopIteration):
            raise ValueError("the quotes do not match") from None
    else:
        fields = text.split(",")
    if len(fields) != count:
        raise ValueError(f"{len(fields)} fields instead of {count}")
    return fields
