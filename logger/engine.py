"""The engine: adapters in, readings to disk, ring and analyser, results out. One asyncio loop runs it all.

A reading's way: adapter -> supervisor -> :meth:`Engine.take` -> (a) ring, (b) journal; every tick the
analyser takes what is new from the ring and closes the rows whose second has passed.
"""

from __future__ import annotations

import asyncio
import time
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from analysis.analyser import Analyser, Results, last_row
from analysis.measure import Channel, Quality, Reading
from analysis.rows import Rows, microseconds
from analysis.settings import Settings, SettingsError, reconnected, settings_over_time
from analysis.timeline import Event
from drivers.base import Adapter, ChannelsFound, Clock, LinkEvent, LinkState, Rejected, StreamItem, Timing
from drivers.clock import ClockPair, FollowedClock
from drivers.registry import Context
from drivers.supervise import Counts, supervise
from logger.alarm_watch import AlarmShown, AlarmWatch
from logger.dropouts import DropoutWatch
from logger.events import clock_event
from logger.journal import JournalStatus
from logger.ring import Ring
from logger.session_errors import SessionError
from logger.session_summary import keep_summary
from logger.session_writer import SessionWriter
from logger.setup_file import find_curve
from logger.shown import shown_lines
from logger.watch import Watch
from logger.watch_bands import Noticed
from logger.watch_storing import StoringWatch

TICK_S = 0.1
CLOCK_EVERY_US = 60_000_000
REFUSED_EVERY_US = 10_000_000


@dataclass(slots=True)
class Link:
    """How one adapter stands, for the screen."""

    name: str
    event: LinkEvent | None = None
    counts: Counts = field(default_factory=Counts)
    trouble: str = ""
    """A sentence for the person that is no state of the link."""
    lived: bool = False
    """Whether it has ever been live; the next time is a reconnect."""
    refused: Counter[str] = field(default_factory=Counter)
    """Refused frames that no event tells of yet."""
    refused_since_us: int = 0
    sample: bytes = b""
    """The first of them, as it came."""


@dataclass(frozen=True, slots=True)
class Snapshot:
    """The present, for a screen that asks for it."""

    elapsed_us: int
    newest: Results | None
    links: tuple[Link, ...]
    silent: dict[str, float]
    """Channel to the seconds since its last reading, where that is longer than its hold."""
    journal: JournalStatus | None
    """None in a replay, which stores nothing."""
    late: int
    lost: int
    alarms: tuple[AlarmShown, ...] = ()


