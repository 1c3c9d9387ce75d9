"""The ways in which a line of text is guarded and cut into fields. No port, clock, loop or log."""

from __future__ import annotations

import binascii
import math
import re
from collections.abc import Callable
from enum import StrEnum

import msgspec

from drivers.pattern import LINE_LIMIT
from drivers.profile_sections import Line


class Fault(StrEnum):
    """Why a line was refused."""

    TRUNCATED = "truncated"
    """Its end, or a field that must be there, is missing."""
    JOINED = "joined"
    """Two lines ran together: the separator was lost."""
    NON_ASCII = "non_ascii"
    CHECKSUM = "checksum"
    NO_MATCH = "no_match"
    """Readable text that is not of the profile's form."""
    OVER_LONG = "over_long"
    OVERRUN = "overrun"
    """Bytes that nobody collected in time."""
    LEAD_IN = "lead_in"
    """Before the first good line after opening: the rest of a cut line, or a board's greeting. No fault."""


Fields = dict[str, str | float | None]
Cut = Callable[[str], "Fields | Fault"]
_OF_NUMBERS = frozenset("0123456789+-.eE")
_LONGEST_NUMBER = 32


def number(text: str) -> float | None:
    """Read a plain decimal number, or None; no ``nan``, ``inf``, underscores or foreign digits.

    Examples
    --------
    >>> number("-2.41"), number("nan"), number("1_000")
    (-2.41, None, None)
    """
    if not _OF_NUMBERS.issuperset(text) or len(text) > _LONGEST_NUMBER:
        return None
    try:
        read = float(text)
    except ValueError:
        return None
    return read if math.isfinite(read) else None


def _no_checksum(line: bytes) -> bytes | Fault:
    return line


_CRC_TAIL = re.compile(rb"[0-9A-Fa-f]{4}")
_XOR_TAIL = re.compile(rb"[0-9A-Fa-f]{2}")


def _crc16(line: bytes) -> bytes | Fault:
    """Check ``payload*HHHH``: CRC-16 with polynomial 1021h and initial value FFFFh."""
    payload, star, tail = line.partition(b"*")
    if tail == b"%04X" % binascii.crc_hqx(payload, 0xFFFF):
        return payload
    if not star or len(tail) < 4 or not _CRC_TAIL.fullmatch(tail[:4]):
        return Fault.CHECKSUM if star and len(tail) >= 4 else Fault.TRUNCATED
    if len(tail) > 4:
        return Fault.JOINED if b"*" in tail else Fault.CHECKSUM
    return payload if binascii.crc_hqx(payload, 0xFFFF) == int(tail, 16) else Fault.CHECKSUM


def xor8(payload: bytes) -> int:
    """Exclusive-or of all bytes, the checksum of NMEA 0183.

    Examples
    --------
    >>> f"{xor8(b'GPGLL,5057.970,N,00146.110,E,142451,A'):02X}"
    '27'
    """
    total = 0
    for byte in payload:
        total ^= byte
    return total


def xor8_payload(line: bytes) -> bytes | Fault:
    """Check ``$payload*HH`` and give the payload, or the fault."""
    payload, star, tail = line.partition(b"*")
    if not star or len(tail) < 2:
        return Fault.TRUNCATED
    if len(tail) > 2:
        return Fault.JOINED if b"*" in tail else Fault.CHECKSUM
    if line[:1] not in (b"$", b"!") or not _XOR_TAIL.fullmatch(tail):
        return Fault.NO_MATCH if line[:1] not in (b"$", b"!") else Fault.CHECKSUM
    body = payload[1:]
    return body if xor8(body) == int(tail, 16) else Fault.CHECKSUM


CHECKSUMS: dict[str, Callable[[bytes], bytes | Fault]] = {
    "none": _no_checksum,
    "crc16": _crc16,
    "xor8": xor8_payload,
}


def cutter(line: Line, paths: tuple[str, ...]) -> Cut:
    """Give the function that cuts a line of this form; ``paths`` are the fields wanted of JSON."""
    if line.pattern:
        return _by_pattern(line.pattern)
    if line.pairs:
        return _by_pairs(line.separator, line.assign)
    if line.columns:
        return _by_columns(line.columns, line.separator)
    return _by_json(paths)


def _by_pattern(pattern: str) -> Cut:
    compiled = re.compile(pattern, re.ASCII)

    def cut(text: str) -> Fields | Fault:
        if len(text) > LINE_LIMIT:
            return Fault.OVER_LONG
        match = compiled.fullmatch(text)
        if match is None:
            begun = compiled.match(text)
            joined = (
                begun is not None and begun.end() > 0 and compiled.fullmatch(text, begun.end()) is not None
            )
            return Fault.JOINED if joined else Fault.NO_MATCH
        return dict(match.groupdict())

    return cut


def _by_pairs(separator: str, assign: str) -> Cut:
    def cut(text: str) -> Fields | Fault:
        fields: Fields = {}
        spaced = separator != " " and " " in text
        for pair in text.split(separator):
            name, found, value = pair.partition(assign)
            if not found:
                return Fault.NO_MATCH
            if spaced:
                name, value = name.strip(), value.strip()
            if name in fields:
                return Fault.JOINED
            fields[name] = value
        return fields

    return cut


def _by_columns(columns: tuple[str, ...], separator: str) -> Cut:
    def cut(text: str) -> Fields | Fault:
        parts = text.split(separator)
        if len(parts) != len(columns):
            return Fault.TRUNCATED if len(parts) < len(columns) else Fault.JOINED
        return {name: part.strip() for name, part in zip(columns, parts, strict=True) if name != "-"}

    return cut


def _by_json(paths: tuple[str, ...]) -> Cut:
    decoder = msgspec.json.Decoder()
    steps = tuple((path, tuple(path.split("."))) for path in paths)

    def cut(text: str) -> Fields | Fault:
        try:
            found = decoder.decode(text)
        except (msgspec.DecodeError, RecursionError):
            if not text.rstrip().endswith("}"):
                return Fault.TRUNCATED
            return Fault.JOINED if re.search(r"\}\s*\{", text) else Fault.NO_MATCH
        if not isinstance(found, dict):
            return Fault.NO_MATCH
        fields: Fields = {}
        for path, keys in steps:
            value = _at(found, keys)
            if value is None or isinstance(value, str):
                fields[path] = value
            elif isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e99:
                fields[path] = float(value)
            else:
                return Fault.NO_MATCH
        return fields

    return cut


def _at(found: object, keys: tuple[str, ...]) -> object:
    for key in keys:
        if isinstance(found, dict):
            found = found.get(key)
        elif isinstance(found, list) and key.isdigit() and int(key) < len(found):
            found = found[int(key)]
        else:
            return None
    return found
