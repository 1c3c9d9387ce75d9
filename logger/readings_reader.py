"""Reading readings.csv back in bounded batches: quickly where all is plain, line by line where it is not.

Both ways give the same result. A line counts only when it is whole: terminator, five fields, each readable.
A number cut in its middle still reads as a number, so a line without its terminator is never used.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.csv

from analysis.measure import Quality
from analysis.rows import Rows
from logger.csv_line import has_control
from logger.readings_format import READING_COLUMNS, READINGS_HEADER, LineReader, header_length
from logger.session_errors import Fault

BLOCK_BYTES = 2 << 20
LONGEST_LINE = 1 << 16  # a longer one is no row; it is not collected in memory
_DICTIONARY = pa.dictionary(pa.int32(), pa.string())
_CONVERT = pyarrow.csv.ConvertOptions(
    column_types=dict(
        zip(READING_COLUMNS, (pa.string(), _DICTIONARY, pa.float64(), _DICTIONARY, _DICTIONARY), strict=True)
    ),
    null_values=[""],
    strings_can_be_null=False,
    quoted_strings_can_be_null=False,
    check_utf8=True,
)
_READ = pyarrow.csv.ReadOptions(column_names=list(READING_COLUMNS), use_threads=False, block_size=1 << 18)
_PARSE = pyarrow.csv.ParseOptions(quote_char=False, ignore_empty_lines=False)


@dataclass(frozen=True, slots=True)
class BadLine:
    """A piece of a file that is no whole row."""

    line: int
    start: int
    """Where it begins in the file [byte]."""
    content: bytes
    reason: str

    def fault(self, file: str) -> Fault:
        """Say it as a fault of a file."""
        return Fault(file, self.line, self.reason)


class ReadingsReader:
    """Reads the parts of one session; the channels' index grows when a channel unknown before appears."""

    def __init__(
        self, units: Mapping[str, str], *, fast: bool = True, block_bytes: int = BLOCK_BYTES
    ) -> None:
        self.units = dict(units)
        """What each known channel indicates in; a row in another unit is kept as not usable."""
        self._fast = fast
        self._block_bytes = block_bytes
        self._index = {name: number for number, name in enumerate(self.units)}
        self._lines = LineReader()

    @property
    def ids(self) -> tuple[str, ...]:
        """The channels known so far."""
        return tuple(self._index)

    def read(self, path: Path, bad: Callable[[BadLine], None] | None = None) -> Iterator[Rows]:
        """Read one part, in batches of about ``block_bytes`` of text.

        Parameters
        ----------
        path
            A part, which may still be growing.
        bad
            Called with each piece that is not a whole row.
        """
        report = bad or (lambda _: None)
        with path.open("rb") as file:
            start, line, rest, endless = 0, 1, b"", False
            while more := file.read(self._block_bytes):
                block = rest + more
                if start == 0 and b"\n" in block and not endless:
                    if length := header_length(block):
                        start, line, block = length, 2, block[length:]
                    else:
                        header = READINGS_HEADER.decode().strip()
                        report(BadLine(1, 0, b"", f"the header {header} is missing"))
                if endless and b"\n" in block:
                    end = block.find(b"\n") + 1
                    report(BadLine(line, start, block[:end], "the end of a line that is no row"))
                    start, line, block, endless = start + end, line + 1, block[end:], False
                cut = block.rfind(b"\n") + 1
                whole, rest = block[:cut], block[cut:]
                if whole:
                    yield self._block(whole, start, line, report)
                    start += cut
                    line += whole.count(b"\n")
                if len(rest) > LONGEST_LINE:
                    report(BadLine(line, start, rest, f"{len(rest)} bytes without a line end"))
                    start, rest, endless = start + len(rest), b"", True
            if rest:
                report(
                    BadLine(line, start, rest, f"the last line is torn ({len(rest)} bytes without line end)")
                )

    def _block(self, block: bytes, start: int, line: int, report: Callable[[BadLine], None]) -> Rows:
        rows = self._quickly(block) if self._fast else None
        return rows if rows is not None else self._line_by_line(block, start, line, report)

    def _line_by_line(self, block: bytes, start: int, line: int, report: Callable[[BadLine], None]) -> Rows:
        moments: list[int] = []
        channels: list[int] = []
        values: list[float] = []
        qualities: list[int] = []
        for number, text in enumerate(io.BytesIO(block), line):
            try:
                t_us, channel, value, unit, quality = self._lines.parse(text)
            except ValueError as error:
                report(BadLine(number, start, text, str(error)))
            else:
                if self.units.setdefault(channel, unit) != unit:
                    value, quality = np.nan, quality | Quality.INVALID.value
                    report(BadLine(number, start, b"", self._other_unit(channel, unit)))
                moments.append(t_us)
                channels.append(self._index.setdefault(channel, len(self._index)))
                values.append(value)
                qualities.append(quality)
            start += len(text)
        return Rows(
            self.ids,
            np.array(moments, np.int64),
            np.array(channels, np.int32),
            np.array(values, np.float64),
            np.array(qualities, np.uint16),
        )

    def _other_unit(self, channel: str, unit: str) -> str:
        return (
            f"'{channel}' is in '{unit}' here but in '{self.units[channel]}' elsewhere; the value is not used"
        )

    def _quickly(self, block: bytes) -> Rows | None:
        """Read a block in columns; None where anything is not as the writer writes it."""
        octets = np.frombuffer(block, np.uint8)
        ends = np.flatnonzero(octets == ord("\n"))
        returns = np.count_nonzero(octets == ord("\r"))
        if returns and (returns != len(ends) or not (octets[ends - 1] == ord("\r")).all()):
            return None
        if b'"' in block or np.count_nonzero(octets < 32) != returns + len(ends):
            return None
        try:
            table = pyarrow.csv.read_csv(pa.BufferReader(block), _READ, _PARSE, _CONVERT).combine_chunks()
        except (pa.ArrowInvalid, pa.ArrowKeyError):
            return None
        elapsed, channel, value, unit, quality = (
            column.chunk(0) if isinstance(column, pa.ChunkedArray) else column for column in table.columns
        )
        moments = _microseconds(elapsed)
        numbers = value.to_numpy(zero_copy_only=False)
        if moments is None or np.count_nonzero(~np.isfinite(numbers)) != value.null_count:
            return None
        try:
            flags = [self._lines.quality(words) for words in quality.dictionary.to_pylist()]
        except ValueError:
            return None
        names, units = channel.dictionary.to_pylist(), unit.dictionary.to_pylist()
        if any(not name or has_control(name) for name in names) or any(has_control(name) for name in units):
            return None
        of_name, of_unit = channel.indices.to_numpy(), unit.indices.to_numpy()
        pairs = np.unique(of_name.astype(np.int64) * len(units) + of_unit).tolist()
        stated = [(names[pair // len(units)], units[pair % len(units)]) for pair in pairs]
        known = dict(self.units)
        if any(known.setdefault(name, said) != said for name, said in stated):
            return None
        for name in names:  # pyarrow lists them in the order of appearance
            self._index.setdefault(name, len(self._index))
            self.units[name] = known[name]
        return Rows(
            self.ids,
            moments,
            np.array([self._index[name] for name in names], np.int32)[of_name],
            np.where(np.isnan(numbers), np.nan, numbers),
            np.array(flags, np.uint16)[quality.indices.to_numpy()],
        )


def _microseconds(elapsed: pa.StringArray) -> npt.NDArray[np.int64] | None:
    """Turn texts like ``12.000001`` into integers, without a float between; None where one is different."""
    _, where, content = elapsed.buffers()
    ends = np.frombuffer(where, np.int32, len(elapsed) + 1, offset=4 * elapsed.offset)
    text = np.frombuffer(content, np.uint8)[ends[0] : ends[-1]]
    ends = ends - ends[0]
    digit = (text - ord("0")) < 10
    lengths = np.diff(ends)
    if lengths.min(initial=8) < 8 or lengths.max(initial=8) > 19:
        return None
    if np.count_nonzero(~digit) != len(elapsed) or not (text[ends[1:] - 7] == ord(".")).all():
        return None
    without_points = pa.StringArray.from_buffers(
        len(elapsed),
        pa.py_buffer((ends - np.arange(len(ends), dtype=np.int32)).astype(np.int32).tobytes()),
        pa.py_buffer(text[digit].tobytes()),
    )
    moments: npt.NDArray[np.int64] = without_points.cast(pa.int64()).to_numpy()
    return moments
