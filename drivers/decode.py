r"""From one line of text to values, or to one named fault. No port, clock, loop or log.

What can be caught depends on the profile. With a checksum a damaged line is refused (a CRC-16 misses one
random damage in 65 536, a NMEA exclusive-or one in 256). Without one, a line that no longer fits the whole
form is refused, but a digit lost or changed inside a number cannot be told; such readings are marked
UNVERIFIED, and only the valid range stands between them and a wrong value.
"""

from __future__ import annotations

import re
from typing import NamedTuple, Protocol

from analysis.measure import Quality
from drivers.base import ProfileError
from drivers.line_forms import CHECKSUMS, Fault, cutter, number, xor8, xor8_payload
from drivers.profile import Profile

__all__ = ["NOTHING", "Decoded", "Decoder", "Fault", "LineDecoder", "Value", "number", "xor8", "xor8_payload"]


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
_PRINTABLE = re.compile(rb"[\x20-\x7e\t]*+")


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
        self._checksum = CHECKSUMS[line.checksum]
        self._flag = Quality.OK if line.checksum != "none" else Quality.UNVERIFIED
        self._skip = line.skip.encode("ascii", "replace")
        self._time, self._time_factor = line.time, {"s": 1.0, "ms": 1e-3}[line.time_unit]
        self._channels = tuple(
            (part.name, part.source_field, part.optional, part.conversion()) for part in profile.channel
        )
        fields = [part.source_field for part in profile.channel] + ([line.time] if line.time else [])
        self._cut = cutter(line, tuple(fields))

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
