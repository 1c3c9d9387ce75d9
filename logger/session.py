"""A session that is on disk: its header, channels, events and readings."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import numpy as np

from analysis.measure import Channel
from analysis.rows import Rows
from analysis.timeline import Event
from logger.archive import ARCHIVE, made_from, read_archive, readings_of
from logger.descriptor import Descriptor, SessionHeader, SessionState, read_descriptor
from logger.events import EVENTS, read_events
from logger.readings_format import parts_in
from logger.readings_reader import BadLine, ReadingsReader
from logger.session_errors import Fault
from logger.session_lock import is_locked


class Session:
    """Reads a session folder; it may be closed, broken off, or still growing."""

    def __init__(
        self, folder: Path, descriptor: Descriptor, events: list[Event], faults: list[Fault]
    ) -> None:
        self.folder = folder
        self.descriptor = descriptor
        self.events = events
        """In the order in which they were written; see :func:`analysis.timeline.timeline`."""
        self.faults = faults
        """Lines of events.csv that could not be read."""

    @classmethod
    def open(cls, folder: Path) -> Session:
        """Open a session folder.

        Raises
        ------
        SessionError
            If it is no session or its descriptor is damaged.
        """
        descriptor = read_descriptor(folder)
        faults: list[Fault] = []
        return cls(folder, descriptor, read_events(folder / EVENTS, faults.append), faults)

    @property
    def header(self) -> SessionHeader:
        """What was known when the session began."""
        return self.descriptor.header

    @property
    def channels(self) -> tuple[Channel, ...]:
        """All channels that were announced."""
        return self.descriptor.channels

    @property
    def state(self) -> SessionState:
        """How the files came to their present state."""
        return self.descriptor.state

    @property
    def recording(self) -> bool:
        """Whether a process is writing it at this moment."""
        return is_locked(self.folder)

    @property
    def parts(self) -> list[Path]:
        """The files of readings, in the order of writing."""
        return parts_in(self.folder)

    @property
    def duration_us(self) -> int:
        """Moment of the newest reading [us]; looked up in the readings where the session is not closed."""
        if self.descriptor.duration_us is not None:
            return self.descriptor.duration_us
        return max((int(rows.t_us.max()) for rows in self.rows() if len(rows)), default=0)

    def rows_of(self, *channels: str) -> Iterator[Rows]:
        """Give the readings of some channels, quickly where the archive belongs to these files.

        Yields
        ------
        Rows
            From the archive by channel, then by time; without one in the order of arrival.
        """
        path = self.folder / ARCHIVE
        origin = readings_of(self.descriptor)
        if path.exists() and origin and made_from(path) == origin:
            yield from read_archive(path, channels)
            return
        for rows in self.rows():
            wanted = np.array([name in channels for name in rows.ids], bool)
            yield rows.take(wanted[rows.channel] if len(wanted) else slice(0, 0))

    def rows(self, report: Callable[[Fault], None] | None = None) -> Iterator[Rows]:
        """Give all readings in the order of arrival, in bounded batches.

        Parameters
        ----------
        report
            Called with each line that is no whole row; such lines are left out.

        Yields
        ------
        Rows
            Whose ``ids`` begin with the announced channels; a later batch may know more.
        """
        reader = ReadingsReader({channel.id: channel.unit for channel in self.channels})
        for part in self.parts:
            yield from reader.read(part, partial(_tell, report, part.name))


def _tell(report: Callable[[Fault], None] | None, name: str, bad: BadLine) -> None:
    if report is not None:
        report(bad.fault(name))
