"""readings.parquet: the same readings, typed and small, sorted by channel then time.

The CSV journal stays the truth; the archive is made from it, and can be made again. Memory is bounded: the
readings are spilled once to a file beside, by channel, and then written a row group at a time.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.parquet

from analysis.measure import Quality
from analysis.rows import Rows
from logger.append_file import sync_folder
from logger.descriptor import DESCRIPTOR, Descriptor, Part, decode_descriptor
from logger.readings_format import QUALITY_BITS, parts_in
from logger.readings_reader import ReadingsReader
from logger.session_errors import DamagedSessionError, NotASessionError

ARCHIVE = "readings.parquet"
GROUP_ROWS = 65_536
_SPILLED = np.dtype([("t_us", "<i8"), ("value", "<f8"), ("quality", "<u2")])
_Spilled = npt.NDArray[np.void]


@dataclass
class _Pile:
    """Where the readings of one channel lie in the spill file."""

    pieces: list[tuple[int, int]] = field(default_factory=list)
    newest_us: int = -(2**63)
    ordered: bool = True


class SortedReadings:
    """All readings of a session by channel, each channel sorted by time; equal times keep their order."""

    def __init__(self, folder: Path, units: dict[str, str], scratch: Path) -> None:
        self._scratch = scratch
        self._piles: dict[str, _Pile] = {}
        reader = ReadingsReader(units)
        with scratch.open("wb") as file:
            for part in parts_in(folder):
                for rows in reader.read(part):
                    self._spill(file, rows)
        self.units = dict(reader.units)
        """Unit of each channel that has readings or was announced."""

    def _spill(self, file: BinaryIO, rows: Rows) -> None:
        if not len(rows):
            return
        order = np.argsort(rows.channel, kind="stable")
        table = np.empty(len(rows), _SPILLED)
        table["t_us"], table["value"], table["quality"] = (
            rows.t_us[order],
            rows.value[order],
            rows.quality[order],
        )
        present, starts = np.unique(rows.channel[order], return_index=True)
        ends = [*starts[1:].tolist(), len(rows)]
        for channel, start, end in zip(present.tolist(), starts.tolist(), ends, strict=True):
            piece = table[start:end]
            pile = self._piles.setdefault(rows.ids[channel], _Pile())
            moments = piece["t_us"]
            pile.ordered &= bool(moments[0] >= pile.newest_us) and not bool((np.diff(moments) < 0).any())
            pile.newest_us = max(pile.newest_us, int(moments.max()))
            pile.pieces.append((file.tell(), len(piece)))
            file.write(piece.tobytes())

    def channels(self) -> list[str]:
        """List the channels that have readings, in the order of the session."""
        return [name for name in self.units if name in self._piles]

    def groups(self, channel: str) -> Iterator[_Spilled]:
        """Give the readings of a channel in runs of at most 65,536."""
        pile = self._piles[channel]
        pieces = self._pieces(pile)
        if not pile.ordered:
            whole = np.concatenate(list(pieces))
            pieces = iter([whole[np.argsort(whole["t_us"], kind="stable")]])
        held: list[_Spilled] = []
        count = 0
        for piece in pieces:
            held.append(piece)
            count += len(piece)
            if count >= GROUP_ROWS:
                joined = np.concatenate(held)
                full = count - count % GROUP_ROWS
                for start in range(0, full, GROUP_ROWS):
                    yield joined[start : start + GROUP_ROWS]
                held, count = [joined[full:]], count - full
        if count:
            yield np.concatenate(held)

    def _pieces(self, pile: _Pile) -> Iterator[_Spilled]:
        with self._scratch.open("rb") as file:
            for offset, count in pile.pieces:
                file.seek(offset)
                yield np.fromfile(file, _SPILLED, count)


def write_archive(folder: Path, descriptor: Descriptor) -> None:
    """Make readings.parquet from the journal; at every moment there is the old one, or the new one, whole.

    Raises
    ------
    OSError
        If the disk refuses; nothing half-written stays.
    """
    fresh, scratch = folder / f".{ARCHIVE}.new", folder / f".{ARCHIVE}.spill"
    try:
        readings = SortedReadings(
            folder, {channel.id: channel.unit for channel in descriptor.channels}, scratch
        )
        with fresh.open("wb") as file:
            _write(file, readings, descriptor)
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(folder / ARCHIVE)
        sync_folder(folder)
    finally:
        for path in (fresh, scratch):
            with contextlib.suppress(OSError):
                path.unlink(missing_ok=True)


def _schema(units: dict[str, str], descriptor: Descriptor) -> pa.Schema:
    words = pa.dictionary(pa.int32(), pa.string())
    return pa.schema(
        [
            pa.field(
                "elapsed_us", pa.int64(), False, {"unit": "us", "description": "monotonic time since t = 0"}
            ),
            pa.field("channel", words, False),
            pa.field("value", pa.float64(), True, {"description": "as indicated, in the unit of the row"}),
            pa.field("unit", words, False),
            pa.field("quality", words, False),
        ],
        metadata={
            DESCRIPTOR: descriptor.encode(),
            **{f"unit of {name}": unit for name, unit in units.items()},
        },
    )


def _write(file: BinaryIO, readings: SortedReadings, descriptor: Descriptor) -> None:
    schema = _schema(readings.units, descriptor)
    with pyarrow.parquet.ParquetWriter(
        file,
        schema,
        compression="zstd",
        compression_level=3,
        use_dictionary=["channel", "value", "unit", "quality"],
        column_encoding={"elapsed_us": "DELTA_BINARY_PACKED"},
        dictionary_pagesize_limit=256 << 10,
        write_statistics=True,
        write_page_checksum=True,
    ) as writer:
        for channel in readings.channels():
            for group in readings.groups(channel):
                writer.write_table(
                    _table(group, channel, readings.units[channel], schema), row_group_size=GROUP_ROWS
                )


def _constant(text: str, count: int) -> pa.DictionaryArray:
    return pa.DictionaryArray.from_arrays(np.zeros(count, np.int32), [text])


def _table(group: _Spilled, channel: str, unit: str, schema: pa.Schema) -> pa.Table:
    flags, place = np.unique(group["quality"], return_inverse=True)
    words = [Quality(flag & QUALITY_BITS).text() for flag in flags.tolist()]
    value = np.ascontiguousarray(group["value"])
    return pa.Table.from_arrays(
        [
            pa.array(np.ascontiguousarray(group["t_us"])),
            _constant(channel, len(group)),
            pa.array(value, mask=np.isnan(value)),
            _constant(unit, len(group)),
            pa.DictionaryArray.from_arrays(place.astype(np.int32), words),
        ],
        schema=schema,
    )


def read_archive(path: Path, channels: tuple[str, ...] | None = None) -> Iterator[Rows]:
    """Read an archive, a row group at a time: by channel, then by time.

    Parameters
    ----------
    path
        The Parquet file.
    channels
        Which ones; row groups of the others are not touched. None for all.

    Raises
    ------
    DamagedSessionError
        If the file is no whole Parquet file.
    NotASessionError
        If there is none.
    """
    if not path.exists():
        raise NotASessionError(f"{ARCHIVE} is missing; run recover on the session to make it", path.parent)
    try:
        with pyarrow.parquet.ParquetFile(path, page_checksum_verification=True) as file:
            wanted = None if channels is None else set(channels)
            for number in range(file.metadata.num_row_groups):
                statistics = file.metadata.row_group(number).column(1).statistics
                if wanted is None or statistics is None or statistics.min in wanted:
                    yield _rows(file.read_row_group(number, ["elapsed_us", "channel", "value", "quality"]))
    except (pa.ArrowException, OSError) as error:
        raise DamagedSessionError(
            f"this is no whole Parquet file ({str(error).splitlines()[0][:80]}); recover makes it again",
            path,
        ) from None


def _rows(table: pa.Table) -> Rows:
    table = table.combine_chunks()
    elapsed, channel, value, quality = (column.chunk(0) for column in table.columns)
    flags = [Quality.parse(words).value for words in quality.dictionary.to_pylist()]
    return Rows(
        tuple(channel.dictionary.to_pylist()),
        elapsed.to_numpy(),
        channel.indices.to_numpy(),
        value.to_numpy(zero_copy_only=False),
        np.array(flags, np.uint16)[quality.indices.to_numpy()],
    )


def made_from(path: Path) -> tuple[Part, ...] | None:
    """Say which files of readings an archive was made from; None if it is damaged or does not say."""
    try:
        written = pyarrow.parquet.read_schema(path).metadata[DESCRIPTOR.encode()]
        return _of_readings(decode_descriptor(written, path).parts)
    except (pa.ArrowException, OSError, KeyError, TypeError, DamagedSessionError):
        return None


def readings_of(descriptor: Descriptor) -> tuple[Part, ...]:
    """Give the finished files of readings; events may still be added to a closed session."""
    return _of_readings(descriptor.parts)


def _of_readings(parts: tuple[Part, ...]) -> tuple[Part, ...]:
    return tuple(part for part in parts if part.path.startswith("readings"))


def archive_fault(folder: Path, descriptor: Descriptor) -> str | None:
    """Say what is wrong with a session's archive without comparing each reading; None if nothing is."""
    try:
        count = sum(len(rows) for rows in read_archive(folder / ARCHIVE))
    except (DamagedSessionError, NotASessionError) as error:
        return error.sentence
    if made_from(folder / ARCHIVE) != readings_of(descriptor) or count != descriptor.rows:
        return "it was made from other readings than those beside it; run recover to make it again"
    return None
