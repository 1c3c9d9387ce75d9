"""Watching over night: one reading a second while nothing happens, all readings around what happens.

What is left out is counted, channel by channel, and stated in the events, so that received is always stored
plus left out. Readings before a trigger come from memory; they stand in the file behind newer lines, with
their own moments.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.analyser import Results
from analysis.measure import Channel, Quality
from analysis.rows import Rows
from analysis.settings import Settings
from logger.moments import elapsed_text
from logger.watch_bands import Bands, Noticed
from logger.watch_file import WatchOptions

TELL_EVERY_US = 600_000_000
MOST_HELD = 1_000_000
"""Readings that wait in memory for a trigger; older ones are counted as left out."""


@dataclass(frozen=True, slots=True)
class Kept:
    """What of a batch goes on: readings of before a trigger, and those of now."""

    before: Rows
    now: Rows


class Watch:
    """Decides for each reading whether it is stored at once, held for a trigger, or left out and counted."""

    def __init__(self, options: WatchOptions | None = None) -> None:
        self.options = options or WatchOptions()
        self._bands = Bands(self.options)
        self._slot: dict[str, int] = {}
        self._quality: dict[str, int] = {}
        self._held: deque[Rows] = deque()
        self._held_rows = 0
        self._full_until_us: int | None = None
        self._fired_us: int | None = None
        self._noticed: list[Noticed] = []
        self._told_us = 0
        self.newest_stored_us = -(2**62)
        self.received: Counter[str] = Counter()
        self.stored: Counter[str] = Counter()
        self.left_out: Counter[str] = Counter()
        self._told: Counter[str] = Counter()
        self.windows = 0

    @property
    def full_rate(self) -> bool:
        """Whether everything is kept at the moment."""
        return self._full_until_us is not None

    def take(self, rows: Rows, held: Settings, channels: Mapping[str, Channel]) -> Kept:
        """Sort a batch of readings."""
        names = rows.ids
        self.received.update({names[c]: n for c, n in _counts(rows)})
        self._notice(self._bands.readings(rows, held, channels))
        before = self._release()
        keep = self._due(rows)
        if self._full_until_us is not None:
            keep |= rows.t_us <= self._full_until_us
        now, rest = rows.take(keep), rows.take(~keep)
        if len(rest):
            self._held.append(rest)
            self._held_rows += len(rest)
        # Starts and stops are noticed up to three seconds late, when their row is closed.
        self._forget(int(rows.t_us.max(initial=0)) - self.options.before_us - 3_000_000)
        for part in (before, now):
            self.stored.update({part.ids[c]: n for c, n in _counts(part)})
        if len(now):
            self.newest_stored_us = max(self.newest_stored_us, int(now.t_us.max()))
        return Kept(before, now)

    def results(self, results: Sequence[Results]) -> None:
        """Take what the analyser has found: starts and stops, and steady stretches to learn from."""
        self._notice(self._bands.results(results))

    def noticed(self, now_us: int) -> list[Noticed]:
        """Give what has happened since the last call, to be written as events."""
        if self._full_until_us is not None and now_us > self._full_until_us:
            text = f"all readings were kept until {elapsed_text(self._full_until_us)} s; low rate again"
            self._noticed.append(Noticed(now_us, "watch", "", text, fires=False))
            self._full_until_us = None
        if now_us - self._told_us >= TELL_EVERY_US:
            self._tell(now_us)
        noticed, self._noticed = self._noticed, []
        return noticed

    def close(self, now_us: int) -> list[Noticed]:
        """Count what is still held as left out, and tell everything."""
        self._forget(2**62)
        self._tell(now_us)
        if not self._bands.learnt and not self.options.bands:
            text = "no band was learnt: the machine was never steady long enough"
            self._noticed.append(Noticed(now_us, "watch", "", text, fires=False))
        return self.noticed(now_us)

    def _notice(self, noticed: Sequence[Noticed]) -> None:
        for one in noticed:
            self._noticed.append(one)
            if one.fires:
                self._fire(one)

    def _fire(self, one: Noticed) -> None:
        until = one.t_us + self.options.after_us
        if self._full_until_us is None:
            self.windows += 1
            begin = elapsed_text(max(one.t_us - self.options.before_us, 0))
            text = f"all readings are kept from {begin} s on: {one.subject or one.kind} {one.text}"
            self._noticed.append(Noticed(one.t_us, "watch", "", text, fires=False))
        self._full_until_us = max(until, self._full_until_us or until)
        self._fired_us = min(one.t_us, self._fired_us if self._fired_us is not None else one.t_us)

    def _release(self) -> Rows:
        """Give what was held from shortly before the trigger on; the rest is left out."""
        if self._fired_us is None:
            return Rows.empty()
        self._forget(self._fired_us - self.options.before_us)
        self._fired_us = None
        released = Rows.concatenate(list(self._held))
        self._held.clear()
        self._held_rows = 0
        return released

    def _due(self, rows: Rows) -> np.ndarray:
        """Say which readings are stored at the low rate: the first in each step, each change of quality."""
        keep = np.zeros(len(rows), bool)
        names, every = rows.ids, self.options.every_us
        late = Quality.LATE.value
        columns = zip(rows.t_us.tolist(), rows.channel.tolist(), rows.quality.tolist(), strict=True)
        for place, (t_us, channel, quality) in enumerate(columns):
            name = names[channel]
            slot = t_us // every
            changed = quality != self._quality.get(name)
            if quality & late or changed or slot > self._slot.get(name, -(2**62)):
                keep[place] = True
                if not quality & late:
                    self._slot[name] = max(slot, self._slot.get(name, slot))
                    self._quality[name] = quality
        return keep

    def _forget(self, until_us: int) -> None:
        """Count as left out what lies before a moment or is more than memory should hold."""
        while self._held:
            oldest = self._held[0]
            if int(oldest.t_us.max()) >= until_us and self._held_rows <= MOST_HELD:
                gone = oldest.t_us < until_us
                if gone.any():
                    self._leave_out(oldest.take(gone))
                    self._held[0] = oldest.take(~gone)
                return
            self._leave_out(self._held.popleft())

    def _leave_out(self, rows: Rows) -> None:
        self._held_rows -= len(rows)
        self.left_out.update({rows.ids[c]: n for c, n in _counts(rows)})

    def _tell(self, now_us: int) -> None:
        new = self.left_out - self._told
        if new:
            each = ", ".join(f"{name} {count}" for name, count in sorted(new.items()))
            text = (
                f"{new.total()} readings between {elapsed_text(self._told_us)} s and "
                f"{elapsed_text(now_us)} s were left out by the watch: {each}"
            )
            self._noticed.append(Noticed(self._told_us, "thinned", "", text, fires=False))
            self._told = self.left_out.copy()
        self._told_us = now_us


def _counts(rows: Rows) -> list[tuple[int, int]]:
    numbers, counts = np.unique(rows.channel, return_counts=True)
    return list(zip(numbers.tolist(), counts.tolist(), strict=True))
