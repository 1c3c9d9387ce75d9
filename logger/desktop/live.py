"""A recording that runs while the window is open: its engine in one worker thread with one asyncio loop.

The window's thread only asks: for the present, for the history, for a mark. What it wants written goes to the
loop; no Qt object is ever touched here.
"""

from __future__ import annotations

import asyncio
import logging
import threading
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.alarm_standing import KIND
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
from logger.desktop.history import History, row_of
from logger.desktop.present import Present, readings_to_judge, runs
from logger.desktop.review import marks_of
from logger.desktop.support_words import Support
from logger.engine import Engine
from logger.errors import CommandError
from logger.keep_awake import awake
from logger.recent import Recent
from logger.session_errors import SessionError
from logger.setup_file import find_curve
from logger.shown_values import plain

if TYPE_CHECKING:  # matching is loaded when it is first asked for
    from logger.match_outcome import Taken

_log = logging.getLogger(__name__)
ADVISE_ROWS = 60
ADVISE_EVERY_S = 10
"""Findings rest on the last minute and are worked out every ten seconds."""


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
        self.simulated = simulated
        self.joined = bool(recording.setup.assign)
        """Whether a channel feeds a measuring point from the start on."""
        self.card, self._curves = card, curves or {}
        self._recent: deque[Results] = deque(maxlen=ADVISE_ROWS)
        self._advised = -ADVISE_EVERY_S
        self._support: Support | None = None
        self._watch = BandWatch()
        self._judged: dict[str, Judged] = {}
        self._events: list[Event] = []
        self._channels: tuple[str, ...] = ()
        self._labels: dict[str, str] = {}
        self._cursor = recording.engine.ring.cursor()
        self._newest_rows = Recent(recording.engine.ring)
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
            kind="simulated" if self.simulated else "recording",
            bands=self._bands(mode),
            support=self._support,
            judged=dict(self._judged),
            alarms=snapshot.alarms,
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

    def alarm(self, text: str) -> None:
        """Note what was done about the alarm that wants somebody."""
        calling = next((one for one in self._engine.snapshot().alarms if one.wants_person), None)
        if calling is not None:
            self._declare(Event(self._engine.elapsed_us(), 0, KIND, calling.rule.code, text))

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

    def taken(self) -> Taken:
        """Give the newest readings, for a match."""
        from logger.match_outcome import taken_now

        return taken_now(self._engine, self._newest_rows)

    def correct(self, texts: Mapping[str, str]) -> None:
        """Let offsets of channels hold from now on, all of them or none; an empty text for no offset."""
        now = self._engine.elapsed_us()
        self._in_loop(lambda: self._try([Event(now, 0, "offset", c, text) for c, text in texts.items()]))

    def declare(self, kind: str, text: str, *, whole: bool = False) -> None:
        """Let something hold from now on; a recording is put right as a whole once it is stored."""
        self._in_loop(lambda: self._try([Event(self._engine.elapsed_us(), 0, kind, "", text)]))

    def _declare(self, event: Event) -> None:
        self._events.append(event)
        self._in_loop(lambda: self._try([event]))

    def _try(self, events: list[Event]) -> None:
        """Declare events, in the loop; a refusal becomes a notice."""
        try:
            self._engine.declare(events)
            self.notice = ""
        except (SettingsError, SessionError, CommandError) as refused:
            self.notice = str(refused)
            return
        for event in events:
            if event.kind == "refrigerant" and event.text and event.text not in self._curves:
                self._curves = {**self._curves, event.text: find_curve(event.text)}

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
        self._engine.on_results = self._follow
        with awake() as asleep:
            if asleep:
                self._engine.note("awake", "", asleep)
            self.warnings = await self._engine.run()

    def _bands(self, mode: str) -> Mapping[str, Band]:
        return bands_of(self.card.bands, mode) if self.card is not None else {}

    def _advise(self, newest: Results) -> None:
        """Work the findings out anew."""
        since = float(newest.judgement.since_change_s[-1])
        found = advise(self._recent, self._curves, self.card, running=runs(newest), since_change_s=since)
        self._support = support_of(found, self.preset, newest.settings.barometer_pa)

    def _follow(self, spans: Sequence[Results]) -> None:
        """Take new rows in; a fault in what is only shown must never end a recording."""
        try:
            self._take(spans)
        except Exception as error:
            _log.exception("What is shown can no longer follow the recording")
            self._engine.on_results = None
            fault = type(error).__name__
            self.failure = f"the screen stands still: a fault in the program ({fault}); recording goes on"

    def _take(self, spans: Sequence[Results]) -> None:
        """Take every closed row into the history, however many come at once; called in the loop."""
        for span in spans:
            if not span.rows:
                continue
            self.history.append(span)
            bands = self._bands(span.settings.mode)
            for index in range(max(span.rows - ADVISE_ROWS, 0), span.rows):
                row = row_of(span, index)
                self._judged = self._watch.step(float(row.t_us[-1]) / 1e6, readings_to_judge(row, bands))
                self._recent.append(row)
        if not self._recent:
            return
        newest = self._recent[-1]
        second = int(newest.t_us[-1]) // 1_000_000
        if second >= self._advised + ADVISE_EVERY_S:
            self._advised = second
            self._advise(newest)


def _labels_in(folder: Path) -> dict[str, str]:
    """Read the channels' labels from the session that is being written."""
    try:
        return {channel.id: plain(channel.label) for channel in read_descriptor(folder).channels}
    except SessionError:
        return {}