class Engine:
    """One recording from start to stop.

    Parameters
    ----------
    adapters
        What is read.
    writer
        The session that everything goes to.
    analyser
        Works out what the readings mean.
    clock, timing
        Handed to the adapters.
    context
        What the adapters share; closed with the engine.
    alarms
        What raises an alarm on this machine.
    """

    def __init__(
        self,
        adapters: Sequence[Adapter],
        writer: SessionWriter,
        analyser: Analyser,
        clock: Clock,
        timing: Timing,
        context: Context,
        alarms: AlarmWatch | None = None,
    ) -> None:
        self._context = context
        self._alarms = alarms or AlarmWatch()
        self._adapters, self._writer, self._analyser = adapters, writer, analyser
        self._clock, self._timing = clock, timing
        self.ring = Ring()
        self._cursor = self.ring.cursor()
        self.links = {adapter.name: Link(adapter.name) for adapter in adapters}
        self._dropouts = DropoutWatch()
        self._storing = StoringWatch()
        self.watch: Watch | None = None
        """Thins what is stored while nothing happens; None stores every reading."""
        self._declared: list[Event] = []
        self._newest: Results | None = None
        self.on_results: Callable[[Sequence[Results]], None] | None = None
        """Called in the loop with all rows that were closed: who asks for the newest alone may miss some."""
        self._late = 0
        self._pair = ClockPair(writer.t0_ns, clock.utc_ns())
        self._stop_reason: str | None = None

    def declare(self, events: Sequence[Event]) -> None:
        """Write events that hold from their own moments on, and work with them.

        Raises
        ------
        SettingsError
            If one cannot be understood; then none is written.
        CommandError
            If a refrigerant is not known, or refused.
        """
        stamped = [replace(event, utc_us=self._clock.utc_ns() // 1000) for event in events]
        settings = settings_over_time([*self._declared, *stamped], self._analyser.channels)
        named = {event.text for event in stamped if event.kind == "refrigerant"} - {""}
        new = {name: find_curve(name) for name in named - set(self._analyser.curve_of)}
        self._analyser.curve_of = {**self._analyser.curve_of, **new}
        self._declared += stamped
        self._analyser.settings = settings
        for event in stamped:
            self._write(event)

    def note(self, kind: str, subject: str, text: str) -> None:
        """Write an event that holds from now on."""
        self._note(kind, subject, text)

    def stop(self, reason: str) -> None:
        """Ask the running engine to end."""
        self._stop_reason = self._stop_reason or reason

    async def run(self, for_us: int | None = None) -> tuple[str, ...]:
        """Record until asked to stop, until all adapters have ended, or for a length of session time.

        Returns
        -------
        tuple of str
            What did not work at the end although all rows are stored.
        """
        tasks = [
            asyncio.create_task(self._supervise(adapter), name=f"supervise {adapter.name}")
            for adapter in self._adapters
        ]
        try:
            while self._stop_reason is None:
                await asyncio.sleep(TICK_S)
                self._tick()
                if for_us is not None and self.elapsed_us() >= for_us:
                    self.stop("time is up")
                elif tasks and all(task.done() for task in tasks):
                    self.stop("all devices have ended")
                for task in tasks:
                    if task.done() and not task.cancelled() and task.exception() is not None:
                        self.stop("a fault in the program")
        finally:
            for task in tasks:
                task.cancel()
            ended = await asyncio.gather(*tasks, return_exceptions=True)
            await self._context.aclose()
        self._finish()
        warnings = await asyncio.to_thread(self._close)  # digests and archive take seconds after a long night
        for outcome in ended:
            if isinstance(outcome, Exception):
                raise outcome
        return warnings

    @property
    def channels(self) -> Mapping[str, Channel]:
        """Channels that have been found, by id."""
        return self._analyser.channels

    @property
    def settings(self) -> Settings:
        """What is declared now."""
        return self._analyser.settings[-1]

    def elapsed_us(self) -> int:
        """Session time [us]."""
        return microseconds(self._clock.monotonic_ns(), self._writer.t0_ns)

    def utc_us(self) -> int:
        """UTC of the present moment [us]."""
        return self._clock.utc_ns() // 1000

    def snapshot(self) -> Snapshot:
        """Give the present state; may be called from any thread."""
        return Snapshot(
            self.elapsed_us(),
            self._newest,
            tuple(self.links.values()),
            self._dropouts.silent(self.elapsed_us(), self._analyser.channels),
            self._writer.status(),
            self._late,
            self._cursor.lost,
            self._alarms.shown(self.elapsed_us()),
        )

    async def _supervise(self, adapter: Adapter) -> None:
        link = self.links[adapter.name]

        def emit(item: StreamItem) -> None:
            self.take(link, item)

        await supervise(adapter, self._clock, self._timing, emit, counts=link.counts)

    def take(self, link: Link, item: StreamItem) -> None:
        """Take what a supervised adapter has given."""
        if isinstance(item, list):
            self._readings(item)
        elif isinstance(item, ChannelsFound):
            self._channels(link, item)
        elif isinstance(item, LinkEvent):
            link.event = item
            retry = f"; next try in {item.retry_in_s:.1f} s" if item.retry_in_s is not None else ""
            text = f"{item.state.value}: {item.reason}{retry}" if item.reason or retry else item.state.value
            self._note("link", link.name, text)
            if item.state is LinkState.LIVE:
                self._live(link)
        elif isinstance(item, Rejected):
            if not link.refused:
                link.refused_since_us, link.sample = self.elapsed_us(), item.sample
            link.refused.update(item.counts)

    def _live(self, link: Link) -> None:
        """Begin the windows of a link's channels anew when it has come back."""
        if link.lived:
            self._begin_anew(name for name in self._analyser.channels if name.startswith(f"{link.name}/"))
        link.lived = True

    def _begin_anew(self, channels: Iterable[str]) -> None:
        """Let no window of these channels span this moment."""
        settings = self._analyser.settings
        settings.append(reconnected(settings[-1], max(self.elapsed_us(), settings[-1].from_us), channels))

    def _suspended(self, slept_ns: int) -> None:
        """Tell of a sleep: what was read before and after it does not belong into one window."""
        self._begin_anew(self._analyser.channels)
        self._note("suspended", "", f"{slept_ns / 1e9:.1f} s: the computer slept, and nothing was read")

    def _tell_refused(self, *, all_now: bool = False) -> None:
        """Write what was refused, gathered over ten seconds so that noise does not flood the events."""
        for link in self.links.values():
            if link.refused and (all_now or self.elapsed_us() - link.refused_since_us >= REFUSED_EVERY_US):
                counts = ", ".join(f"{kind} {count}" for kind, count in sorted(link.refused.items()))
                sample = link.sample[:120].decode("ascii", "backslashreplace")
                self._note("rejected", link.name, f"{counts}; first: {sample}" if sample else counts)
                link.refused.clear()

    def _readings(self, readings: list[Reading]) -> None:
        rows = self._analyser.frame.mark_late(Rows.from_readings(readings, self._writer.t0_ns))
        self._late += int(((rows.quality & int(Quality.LATE)) != 0).sum())
        for event in self._dropouts.take(rows, self._analyser.channels, self._clock.utc_ns() // 1000):
            self._write(event)
        if self.watch is None:
            self._store(rows)
            return
        newest_us = self.watch.newest_stored_us
        kept = self.watch.take(rows, self._analyser.settings[-1], self._analyser.channels)
        self._store_earlier(kept.before, newest_us)
        self._store(kept.now)

    def _store(self, rows: Rows) -> None:
        self._writer.add(rows)
        self.ring.write(rows)

    def _store_earlier(self, rows: Rows, newest_us: int) -> None:
        """Store readings that waited in memory; they count in the rows that are still open.

        A replay, which knows only the file, finds closed what the newest line before had passed. What only
        the clock had closed it would find open, so that is flagged late, as it was.
        """
        frame = self._analyser.frame
        closed_us = (frame.next_row - 1) * frame.step_us
        passed_us = (newest_us - frame.grace_us) // frame.step_us * frame.step_us
        early = rows.t_us <= passed_us
        self._writer.add(rows.take(early))
        between = ~early & (rows.t_us <= closed_us)
        late = (rows.quality | np.where(between, int(Quality.LATE), 0)).astype(np.uint16)
        self._store(Rows(rows.ids, rows.t_us, rows.channel, rows.value, late).take(~early))

    def _channels(self, link: Link, found: ChannelsFound) -> None:
        try:
            self._writer.channels(found.channels)
        except SessionError as refused:
            link.trouble = str(refused)
            self._note("channel", link.name, str(refused))
            return
        self._analyser.channels.update({channel.id: channel for channel in found.channels})
        try:
            self._settle()
        except SettingsError as refused:
            link.trouble = str(refused)
            self._note("channel", link.name, str(refused))

    def _tick(self) -> None:
        rows = self.ring.read(self._cursor)
        now_us = self.elapsed_us()
        # A followed clock stands where the newest reading stands; only the computer's own can close rows.
        followed = isinstance(self._clock, FollowedClock)
        self._show(self._analyser.step(rows, None if followed else now_us, marked=True))
        self._tell_refused()
        self._tell_storing(self._storing.take(self._writer.status(), now_us))
        if self.watch is not None:
            self._tell_noticed(self.watch.noticed(now_us))
        pair = ClockPair.now(self._clock)
        jump, slept = pair.jump_since(self._pair), pair.slept_since(self._pair)
        if slept:
            self._suspended(slept)
        if jump:
            self._note("clock", "", f"the wall clock moved by {jump / 1e9:+.1f} s, or the computer slept")
        if jump or slept or pair.mono_ns - self._pair.mono_ns >= CLOCK_EVERY_US * 1000:
            self._write(clock_event(now_us, pair.utc_ns // 1000))
            self._pair = pair

    def _show(self, results: Sequence[Results]) -> None:
        if results:
            if self.watch is not None:
                self.watch.results(results)
            self._writer.shown(shown_lines(results))
            for event in self._alarms.results(results):
                self._write(replace(event, utc_us=self._clock.utc_ns() // 1000))
            self._newest = last_row(results)
            if self.on_results is not None:
                self.on_results(results)

    def _finish(self) -> None:
        """Close the last rows and write what ends with the session."""
        self._tick()
        self._tell_refused(all_now=True)
        end_us = self.elapsed_us()
        self._show(self._analyser.step(Rows.empty(), end_us + self._analyser.frame.grace_us))
        for event in self._dropouts.close(end_us, self._analyser.channels, self._clock.utc_ns() // 1000):
            self._write(event)
        self._tell_storing(self._storing.close(self._writer.status(), end_us))
        if self.watch is not None:
            self._tell_noticed(self.watch.close(end_us))
        if self._cursor.lost:
            self._note("lost", "analyser", f"{self._cursor.lost} readings came too fast to be analysed live")
        self._writer.note("stop", "", self._stop_reason or "stopped", from_us=end_us)

    def _tell_storing(self, told: tuple[int, str] | None) -> None:
        if told is not None:
            self._write(Event(told[0], self._clock.utc_ns() // 1000, "storage", "", told[1]))

    def _tell_noticed(self, noticed: Sequence[Noticed]) -> None:
        for one in noticed:
            self._write(Event(one.t_us, self._clock.utc_ns() // 1000, one.kind, one.subject, one.text))

    def _close(self) -> tuple[str, ...]:
        deadline = time.monotonic() + 30.0
        while True:
            try:
                warnings = self._writer.close(self._stop_reason or "stopped")
            except SessionError:
                if time.monotonic() > deadline:
                    raise
            else:
                keep_summary(self._writer.folder)
                return warnings

    def _note(self, kind: str, subject: str, text: str) -> None:
        self._write(Event(self.elapsed_us(), self._clock.utc_ns() // 1000, kind, subject, text))

    def _write(self, event: Event) -> None:
        self._alarms.take(event)
        self._writer.event(event)

    def _settle(self) -> None:
        """Work out the settings anew after channels have become known."""
        self._analyser.settings = settings_over_time(self._declared, self._analyser.channels)
