"""readings.csv: how a reading is written as a line and read back, to the bit."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from analysis.measure import Quality
from analysis.rows import Rows
from logger.csv_line import END, field, has_control, split_line
from logger.moments import elapsed_text, parse_elapsed
from logger.session_errors import SessionError

READING_COLUMNS = ("elapsed_s", "channel", "value", "unit", "quality")
READINGS_HEADER = (",".join(READING_COLUMNS) + END).encode()
_HEADERS = (READINGS_HEADER, READINGS_HEADER.rstrip() + b"\n")
QUALITY_BITS = sum(flag.value for flag in Quality)


def part_name(number: int) -> str:
    """Name the file of the n-th part; the first one is plain.

    Examples
    --------
    >>> part_name(1), part_name(2)
    ('readings.csv', 'readings-0002.csv')
    """
    return "readings.csv" if number == 1 else f"readings-{number:04d}.csv"


def parts_in(folder: Path) -> list[Path]:
    """List the parts that are in a session's folder, in the order of writing."""
    first = folder / part_name(1)
    later = [path for path in folder.glob("readings-*.csv") if path.stem.removeprefix("readings-").isdigit()]
    return ([first] if first.exists() else []) + sorted(later, key=lambda path: int(path.stem[9:]))


def header_length(beginning: bytes) -> int:
    """Say how long the header at the beginning of a part is [byte]; 0 if there is none.

    A plain line feed behind it is accepted: some editors turn line ends.
    """
    return next((len(header) for header in _HEADERS if beginning.startswith(header)), 0)


def check_channel_id(name: str) -> None:
    """Refuse a channel id that a line cannot carry.

    Raises
    ------
    SessionError
        If it is empty or holds line breaks or other control characters.
    """
    if not name or has_control(name) or name != name.encode("utf-8", "replace").decode("utf-8"):
        raise SessionError(f"{name!r} cannot be a channel's name; give it one line of plain text")


class _Tails(dict[int, str]):
    """Unit, quality words and line end for each pair of channel and quality; made when first asked for."""

    def __init__(self, units: Sequence[str]) -> None:
        self._units = units

    def __missing__(self, pair: int) -> str:
        words = Quality(pair & QUALITY_BITS).text()
        tail = self[pair] = f",{field(self._units[pair >> 16])},{words}{END}"
        return tail


class LineWriter:
    """Turns batches of readings into lines; knows each channel's unit."""

    def __init__(self, units: Mapping[str, str] | None = None) -> None:
        self._units = dict(units or {})
        self._ids: tuple[str, ...] = ()
        self._middles: list[str] = []
        self._tails = _Tails(())

    def set_unit(self, channel: str, unit: str) -> None:
        """State the unit in which a channel indicates."""
        check_channel_id(channel)
        self._units[channel] = unit
        self._index(self._ids)

    def encode(self, rows: Rows) -> bytes:
        """Write readings as lines, in their order.

        Raises
        ------
        SessionError
            If a channel's id cannot be written.
        """
        if rows.ids != self._ids:
            self._index(rows.ids)
        if rows.t_us.min(initial=0) < 0:
            moments = [elapsed_text(t) for t in rows.t_us.tolist()]
        else:
            moments = [f"{t[:-6]}.{t[-6:]}" for t in [f"{t:07d}" for t in rows.t_us.tolist()]]
        values = [repr(value) for value in rows.value.tolist()]
        for place in np.flatnonzero(~np.isfinite(rows.value)).tolist():
            values[place] = ""
        channels = rows.channel.tolist()
        pairs = (rows.channel.astype(np.int64) << 16 | rows.quality).tolist()
        middles, tails = self._middles, self._tails
        return "".join(
            [
                f"{moment}{middles[channel]}{value}{tails[pair]}"
                for moment, channel, value, pair in zip(moments, channels, values, pairs, strict=True)
            ]
        ).encode()

    def _index(self, ids: tuple[str, ...]) -> None:
        for name in ids:
            check_channel_id(name)
        self._middles = [f",{field(name)}," for name in ids]
        self._tails = _Tails([self._units.get(name, "") for name in ids])
        self._ids = ids


class LineReader:
    """Reads lines one at a time, and says of each what is wrong with it."""

    def __init__(self) -> None:
        self._qualities: dict[str, int] = {}

    def parse(self, line: bytes) -> tuple[int, str, float, str, int]:
        """Read one whole line: microseconds, channel, value (NaN if empty), unit, quality.

        Raises
        ------
        ValueError
            With what is wrong.
        """
        elapsed, channel, value, unit, words = split_line(line, len(READING_COLUMNS))
        t_us = parse_elapsed(elapsed)
        if not channel:
            raise ValueError("the channel is missing")
        return t_us, channel, _value(value), unit, self.quality(words)

    def quality(self, words: str) -> int:
        """Read quality words exactly as they are written.

        Raises
        ------
        ValueError
            If they are anything else.
        """
        number = self._qualities.get(words)
        if number is None:
            quality = Quality.parse(words)
            if quality.text() != words:
                raise ValueError(f"'{words}' are not quality words as they are written")
            number = self._qualities[words] = quality.value
        return number


def _value(text: str) -> float:
    if not text:
        return math.nan
    try:
        value = math.inf if "_" in text else float(text)
    except ValueError:
        value = math.inf
    if not math.isfinite(value):
        raise ValueError(f"'{text[:40]}' is not a number")
    return value
