"""A recording that runs while the window is open: its engine in one worker thread with one asyncio loop.

The window's thread only asks: for the present, for the history, for a mark. What it wants written goes to the
loop; no Qt object is ever touched here.
"""

from __future__ import annotations

import asyncio
import logging
import threading
from collections import deque
from collections.abc import Callable, Mapping
from pathlib import Path

from analysis.analyser import Results
from analysis.marks import moved_back, standing_marks, taken_back
from analysis.presets import PresetName
from analysis.saturation import SaturationCurve
from analysis.settings import SettingsError
from analysis.timeline import Event
from analysis.unit_card import UnitCard
from logger.app import Recording
from logger.descriptor import read_descriptor
from logger.desktop.advice import advise, support_of
from logger.desktop.bands import Band, BandWatch, Judged, bands_of
from logger.desktop.history import History
from logger.desktop.present import Present, readings_to_judge, runs
from logger.desktop.review import marks_of
from logger.desktop.support_words import Support
from logger.engine import Engine
from logger.keep_awake import awake
from logger.session_errors import SessionError
from logger.shown_values import plain

_log = logging.getLogger(__name__)
ADVISE_ROWS = 60
ADVISE_EVERY_S = 10
"""Findings rest on the last minute and are worked out every ten seconds."""
LOOK_S = 0.05
"""How often the loop looks for a new row."""


