"""Putting readings back that a closed session's files have lost, from its archive.

The archive of a closed session names the files it was made from, with their digests. Where a file is not any
more what it was then and the archive itself is whole, the archive knows what the file held: what is missing
is put back in its place in time, and what was changed gives way to what was recorded.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from analysis.measure import Quality
from analysis.rows import Rows
from logger.append_file import sync_folder
from logger.archive import (
    ARCHIVE,
    SCRATCH,
    archive_fault,
    made_from,
    read_archive,
    readings_of,
    units_in,
    units_of,
)
from logger.descriptor import Descriptor, Part, digest_of
from logger.readings_format import QUALITY_BITS, READINGS_HEADER, LineWriter
from logger.readings_reader import ReadingsReader
from logger.sorted_readings import SortedReadings

_KEY = np.dtype([("t_us", ">i8"), ("value", "V8"), ("quality", ">u2")])
"""What two readings of a channel must agree in to be the same, to the bit; as bytes it sorts quickly."""
_BATCH = 65_536


@dataclass(frozen=True, slots=True)
class Restored:
    """What was put right from the archive."""

    rows: int
    """Readings that were missing."""
    changed: int
    """Readings that were no recorded ones, and were taken out."""
    files: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """All of it in words."""
        gone = f", {self.changed} changed ones taken out" if self.changed else ""
        return f"{self.rows} readings put back from {ARCHIVE} into {', '.join(self.files)}{gone}"


def restore(folder: Path, descriptor: Descriptor, keep: Callable[[Path], None]) -> Restored | None:
    """Put back what the files of readings have lost since the session was closed.

    Parameters
    ----------
    folder
        A closed session whose files hold whole rows only.
    descriptor
        As it was when the session was closed.
    keep
        Called with each file before it is changed.

    Returns
    -------
    Restored or None
        None where nothing is missing, or where the archive cannot say: it is damaged itself, or was made
        from other files.

    Raises
    ------
    OSError
        If the disk refuses; each file is then the old or the new one, whole.
    """
    origin = readings_of(descriptor)
    if not origin or made_from(folder / ARCHIVE) != origin:
        return None
    damaged = [number for number, part in enumerate(origin) if not _as_it_was(folder, part)]
    if not damaged or archive_fault(folder, descriptor) is not None:
        return None
    lost, strange = _compared(folder, origin, descriptor)
    if not len(lost) and not len(strange):
        return None
    place = _places(lost, damaged, _hours(folder, descriptor), descriptor.header.part_us)
    units, left = {**units_in(folder / ARCHIVE), **units_of(descriptor)}, strange
    for number in damaged:
        path = folder / origin[number].path
        if path.exists():
            keep(path)
        left = _write(path, lost.take(place == number), left, units)
    return Restored(len(lost), len(strange) - len(left), tuple(origin[number].path for number in damaged))


def _as_it_was(folder: Path, part: Part) -> bool:
    path = folder / part.path
    return path.exists() and path.stat().st_size == part.bytes and digest_of(path) == part


def _compared(folder: Path, origin: Sequence[Part], descriptor: Descriptor) -> tuple[Rows, Rows]:
    """Give the readings that only the archive has, and those that only the files have."""
    lost, strange = [Rows.empty()], [Rows.empty()]
    with contextlib.closing(SortedReadings(units_of(descriptor), folder / SCRATCH)) as readings:
        for part in origin:
            if (folder / part.path).exists():
                readings.take(folder / part.path)
        present = readings.channels()
        for name, recorded in _archived(folder):
            found = [Rows.empty((name,))]
            if name in present:
                present.remove(name)
                found += [_rows(name, *group) for group in readings.groups(name)]
            one, other = _differences(recorded, Rows.concatenate(found))
            lost.append(one)
            strange.append(other)
        for name in present:
            strange += [_rows(name, *group) for group in readings.groups(name)]
    return Rows.concatenate(lost), Rows.concatenate(strange)


def _archived(folder: Path) -> Iterator[tuple[str, Rows]]:
    """Give the archive channel by channel."""
    held: list[Rows] = []
    for rows in read_archive(folder / ARCHIVE):
        if held and held[0].ids != rows.ids:
            yield held[0].ids[0], Rows.concatenate(held)
            held = []
        held.append(rows)
    if held:
        yield held[0].ids[0], Rows.concatenate(held)


def _rows(
    name: str,
    t_us: npt.NDArray[np.int64],
    value: npt.NDArray[np.float64],
    quality: npt.NDArray[np.uint16],
) -> Rows:
    flags = (quality & QUALITY_BITS).astype(np.uint16)
    return Rows((name,), t_us, np.zeros(len(t_us), np.int32), value, flags)


def _keys(rows: Rows) -> npt.NDArray[np.void]:
    keys = np.empty(len(rows), _KEY)
    value = np.where(np.isnan(rows.value), np.nan, rows.value)  # any NaN says the same: not known
    keys["t_us"], keys["quality"] = rows.t_us, rows.quality & QUALITY_BITS
    keys["value"] = value.view("V8")
    return keys.view(f"V{_KEY.itemsize}")


def _differences(one: Rows, other: Rows) -> tuple[Rows, Rows]:
    """Give what either has and the other has not; a reading that came twice counts twice."""
    _, which = np.unique(np.concatenate([_keys(one), _keys(other)]), return_inverse=True)
    mine, its = which[: len(one)], which[len(one) :]
    most = int(which.max(initial=-1)) + 1
    return (
        one.take(_turn(mine) >= np.bincount(its, minlength=most)[mine]),
        other.take(_turn(its) >= np.bincount(mine, minlength=most)[its]),
    )


def _turn(which: npt.NDArray[np.intp]) -> npt.NDArray[np.intp]:
    """Say of each entry how many equal ones came before it."""
    order = np.argsort(which, kind="stable")
    ordered = which[order]
    begins = np.flatnonzero(np.concatenate([[True], ordered[1:] != ordered[:-1]])[: len(which)])
    turn = np.empty(len(which), np.intp)
    turn[order] = np.arange(len(which)) - np.repeat(begins, np.diff([*begins, len(which)]))
    return turn


def _hours(folder: Path, descriptor: Descriptor) -> npt.NDArray[np.int64]:
    """Give the hour with which each file began: a new one begins with the first reading of a later hour."""
    hours = {0}
    for rows in read_archive(folder / ARCHIVE):
        in_time = rows.t_us[(rows.quality & Quality.LATE.value) == 0]
        hours.update(np.unique(np.maximum(in_time, 0) // descriptor.header.part_us).tolist())
    return np.array(sorted(hours), np.int64)


def _places(
    lost: Rows, damaged: Sequence[int], hours: npt.NDArray[np.int64], part_us: int
) -> npt.NDArray[np.intp]:
    """Say into which of the damaged files each reading goes: its own, or the nearest to it."""
    own = np.searchsorted(hours, np.maximum(lost.t_us, 0) // part_us, side="right") - 1
    files = np.array(damaged, np.intp)
    return np.asarray(files[np.abs(own[:, None] - files).argmin(axis=1)], np.intp)


def _write(path: Path, lost: Rows, strange: Rows, units: Mapping[str, str]) -> Rows:
    """Write a file anew with what was lost in its place in time, and without what is strange.

    Returns
    -------
    Rows
        Strange readings that are not in this file.
    """
    reader = ReadingsReader(units)
    kept = Rows.concatenate(list(reader.read(path))) if path.exists() else Rows.empty()
    kept, left = _without(kept, strange)
    both = Rows.concatenate([kept, lost])
    count = len(kept)
    # The files are in the order of arrival: a reading goes behind what had come by its moment.
    come_by = np.maximum.accumulate(both.t_us[:count])
    moment = np.concatenate([come_by, both.t_us[count:]])
    both = both.take(np.lexsort((np.arange(len(both)), moment)))
    lines = LineWriter(reader.units)
    fresh = path.with_name(f".{path.name}.new")
    fresh.unlink(missing_ok=True)
    with fresh.open("xb") as file:
        file.write(READINGS_HEADER)
        for start in range(0, len(both), _BATCH):
            file.write(lines.encode(both.take(slice(start, start + _BATCH))))
        file.flush()
        os.fsync(file.fileno())
    fresh.replace(path)
    sync_folder(path.parent)
    return left


def _without(rows: Rows, strange: Rows) -> tuple[Rows, Rows]:
    """Leave out the strange readings; of equal ones the last. Gives also those that are not among these."""
    ids = (*rows.ids, *(name for name in strange.ids if name not in rows.ids))
    both = Rows.concatenate([rows.indexed_by(ids), strange.indexed_by(ids)])
    keys = np.empty(len(both), [("channel", ">i4"), ("rest", f"V{_KEY.itemsize}")])
    keys["channel"], keys["rest"] = both.channel, _keys(both)
    _, which = np.unique(keys.view(f"V{keys.itemsize}"), return_inverse=True)
    mine, its = which[: len(rows)], which[len(rows) :]
    most = int(which.max(initial=-1)) + 1
    have, bad = np.bincount(mine, minlength=most), np.bincount(its, minlength=most)
    return rows.take(_turn(mine) < (have - bad)[mine]), strange.take(_turn(its) >= have[its])
