"""readings.parquet: the same readings, typed and small, sorted by channel then time.

The CSV journal stays the truth; the archive is made from it, and can be made again. Memory is bounded: the
readings are sorted in runs and then written a row group at a time (:mod:`logger.sorted_readings`).
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import BinaryIO

import numpy as np
import pyarrow as pa
import pyarrow.parquet

from analysis.measure import Quality
from analysis.rows import Rows
from logger.append_file import sync_folder
from logger.descriptor import DESCRIPTOR, Descriptor, Part, decode_descriptor
from logger.readings_format import QUALITY_BITS, parts_in
from logger.session_errors import DamagedSessionError, NotASessionError
from logger.sorted_readings import GROUP_ROWS, Piece, SortedReadings

ARCHIVE = "readings.parquet"
SCRATCH = f".{ARCHIVE}.spill"
"""Readings sorted in runs while an archive is made; of no use afterwards, and thrown away if it is left."""


def write_archive(folder: Path, descriptor: Descriptor, readings: SortedReadings | None = None) -> None:
    """Make readings.parquet from the journal; at every moment there is the old one, or the new one, whole.

    Parameters
    ----------
    folder
        The session.
    descriptor
        Goes into the archive.
    readings
        All parts, taken in already; they are taken in now where it is None.

    Raises
    ------
    OSError
        If the disk refuses; nothing half-written stays.
    """
    fresh = folder / f".{ARCHIVE}.new"
    own = SortedReadings(units_of(descriptor), folder / SCRATCH) if readings is None else None
    try:
        if own is not None:
            for part in parts_in(folder):
                own.take(part)
            readings = own
        assert readings is not None
        with fresh.open("wb") as file:
            _write(file, readings, descriptor)
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(folder / ARCHIVE)
        sync_folder(folder)
    finally:
        with contextlib.suppress(OSError):
            fresh.unlink(missing_ok=True)
            if own is not None:
                own.close()


def units_of(descriptor: Descriptor) -> dict[str, str]:
    """Give the unit of each channel that is described."""
    return {channel.id: channel.unit for channel in descriptor.channels}


def _schema(units: Mapping[str, str], descriptor: Descriptor) -> pa.Schema:
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
    channels = readings.channels()
    units = units_of(descriptor)
    units |= {name: unit for name, unit in readings.units.items() if name not in units}
    schema = _schema(units, descriptor)
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
        for channel in sorted(channels, key=list(units).index):
            for group in readings.groups(channel):
                writer.write_table(_table(group, channel, units[channel], schema), row_group_size=GROUP_ROWS)


def _constant(text: str, count: int) -> pa.DictionaryArray:
    return pa.DictionaryArray.from_arrays(np.zeros(count, np.int32), [text])


def _table(group: Piece, channel: str, unit: str, schema: pa.Schema) -> pa.Table:
    count = len(group.t_us)
    flags, place = np.zeros(1, np.uint16), np.zeros(count, np.int32)
    if group.quality.any():  # nearly always all are in order
        flags, place = np.unique(group.quality & QUALITY_BITS, return_inverse=True)
    return pa.Table.from_arrays(
        [
            pa.array(group.t_us),
            _constant(channel, count),
            pa.array(group.value, mask=np.isnan(group.value)),
            _constant(unit, count),
            pa.DictionaryArray.from_arrays(
                place.astype(np.int32), [Quality(flag).text() for flag in flags.tolist()]
            ),
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


def described_in(path: Path) -> Descriptor | None:
    """Give the descriptor that an archive was made with; None if it is damaged or does not say."""
    try:
        return decode_descriptor(pyarrow.parquet.read_schema(path).metadata[DESCRIPTOR.encode()], path)
    except (pa.ArrowException, OSError, KeyError, TypeError, DamagedSessionError):
        return None


def made_from(path: Path) -> tuple[Part, ...] | None:
    """Say which files of readings an archive was made from; None if it is damaged or does not say."""
    described = described_in(path)
    return None if described is None else readings_of(described)


def units_in(path: Path) -> dict[str, str]:
    """Give each channel's unit as a whole archive states it."""
    prefix = b"unit of "
    found = pyarrow.parquet.read_schema(path).metadata.items()
    return {key[len(prefix) :].decode(): unit.decode() for key, unit in found if key.startswith(prefix)}


def readings_of(descriptor: Descriptor) -> tuple[Part, ...]:
    """Give the finished files of readings; events may still be added to a closed session."""
    return tuple(part for part in descriptor.parts if part.path.startswith("readings"))


def archive_fault(folder: Path, descriptor: Descriptor) -> str | None:
    """Say what is wrong with a session's archive without comparing each reading; None if nothing is."""
    try:
        count = sum(len(rows) for rows in read_archive(folder / ARCHIVE))
    except (DamagedSessionError, NotASessionError) as error:
        return error.sentence
    if made_from(folder / ARCHIVE) != readings_of(descriptor) or count != descriptor.rows:
        return "it was made from other readings than those beside it; run recover to make it again"
    return None
