"""All readings of a session by channel, then by time, however many there are: in runs, merged at the end.

Some hundred thousand readings at a time are sorted in memory and put into a scratch file, a run after the
other, small as an archive is. In the end each channel's pieces of all runs are joined. So memory is bounded,
and parts can be taken in as they are finished, long before the last one is there.
"""

from __future__ import annotations

import contextlib
import errno
import os
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.parquet

from analysis.rows import Rows
from logger.readings_reader import ReadingsReader

GROUP_ROWS = 65_536
RUN_ROWS = 1 << 17
"""Readings that are sorted in memory at a time; with copies some 13 MB."""
_SCHEMA = pa.schema(
    [
        pa.field("t_us", pa.int64(), False),
        pa.field("value", pa.float64(), False),
        pa.field("quality", pa.uint16(), False),
    ]
)


class Piece(NamedTuple):
    """Readings of one channel; all three arrays have the same length."""

    t_us: npt.NDArray[np.int64]
    value: npt.NDArray[np.float64]
    quality: npt.NDArray[np.uint16]

    @classmethod
    def joined(cls, pieces: list[Piece]) -> Piece:
        """Put pieces behind each other."""
        if len(pieces) == 1:
            return pieces[0]
        return cls(*(np.concatenate(column) for column in zip(*pieces, strict=True)))

    def part(self, which: slice | npt.NDArray[np.intp]) -> Piece:
        """Give some of the readings."""
        return Piece(self.t_us[which], self.value[which], self.quality[which])


@dataclass
class _Pile:
    """Where the pieces of one channel lie: row groups of the scratch file, and what is still in memory."""

    groups: list[int] = field(default_factory=list)
    last: list[Piece] = field(default_factory=list)
    newest_us: int = -(2**63)
    ordered: bool = True


class SortedReadings:
    """Takes in parts in their order; then gives each channel sorted by time, equal times in their order.

    Parameters
    ----------
    units
        Unit of each channel that is known.
    scratch
        A file of this name is made where the readings do not fit one run; :meth:`close` removes it.
    """

    def __init__(self, units: Mapping[str, str], scratch: Path, run_rows: int = RUN_ROWS) -> None:
        self._scratch = scratch
        self._run_rows = run_rows
        self._reader = ReadingsReader(units)
        self._piles: dict[str, _Pile] = {}
        self._held: list[Rows] = []
        self._count = self._groups = 0
        self._writer: pyarrow.parquet.ParquetWriter | None = None
        self._file: pyarrow.parquet.ParquetFile | None = None

    @property
    def units(self) -> Mapping[str, str]:
        """Unit of each channel that has readings or was known."""
        return self._reader.units

    def take(self, part: Path, between: Callable[[], None] = lambda: None) -> None:
        """Take in a part; ``between`` is called now and then, so that the disk and others get their turn."""
        for rows in self._reader.read(part):
            self._held.append(rows)
            self._count += len(rows)
            if self._count >= self._run_rows:
                self._store(self._run())
            between()

    def close(self) -> None:
        """Remove the scratch file; what was taken in is gone."""
        if self._file is not None:
            self._file.close()
        if self._writer is not None:
            with contextlib.suppress(OSError, pa.ArrowException):  # a full disk refuses its footer
                self._writer.close()
        self._writer = self._file = None
        self._scratch.unlink(missing_ok=True)

    def channels(self) -> list[str]:
        """List the channels that have readings; after it nothing more is taken in."""
        for name, piece in self._run():
            self._pile(name, piece).last.append(piece)
        if self._writer is not None:
            self._writer.close()
            self._writer = None
            self._file = pyarrow.parquet.ParquetFile(self._scratch, page_checksum_verification=True)
        return [name for name in self.units if name in self._piles]

    def groups(self, channel: str) -> Iterator[Piece]:
        """Give the readings of a channel in runs of 65,536, the last one shorter."""
        pile = self._piles[channel]
        pieces = self._pieces(pile)
        if not pile.ordered:
            whole = Piece.joined(list(pieces))
            pieces = iter([whole.part(np.argsort(whole.t_us, kind="stable"))])
        held: list[Piece] = []
        count = 0
        for piece in pieces:
            held.append(piece)
            count += len(piece.t_us)
            if count >= GROUP_ROWS:
                joined = Piece.joined(held)
                full = count - count % GROUP_ROWS
                for start in range(0, full, GROUP_ROWS):
                    yield joined.part(slice(start, start + GROUP_ROWS))
                held, count = [joined.part(slice(full, None))], count - full
        if count:
            yield Piece.joined(held)

    def _run(self) -> list[tuple[str, Piece]]:
        """Sort what is held by channel, and let go of it."""
        held, self._held, self._count = self._held, [], 0
        if not held:
            return []
        channel = np.concatenate([rows.channel for rows in held])
        whole = Piece(
            np.concatenate([rows.t_us for rows in held]),
            np.concatenate([rows.value for rows in held]),
            np.concatenate([rows.quality for rows in held]),
        ).part(np.argsort(channel, kind="stable"))
        ends = np.cumsum(np.bincount(channel, minlength=len(self._reader.ids))).tolist()
        return [
            (name, whole.part(slice(start, end)))
            for name, start, end in zip(self._reader.ids, [0, *ends[:-1]], ends, strict=True)
            if end > start
        ]

    def _store(self, run: list[tuple[str, Piece]]) -> None:
        """Write a sorted run to the scratch file."""
        if self._writer is None:
            self._writer = pyarrow.parquet.ParquetWriter(
                self._scratch, _SCHEMA, compression="zstd", compression_level=1, write_statistics=False,
                use_dictionary=["value", "quality"], column_encoding={"t_us": "DELTA_BINARY_PACKED"},
                dictionary_pagesize_limit=256 << 10, write_page_checksum=True,
            )  # fmt: skip
        for name, piece in run:
            pile = self._pile(name, piece)
            for start in range(0, len(piece.t_us), GROUP_ROWS):
                part = piece.part(slice(start, start + GROUP_ROWS))
                self._writer.write_table(pa.Table.from_arrays([*map(pa.array, part)], schema=_SCHEMA))
                pile.groups.append(self._groups)
                self._groups += 1

    def _pile(self, name: str, piece: Piece) -> _Pile:
        """Give the channel's pile, told of a piece that comes onto it."""
        pile = self._piles.setdefault(name, _Pile())
        pile.ordered &= bool(piece.t_us[0] >= pile.newest_us) and not bool((np.diff(piece.t_us) < 0).any())
        pile.newest_us = max(pile.newest_us, int(piece.t_us.max()))
        return pile

    def _pieces(self, pile: _Pile) -> Iterator[Piece]:
        for number in pile.groups:
            assert self._file is not None
            try:
                table = self._file.read_row_group(number, use_threads=False)
            except pa.ArrowException as error:
                raise OSError(errno.EIO, f"{os.strerror(errno.EIO)} ({error})", str(self._scratch)) from None
            yield Piece(*(column.to_numpy() for column in table.columns))
        yield from pile.last
