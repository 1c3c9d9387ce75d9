r"""From one line of text to values, or to one named fault. No port, clock, loop or log.

What can be caught depends on the profile. With a checksum a damaged line is refused (a CRC-16 misses one
random damage in 65 536, a NMEA exclusive-or one in 256). Without one, a line that no longer fits the whole
form is refused, but a digit lost or changed inside a number cannot be told; such readings are marked
UNVERIFIED, and only the valid range stands between them and a wrong value.
"""

from __future__ import annotations

import binascii
import math
import re
from collections.abc import Callable
from enum import StrEnum
from typing import NamedTuple, Protocol

import msgspec

from analysis.measure import Quality
from drivers.base import ProfileError
from drivers.pattern import LINE_LIMIT
from drivers.profile import Profile
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


class Value(NamedTuple):
    """One channel's part of a line."""

    channel: str
    value: float | None
    quality: Quality


class Decoded(NamedTuple):
    """What one line gave: values, or a fault; never both."""

    values: tuple[Value, ...] = ()
    fault: Fault | None = None
    time_s: float | None = None
    """The instrument's own time, where the profile names it."""


NOTHING = Decoded()
"""A good line that has nothing for us."""
_Fields = dict[str, str | float | None]
_Cut = Callable[[str], "_Fields | Fault"]
_OF_NUMBERS = frozenset("0123456789+-.eE")
_LONGEST_NUMBER = 32
_PRINTABLE = re.compile(rb"[\x20-\x7e\t]*+")


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


class Decoder(Protocol):
    """What turns the lines of a stream into values."""

    delimiter: bytes
    has_time: bool
    """Whether lines carry the instrument's own time."""
    guarded: bool
    """Whether the beginning of a line cannot be lost unnoticed."""

    def decode(self, line: bytes) -> Decoded:
        """Decode one line without its delimiter; never raises."""
        ...


class LineDecoder:
    """Decodes the lines of one profile.

    Raises
    ------
    ProfileError
        If the profile has no ``[line]`` section.
    """

    def __init__(self, profile: Profile) -> None:
        line = profile.line
        if line is None:
            raise ProfileError(
                f"Profile {profile.name} has no [line] section; say how a line is cut into fields."
            )
        self.delimiter = line.delimiter.encode("ascii")
        self.has_time = bool(line.time)
        # The rest of a cut line can look whole where neither a checksum nor names guard its beginning.
        self.guarded = line.checksum != "none" or line.json or line.pairs
        self._checksum = _CHECKSUMS[line.checksum]
        self._flag = Quality.OK if line.checksum != "none" else Quality.UNVERIFIED
        self._skip = line.skip.encode("ascii", "replace")
        self._time, self._time_factor = line.time, {"s": 1.0, "ms": 1e-3}[line.time_unit]
        self._channels = tuple(
            (part.name, part.source_field, part.optional, part.conversion()) for part in profile.channel
        )
        self._cut = _cutter(line, profile)

    def decode(self, line: bytes) -> Decoded:
        """Decode one line without its delimiter; never raises."""
        if self._skip and line.startswith(self._skip):
            return NOTHING
        if not _PRINTABLE.fullmatch(line):
            return Decoded(fault=Fault.NON_ASCII)
        payload = self._checksum(line)
        if isinstance(payload, Fault):
            return Decoded(fault=payload)
        fields = self._cut(payload.decode("ascii"))
        if isinstance(fields, Fault):
            return Decoded(fault=fields)
        time_s = None
        if self._time:
            sent = fields.get(self._time)
            time_s = number(sent) if isinstance(sent, str) else sent
            if time_s is None:
                return Decoded(fault=Fault.TRUNCATED if sent is None else Fault.NO_MATCH)
            time_s *= self._time_factor
        values = []
        flag = self._flag
        for name, field, optional, convert in self._channels:
            sent = fields.get(field)
            if sent is None:
                if optional:
                    continue
                return Decoded(fault=Fault.TRUNCATED)
            read = number(sent) if isinstance(sent, str) else sent
            if read is not None:
                value, quality = convert(read)
                # Joining flags costs more than all the rest of a line; nearly all are good.
                values.append(Value(name, value, flag if quality is Quality.OK else quality | flag))
            elif isinstance(sent, str) and convert.is_sentinel(sent):
                values.append(Value(name, None, Quality.NOT_KNOWN | flag))
            else:
                return Decoded(fault=Fault.NO_MATCH)
        return Decoded(tuple(values), None, time_s)


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


_CHECKSUMS: dict[str, Callable[[bytes], bytes | Fault]] = {
    "none": _no_checksum,
    "crc16": _crc16,
    "xor8": xor8_payload,
}


def _cutter(line: Line, profile: Profile) -> _Cut:
    if line.pattern:
        return _by_pattern(line.pattern)
    if line.pairs:
        return _by_pairs(line.separator, line.assign)
    if line.columns:
        return _by_columns(line.columns, line.separator)
    paths = [part.source_field for part in profile.channel] + ([line.time] if line.time else [])
    return _by_json(tuple(paths))


def _by_pattern(pattern: str) -> _Cut:
    compiled = re.compile(pattern, re.ASCII)

    def cut(text: str) -> _Fields | Fault:
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


def _by_pairs(separator: str, assign: str) -> _Cut:
    def cut(text: str) -> _Fields | Fault:
        fields: _Fields = {}
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


def _by_columns(columns: tuple[str, ...], separator: str) -> _Cut:
    def cut(text: str) -> _Fields | Fault:
        parts = text.split(separator)
        if len(parts) != len(columns):
            return Fault.TRUNCATED if len(parts) < len(columns) else Fault.JOINED
        return {name: part.strip() for name, part in zip(columns, parts, strict=True) if name != "-"}

    return cut


def _by_json(paths: tuple[str, ...]) -> _Cut:
    decoder = msgspec.json.Decoder()
    steps = tuple((path, tuple(path.split("."))) for path in paths)

    def cut(text: str) -> _Fields | Fault:
        try:
            found = decoder.decode(text)
        except (msgspec.DecodeError, RecursionError):
            if not text.rstrip().endswith("}"):
                return Fault.TRUNCATED
            return Fault.JOINED if re.search(r"\}\s*\{", text) else Fault.NO_MATCH
        if not isinstance(found, dict):
            return Fault.NO_MATCH
        fields: _Fields = {}
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
