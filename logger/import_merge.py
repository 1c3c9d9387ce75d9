"""Several foreign files as one stream of rows in the order of time, with bounded memory."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.frame import GRACE_US, STEP_US
from analysis.measure import Quality
from analysis.rows import Rows
from logger.import_source import Batch

_NEVER = 2**62


@dataclass(slots=True)
class _Stream:
    """What one file has given and is not yet passed on."""

    batches: Iterator[Batch]
    index: npt.NDArray[np.int32]
    """Its columns as places in the common list of channels."""
    held: Batch | None = None
    newest_us: int = -_NEVER
    """Newest moment passed on: a later row behind it stays where the file has it."""

    def pull(self) -> None:
        if self.held is None:
            self.held = next(self.batches, None)


def merged(
    sources: Sequence[tuple[Iterator[Batch], Sequence[str]]], ids: tuple[str, ...]
) -> Iterator[tuple[Rows, int]]:
    """Merge files by time; rows of one file keep their order, even where its time goes backwards.

    Parameters
    ----------
    sources
        The batches of each file, and its channels.
    ids
        All channels.

    Yields
    ------
    (Rows, int)
        With moments as the files state them, and how many rows of the files they are.
    """
    place = {name: number for number, name in enumerate(ids)}
    streams = [
        _Stream(batches, np.array([place[name] for name in names], np.int32)) for batches, names in sources
    ]
    while True:
        for stream in streams:
            stream.pull()
        streams = [stream for stream in streams if stream.held is not None]
        if not streams:
            return
        # What the file that has got least far has passed can no longer be preceded by anything.
        horizon = min(_keys(stream)[-1] for stream in streams)
        parts, keys, count = [], [], 0
        for stream in streams:
            rows, key, taken = _upto(stream, int(horizon), ids)
            parts.append(rows)
            keys.append(key)
            count += taken
        rows = Rows.concatenate(parts)
        if len(parts) > 1:
            rows = rows.take(np.argsort(np.concatenate(keys), kind="stable"))
        yield rows, count


def _keys(stream: _Stream) -> npt.NDArray[np.int64]:
    """Order of the rows: their time, or the newest one before them where they go backwards."""
    assert stream.held is not None, "only streams that hold rows are asked"
    return np.maximum(np.maximum.accumulate(stream.held.t_us), stream.newest_us)


def _upto(stream: _Stream, horizon: int, ids: tuple[str, ...]) -> tuple[Rows, npt.NDArray[np.int64], int]:
    """Take the rows up to a moment out of a stream."""
    batch, key = stream.held, _keys(stream)
    assert batch is not None, "only streams that hold rows are asked"
    cut = int(np.searchsorted(key, horizon, side="right"))
    if cut:
        stream.newest_us = int(key[cut - 1])
    rest = slice(cut, None)
    stream.held = (
        Batch(batch.t_us[rest], batch.value[rest], batch.quality[rest], batch.present[rest])
        if cut < len(batch.t_us)
        else None
    )
    where, column = np.nonzero(batch.present[:cut])
    rows = Rows(
        ids,
        batch.t_us[where],
        stream.index[column] if len(stream.index) else np.zeros(0, np.int32),
        batch.value[where, column],
        batch.quality[where, column],
    )
    return rows, key[where], cut


class Lateness:
    """Flags readings whose row was closed when they came, as a recording would have."""

    def __init__(self) -> None:
        self._newest_us = -_NEVER
        self.late = 0
        self.backwards = 0
        """How often time stepped back."""
        self.first_us: int | None = None
        """The first late moment."""

    def mark(self, rows: Rows) -> Rows:
        """Give the readings with the late ones flagged."""
        if not len(rows):
            return rows
        t = rows.t_us
        newest = np.maximum.accumulate(np.concatenate([[self._newest_us], t[:-1]]))
        closed = (newest - GRACE_US) // STEP_US * STEP_US
        late = ((t <= closed) & (closed >= 0)) | (t < 0)
        before = np.concatenate([[self._newest_us], t[:-1]])
        self.backwards += int(np.count_nonzero(t < before))
        if late.any():
            self.late += int(np.count_nonzero(late))
            if self.first_us is None:
                self.first_us = int(t[late][0])
        self._newest_us = max(self._newest_us, int(t.max()))
        quality = np.where(late, rows.quality | Quality.LATE.value, rows.quality).astype(np.uint16)
        return Rows(rows.ids, t, rows.channel, rows.value, quality)
