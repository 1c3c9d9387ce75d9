"""Readings in columns: how a batch of them is stored, replayed and analysed.

A moment is an integer number of microseconds since t = 0 of the session. It is quantised once, where a
reading enters the engine, so that live work, the file and a replay see the same number.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.measure import Quality, Reading

Selection = slice | npt.NDArray[np.bool_] | npt.NDArray[np.intp]


def microseconds(t_ns: int, t0_ns: int) -> int:
    """Quantise a monotonic moment to whole microseconds since t = 0, towards the past.

    Examples
    --------
    >>> microseconds(2_000_001_999, 2_000_000_000)
    1
    """
    return (t_ns - t0_ns) // 1000


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """A batch of readings in the order of arrival; all four arrays have the same length n."""

    ids: tuple[str, ...]
    """The channels that ``channel`` points into; a batch need not hold readings of each."""
    t_us: npt.NDArray[np.int64]
    """Moment since t = 0 [us]."""
    channel: npt.NDArray[np.int32]
    """Index into ``ids``."""
    value: npt.NDArray[np.float64]
    """As indicated, in the channel's unit; NaN where it is not known."""
    quality: npt.NDArray[np.uint16]
    """Flags of :class:`analysis.measure.Quality`."""

    def __post_init__(self) -> None:
        lengths = {len(self.t_us), len(self.channel), len(self.value), len(self.quality)}
        if len(lengths) != 1:
            raise ValueError(f"columns of different length: {sorted(lengths)}")
        if len(self.channel) and not (self.channel.min() >= 0 and self.channel.max() < len(self.ids)):
            raise ValueError(f"a channel index is outside the {len(self.ids)} channels")

    def __len__(self) -> int:
        return len(self.t_us)

    @classmethod
    def empty(cls, ids: Sequence[str] = ()) -> Rows:
        """Give a batch without readings."""
        return cls.of((), ids)

    @classmethod
    def of(
        cls, items: Iterable[tuple[int, str, float | None, Quality | int]], ids: Sequence[str] = ()
    ) -> Rows:
        """Build a batch from (microseconds, channel id, value, quality) items.

        A value that is None, NaN or infinite becomes NaN, and its quality then says that it is not known.

        Parameters
        ----------
        items
            Readings in the order of arrival.
        ids
            Channels to begin the index with; those met beyond them are added behind.

        Examples
        --------
        >>> rows = Rows.of([(0, "water/in", 9.5, Quality.OK), (1_000_000, "water/in", None, Quality.OK)])
        >>> rows.value.tolist(), rows.quality.tolist()
        ([9.5, nan], [0, 1])
        """
        index = {name: number for number, name in enumerate(ids)}
        moments: list[int] = []
        channels: list[int] = []
        values: list[float] = []
        qualities: list[int] = []
        for t_us, name, value, quality in items:
            number = index.get(name)
            if number is None:
                number = index[name] = len(index)
            known = value is not None and math.isfinite(value)
            moments.append(t_us)
            channels.append(number)
            values.append(float(value) if value is not None and known else math.nan)
            qualities.append(int(quality) if known else int(quality) | Quality.NOT_KNOWN.value)
        return cls(
            tuple(index),
            np.array(moments, np.int64),
            np.array(channels, np.int32),
            np.array(values, np.float64),
            np.array(qualities, np.uint16),
        )

    @classmethod
    def from_readings(cls, readings: Iterable[Reading], t0_ns: int, ids: Sequence[str] = ()) -> Rows:
        """Build a batch from readings as the drivers give them.

        Parameters
        ----------
        readings
            In the order of arrival.
        t0_ns
            Monotonic moment of t = 0 [ns].
        ids
            Channels to begin the index with.
        """
        return cls.of(
            ((microseconds(r.t_mono_ns, t0_ns), r.channel, r.value, r.quality) for r in readings), ids
        )

    @classmethod
    def concatenate(cls, batches: Sequence[Rows]) -> Rows:
        """Join batches in the given order; their channels are joined in the order of appearance."""
        if not batches:
            return cls.empty()
        ids = batches[0].ids
        for batch in batches[1:]:
            if batch.ids[: len(ids)] == ids:
                ids = batch.ids
            elif ids[: len(batch.ids)] != batch.ids:
                ids = (*ids, *(name for name in batch.ids if name not in ids))
        same = [batch.indexed_by(ids) for batch in batches]
        return cls(
            ids,
            np.concatenate([batch.t_us for batch in same]),
            np.concatenate([batch.channel for batch in same]),
            np.concatenate([batch.value for batch in same]),
            np.concatenate([batch.quality for batch in same]),
        )

    def indexed_by(self, ids: Sequence[str]) -> Rows:
        """Give the same readings with ``channel`` pointing into another order of channels.

        Raises
        ------
        ValueError
            If a channel of this batch is missing there.
        """
        wanted = tuple(ids)
        if wanted[: len(self.ids)] == self.ids:
            channel = self.channel
        else:
            place = {name: number for number, name in enumerate(wanted)}
            present = set(np.unique(self.channel).tolist())
            missing = [self.ids[number] for number in sorted(present) if self.ids[number] not in place]
            if missing:
                raise ValueError(f"channels {', '.join(missing)} are not in the given order")
            table = np.array([place.get(name, -1) for name in self.ids], np.int32)
            channel = table[self.channel] if len(table) else self.channel
        return Rows(wanted, self.t_us, channel, self.value, self.quality)

    def take(self, selection: Selection) -> Rows:
        """Give the readings of a slice, a mask or an array of positions, in that order."""
        return Rows(
            self.ids,
            self.t_us[selection],
            self.channel[selection],
            self.value[selection],
            self.quality[selection],
        )

    def only(self, channel: str) -> Rows:
        """Give the readings of one channel; none if it is not among ``ids``."""
        if channel not in self.ids:
            return self.take(slice(0, 0))
        return self.take(self.channel == self.ids.index(channel))

    def equals(self, other: Rows) -> bool:
        """Whether both hold the same readings to the bit, whatever the order of their ``ids``."""
        if len(self) != len(other):
            return False
        ids = (*self.ids, *(name for name in other.ids if name not in self.ids))
        return (
            np.array_equal(self.t_us, other.t_us)
            and np.array_equal(self.channel, other.indexed_by(ids).channel)
            and np.array_equal(self.value.view(np.int64), other.value.view(np.int64))
            and np.array_equal(self.quality, other.quality)
        )
