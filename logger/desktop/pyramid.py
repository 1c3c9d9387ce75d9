"""Lowest, highest and mean of a long series at several coarsenesses, so that any view of it costs the same.

A view of a day takes no longer than a view of a minute: it picks the coarsest level that still has a bin for
each pixel. Extremes are never lost; a bin without a single reading stays empty, so a dropout stays a gap.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
FIRST, FACTOR = 16, 2
"""Samples in a bin of the finest level, and how many bins make one of the next."""


@dataclass(frozen=True, slots=True)
class View:
    """What a view shows: one entry for each bin."""

    first: Floats
    """Index of each bin's first sample."""
    last: Floats
    """Index of its last sample."""
    mean: Floats
    low: Floats
    high: Floats


class _Columns:
    """Growing arrays of the same length."""

    def __init__(self, count: int) -> None:
        self.size = 0
        self._arrays = [np.empty(64) for _ in range(count)]

    def append(self, *parts: Floats) -> None:
        need = self.size + parts[0].size
        if need > self._arrays[0].size:
            room = max(need, 2 * self._arrays[0].size)
            self._arrays = [
                np.concatenate([a[: self.size], np.empty(room - self.size)]) for a in self._arrays
            ]
        for array, part in zip(self._arrays, parts, strict=True):
            array[self.size : need] = part
        self.size = need

    def __getitem__(self, number: int) -> Floats:
        return self._arrays[number][: self.size]


class Pyramid:
    """One series on a uniform grid; grows at its end.

    Examples
    --------
    >>> series = Pyramid()
    >>> series.append(np.arange(1000.0))
    >>> shown = series.view(0, 1000, 10)
    >>> shown.low.size, float(shown.low[0]), float(shown.high[0])
    (16, 0.0, 63.0)
    """

    def __init__(self) -> None:
        self._raw = _Columns(1)
        self._levels: list[_Columns] = []  # low, high, sum, count

    def __len__(self) -> int:
        return self._raw.size

    @property
    def samples(self) -> Floats:
        """All samples."""
        return self._raw[0]

    def append(self, values: Floats) -> None:
        """Take in further samples; NaN where there is none."""
        self._raw.append(values)
        self._grow(0, self._raw.size // FIRST)
        number = 1
        while self._levels[number - 1].size // FACTOR > 0 if number <= len(self._levels) else False:
            self._grow(number, self._levels[number - 1].size // FACTOR)
            number += 1

    def _grow(self, number: int, wanted: int) -> None:
        if number == len(self._levels):
            self._levels.append(_Columns(4))
        level = self._levels[number]
        if wanted <= level.size:
            return
        begin = level.size
        if number == 0:
            cut = self._raw[0][begin * FIRST : wanted * FIRST].reshape(-1, FIRST)
            level.append(*_summed(cut))
            return
        below = self._levels[number - 1]
        low, high, total, count = (
            below[n][begin * FACTOR : wanted * FACTOR].reshape(-1, FACTOR) for n in range(4)
        )
        level.append(
            np.fmin.reduce(low, axis=1), np.fmax.reduce(high, axis=1), total.sum(axis=1), count.sum(axis=1)
        )

    def view(self, begin: int, end: int, pixels: int) -> View:
        """Give the samples from ``begin`` up to ``end`` in at least ``pixels`` bins where there are so many.

        Parameters
        ----------
        begin, end
            Sample indices; cut to what there is.
        pixels
            Width of the view.
        """
        begin, end = max(begin, 0), min(end, self._raw.size)
        if end <= begin:
            none = np.empty(0)
            return View(none, none, none, none, none)
        span, size, chosen = (end - begin) / max(pixels, 1), FIRST, -1
        while chosen + 1 < len(self._levels) and size <= span:
            chosen, size = chosen + 1, size * FACTOR
        size //= FACTOR
        if chosen < 0:
            raw = self._raw[0][begin:end]
            index = np.arange(begin, end, dtype=np.float64)
            return View(index, index, raw, raw, raw)
        level = self._levels[chosen]
        first = -(-begin // size)
        upto = min(end // size, level.size)
        if upto <= first:
            return self._edges(begin, end, end, end, None, size)
        return self._edges(begin, end, first * size, upto * size, (level, first, upto), size)

    def _edges(
        self, begin: int, end: int, inner: int, outer: int, bins: tuple[_Columns, int, int] | None, size: int
    ) -> View:
        """Join whole bins with the samples before and after them."""
        parts: list[tuple[Floats, ...]] = []
        if begin < inner:
            parts.append(self._piece(begin, inner))
        if bins is not None:
            level, first, upto = bins
            low, high, total, count = (level[n][first:upto] for n in range(4))
            with np.errstate(invalid="ignore"):
                mean = total / np.where(count > 0, count, np.nan)
            index = np.arange(first, upto, dtype=np.float64) * size
            parts.append((index, index + (size - 1), mean, low, high))
        if outer < end:
            parts.append(self._piece(outer, end))
        return View(*(np.concatenate([part[n] for part in parts]) for n in range(5)))

    def _piece(self, begin: int, end: int) -> tuple[Floats, ...]:
        low, high, total, count = _summed(self._raw[0][begin:end].reshape(1, -1))
        with np.errstate(invalid="ignore"):
            mean = total / np.where(count > 0, count, np.nan)
        return np.array([float(begin)]), np.array([float(end - 1)]), mean, low, high


def _summed(cut: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Give lowest, highest, sum and count of each row; NaN counts for nothing."""
    known = np.isfinite(cut)
    return (
        np.fmin.reduce(cut, axis=1),
        np.fmax.reduce(cut, axis=1),
        np.where(known, cut, 0.0).sum(axis=1),
        known.sum(axis=1).astype(np.float64),
    )