class Live:
    """A recording in progress.

    Parameters
    ----------
    recording
        Ready to run; it runs from :meth:`start` on.
    simulated
        Whether the machine is a simulated one, which the window must say.
    card
        The machine's unit card.
    curves
        Refrigerant to its saturation, for the findings.
    """

    recording = True

    def __init__(
        self,
        recording: Recording,
        preset: PresetName,
        *,
        simulated: bool = False,
        card: UnitCard | None = None,
        curves: Mapping[str, SaturationCurve] | None = None,
    ) -> None:
        self.folder, self.preset = recording.folder, preset
        self.history = History(keep_rows=False)
        self.notice = ""
        """Why something that was asked for was refused; the newest."""
        self.warnings: tuple[str, ...] = ()
        self.failure: str = ""
        self._engine: Engine = recording.engine
        self._title = recording.setup.title
        self._simulated = simulated
        self._card, self._curves = card, curves or {}
        self._recent: deque[Results] = deque(maxlen=ADVISE_ROWS)
        self._support: Support | None = None
        self._watch = BandWatch()
        self._judged: dict[str, Judged] = {}
        self._events: list[Event] = []
        self._channels: tuple[str, ...] = ()
        self._labels: dict[str, str] = {}
        self._cursor = recording.engine.ring.cursor()
        self._loop: asyncio.AbstractEventLoop | None = None
        self._ready = threading.Event()
        self._thread = threading.Thread(target=self._run, name="engine")

    def start(self) -> None:
        """Begin to record."""
        self._thread.start()
        self._ready.wait(10.0)

    @property
    def finished(self) -> bool:
        """Whether the session is closed on disk."""
        return not self._thread.is_alive()

    def stop(self, reason: str) -> None:
        """Ask the recording to end; nothing is lost, and :attr:`finished` tells when it is closed."""
        self._in_loop(lambda: self._engine.stop(reason))

    def join(self, timeout: float) -> bool:
        """Wait until the session is closed; gives whether it is."""
        self._thread.join(timeout)
        return self.finished

    def present(self) -> Present:
        """Give the present moment."""
        snapshot = self._engine.snapshot()
        newest = snapshot.newest
        mode = newest.settings.mode if newest is not None else ""
        rows = self._engine.ring.read(self._cursor)
        if rows.ids != self._channels:
            self._channels = rows.ids
            self._labels = _labels_in(self.folder)
        known = set(newest.settings.channel_of.values()) if newest is not None else set()
        return Present(
            elapsed_us=snapshot.elapsed_us,
            newest=newest,
            links=snapshot.links,
            channels=(*self._channels, *sorted(known - set(self._channels))),
            labels=self._labels,
            rates={
                link.name: link.counts.readings / max(snapshot.elapsed_us / 1e6, 1.0)
                for link in snapshot.links
            },
            silent=snapshot.silent,
            journal=snapshot.journal,
            late=snapshot.late,
            lost=snapshot.lost,
            title=self._title,
            preset=self.preset,
            kind="simulated" if self._simulated else "recording",
            bands=self._bands(mode),
            support=self._support,
            judged=dict(self._judged),
            marks=marks_of(self._events),
            notice=self.failure or self.notice,
        )

    @property
    def events(self) -> list[Event]:
        """Marks that have been set here."""
        return self._events

    def mark(self, text: str = "", ago_s: float = 0.0) -> None:
        """Note this moment, or the one so long ago at which the key went down."""
        at_us = max(self._engine.elapsed_us() - round(ago_s * 1e6), 0)
        self._declare(Event(at_us, 0, "mark", "", text))

    def undo(self) -> None:
        """Take the mark that was set last back; both stay in the file."""
        marks = standing_marks(self._events)
        if marks:
            self._declare(taken_back(marks[-1]))

    def back_date(self, seconds: float) -> None:
        """Move the mark that was set last to a moment before it was set."""
        marks = standing_marks(self._events)
        if marks:
            for event in moved_back(marks[-1], seconds):
                self._declare(event)

    def name(self, text: str, t_us: int | None = None) -> None:
        """Give a text to the mark of a moment, or to the one that was set last."""
        marks = standing_marks(self._events)
        if t_us is None and marks:
            t_us = marks[-1].t_us
        if t_us is not None:
            self._declare(Event(t_us, 0, "named", "", text))

    def assign(self, channel: str, point: str) -> None:
        """Let a channel feed a measuring point from now on; empty for none."""
        now = self._engine.elapsed_us()
        newest = self._engine.snapshot().newest
        held = newest.settings.channel_of if newest is not None else {}
        events = []
        before = held.get(point)
        if before is not None and before != channel:
            events.append(Event(now, 0, "assign", before, ""))
        events.append(Event(now, 0, "assign", channel, point))
        self._in_loop(lambda: self._try(events))

    def _declare(self, event: Event) -> None:
        self._events.append(event)
        self._in_loop(lambda: self._try([event]))

    def _try(self, events: list[Event]) -> None:
        """Declare events, in the loop; a refusal becomes a notice."""
        try:
            self._engine.declare(events)
            self.notice = ""
        except (SettingsError, SessionError) as refused:
            self.notice = str(refused)

    def _in_loop(self, call: Callable[[], None]) -> None:
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(call)

    def _run(self) -> None:
        try:
            asyncio.run(self._record())
        except SessionError as error:
            self.failure = str(error)
        except Exception as error:  # the window stays and says so; the session on disk is whole
            _log.exception("The recording ended with a fault in the program")
            self.failure = f"recording ended: a fault in the program ({type(error).__name__})"

    async def _record(self) -> None:
        self._loop = asyncio.get_running_loop()
        self._ready.set()
        watching = asyncio.create_task(self._follow())
        try:
            with awake() as asleep:
                if asleep:
                    self._engine.note("awake", "", asleep)
                self.warnings = await self._engine.run()
        finally:
            watching.cancel()

    def _bands(self, mode: str) -> Mapping[str, Band]:
        return bands_of(self._card.bands, mode) if self._card is not None else {}

    def _advise(self, newest: Results) -> None:
        """Work the findings out anew."""
        since = float(newest.judgement.since_change_s[-1])
        found = advise(self._recent, self._curves, self._card, running=runs(newest), since_change_s=since)
        self._support = support_of(found, self.preset, newest.settings.barometer_pa)

    async def _follow(self) -> None:
        """Take every new row into the history."""
        seen = -1
        while True:
            newest = self._engine.snapshot().newest
            if newest is not None and int(newest.t_us[-1]) != seen:
                seen = int(newest.t_us[-1])
                self.history.append(newest)
                bands = self._bands(newest.settings.mode)
                self._judged = self._watch.step(seen / 1e6, readings_to_judge(newest, bands))
                self._recent.append(newest)
                if seen // 1_000_000 % ADVISE_EVERY_S == 0:
                    self._advise(newest)
            await asyncio.sleep(LOOK_S)


def _labels_in(folder: Path) -> dict[str, str]:
    """Read the channels' labels from the session that is being written."""
    try:
        return {channel.id: plain(channel.label) for channel in read_descriptor(folder).channels}
    except SessionError:
        return {}
