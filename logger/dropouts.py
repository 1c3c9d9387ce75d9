"""Dropouts: spans in which a channel gave no reading although it should have."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from analysis.measure import UNUSABLE, Channel
from analysis.rows import Rows
from analysis.timeline import Event


class DropoutWatch:
    """Notices when a channel is silent beyond its hold, and when it is back.

    A dropout becomes an event once it has ended, dated at the last reading before it, with its length; what
    has not ended when the session stops is told then.
    """

    def __init__(self) -> None:
        self._last_us: dict[str, int] = {}

    def take(self, rows: Rows, channels: Mapping[str, Channel], utc_us: int) -> list[Event]:
        """Take in readings and give the dropouts that they end."""
        events: list[Event] = []
        usable = (rows.quality & int(UNUSABLE)) == 0
        for index in np.unique(rows.channel[usable]):
            name = rows.ids[index]
            moments = np.sort(rows.t_us[usable & (rows.channel == index)])
            before = self._last_us.get(name)
            if before is not None:
                moments = np.concatenate([[before], moments])
            hold_us = _hold_us(name, channels)
            for place in np.flatnonzero(np.diff(moments) > hold_us):
                events.append(_dropout(int(moments[place]), int(moments[place + 1]), name, utc_us))
            self._last_us[name] = max(int(moments[-1]), before or 0)
        return events

    def silent(self, now_us: int, channels: Mapping[str, Channel]) -> dict[str, float]:
        """Give the channels that are silent now, with for how long [s]."""
        return {
            name: (now_us - last) / 1e6
            for name, last in self._last_us.items()
            if now_us - last > _hold_us(name, channels)
        }

    def close(self, now_us: int, channels: Mapping[str, Channel], utc_us: int) -> Iterable[Event]:
        """Give the dropouts that last until the end."""
        for name in self.silent(now_us, channels):
            last = self._last_us[name]
            seconds = (now_us - last) / 1e6
            yield Event(last, utc_us, "dropout", name, f"{seconds:.1f} s, until the end of the session")


def _hold_us(name: str, channels: Mapping[str, Channel]) -> float:
    channel = channels.get(name)
    return (channel.hold if channel is not None else 30.0) * 1e6


def _dropout(from_us: int, to_us: int, name: str, utc_us: int) -> Event:
    return Event(from_us, utc_us, "dropout", name, f"{(to_us - from_us) / 1e6:.1f} s")
