"""A stored session for looking at: any moment of it as a :class:`Present`."""

from __future__ import annotations

import math
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from analysis.alarm_standing import KIND
from analysis.analyser import Results
from analysis.marks import moved_back, standing_marks, taken_back
from analysis.presets import PresetName
from analysis.saturation import SaturationCurve
from analysis.settings import SettingsError, settings_over_time
from analysis.timeline import Event, timeline
from analysis.unit_card import UnitCard
from drivers.base import LinkEvent, LinkState
from logger.amend import amend
from logger.append_events import append_events
from logger.desktop.advice import advise, support_of
from logger.desktop.bands import BandWatch, bands_of
from logger.desktop.history import History
from logger.desktop.present import Mark, Present, judge_rows, runs
from logger.desktop.support_words import Support
from logger.engine import Link
from logger.replay import analyse_session, curves_for, end_us
from logger.session import Session
from logger.session_alarms import SessionAlarms
from logger.session_card import card_of
from logger.session_errors import SessionError
from logger.shown_values import plain
from logger.written_file import read_written

JUDGE_ROWS = 12
"""Rows that the bands' delays look back over."""
ADVISE_ROWS = 120
"""Rows that findings rest on."""
CLOSING_US = 2_000_000
"""A link that ends so shortly before the recording was closed with it."""


def marks_of(events: list[Event]) -> tuple[Mark, ...]:
    """Give the marks of a session, numbered in time; one that was taken back is left out."""
    standing = sorted(standing_marks(events), key=lambda event: event.t_us)
    return tuple(Mark(n, event.t_us, plain(event.text)) for n, event in enumerate(standing, 1))


def _worked_out(session: Session, card: UnitCard | None) -> tuple[History, SessionAlarms]:
    history = History(keep_rows=True)

    def kept() -> Iterator[Results]:
        for results in analyse_session(session):
            if results.rows:
                history.append(results)
            yield results

    return history, SessionAlarms.of(kept(), card, session.events)


@dataclass
class Review:
    """A session with everything worked out."""

    session: Session
    history: History
    alarms: SessionAlarms
    card: UnitCard | None
    curves: Mapping[str, SaturationCurve]
    end_us: int
    preset: PresetName
    shown_us: int = 0
    """The moment that is shown."""
    notice: str = ""
    _seen: tuple[tuple[int, int, str, int], Present] | None = None
    recording = False
    finished = True

    @property
    def folder(self) -> Path:
        """Where the session lies."""
        return self.session.folder

    @property
    def events(self) -> list[Event]:
        """Everything that happened beside the readings."""
        return self.session.events

    @classmethod
    def open(cls, session: Session, preset: PresetName, card: str = "") -> Review:
        """Work a session out.

        Parameters
        ----------
        card
            Path of a unit card; the one beside the session or recorded with it by default.
        """
        beside = session.folder / "unit.toml"
        if not card and beside.is_file():
            card = str(beside)
        text = read_written(Path(card), "unit card") if card else session.header.unit_card
        known = card_of(text, card or "the unit card of the session") if text else None
        history, alarms = _worked_out(session, known)
        end = end_us(session)
        return cls(session, history, alarms, known, curves_for(session), end, preset, end)

    def present(self) -> Present:
        """Give the moment that is shown; worked out once for each moment."""
        key = (self.shown_us, len(self.session.events), self.notice, id(self.history))
        if self._seen is None or self._seen[0] != key:
            self._seen = (key, self.at(self.shown_us))
        return self._seen[1]

    def move(self, seconds: float) -> None:
        """Show a moment so many seconds later."""
        self.shown_us = min(max(self.shown_us + round(seconds * 1e6), 0), self.end_us)

    def mark(self, text: str = "", ago_s: float = 0.0) -> None:
        """Add a mark at the moment that is shown, whenever the key was pressed."""
        self._add([Event(self.shown_us, time.time_ns() // 1000, "mark", "", text)])

    def undo(self) -> None:
        """Take the newest mark up to the moment shown back; both stay in the file."""
        marks = self._standing()
        if marks:
            self._add([taken_back(marks[-1], time.time_ns() // 1000)])

    def back_date(self, seconds: float) -> None:
        """Move the newest mark to a moment before it was set."""
        marks = self._standing()
        if marks:
            self._add(list(moved_back(marks[-1], seconds, time.time_ns() // 1000)))

    def name(self, text: str, t_us: int | None = None) -> None:
        """Give a text to the mark of a moment, or to the one that was set last."""
        marks = self._standing()
        if t_us is None and marks:
            t_us = marks[-1].t_us
        if t_us is not None:
            self._add([Event(t_us, time.time_ns() // 1000, "named", "", text)])

    def _standing(self) -> list[Event]:
        """Give the marks up to the moment that is shown, in the order in which they were set."""
        return [mark for mark in standing_marks(self.session.events) if mark.t_us <= self.shown_us]

    def alarm(self, text: str) -> None:
        """Note what was done about the alarm that wants somebody at the moment that is shown."""
        calling = next((one for one in self.alarms.shown(self.shown_us) if one.wants_person), None)
        if calling is not None:
            event = Event(self.shown_us, time.time_ns() // 1000, KIND, calling.rule.code, text)
            if self._add([event]):
                self.alarms = replace(self.alarms, acts=(*self.alarms.acts, event))

    def assign(self, channel: str, point: str) -> None:
        """Let a channel feed a measuring point through the whole session, and work it out again."""
        now = time.time_ns() // 1000
        newest = self.history.at(self.shown_us)
        before = newest.settings.channel_of.get(point) if newest is not None else None
        events = [Event(0, now, "assign", before, "")] if before not in (None, channel) else []
        events.append(Event(0, now, "assign", channel, point))
        try:
            settings_over_time(
                [*self.session.events, *events], {known.id: known for known in self.session.channels}
            )
        except SettingsError as refused:
            self.notice = str(refused)
            return
        if self._add(events):
            self.history, self.alarms = _worked_out(self.session, self.card)

    def declare(self, kind: str, text: str, *, whole: bool) -> None:
        """Put right what was declared, for the whole session or from the moment shown, and work it out again.

        Raises
        ------
        CommandError
            If it cannot be understood, or the session cannot be written.
        """
        event = amend(self.session, kind, "", text, 0 if whole else self.shown_us)
        self.session.events.append(event)
        self.notice = ""
        curves = curves_for(self.session)
        self.history, self.alarms = _worked_out(self.session, self.card)
        self.curves = curves

    def stop(self, reason: str) -> None:
        """Do nothing: nothing is being recorded."""

    def _add(self, events: list[Event]) -> bool:
        """Append events to the session; says so where that is refused."""
        try:
            append_events(self.session.folder, events)
        except SessionError as refused:
            self.notice = f"{refused}."
            return False
        self.session.events.extend(events)
        self.notice = ""
        return True

    def at(self, t_us: int) -> Present:
        """Give the session as it was at a moment."""
        t_us = min(max(t_us, 0), self.end_us)
        newest = self.history.at(t_us)
        mode = newest.settings.mode if newest is not None else ""
        bands = bands_of(self.card.bands, mode) if self.card is not None else {}
        judged = judge_rows(BandWatch(), self.history.before(t_us, JUDGE_ROWS), bands)
        silent: dict[str, float] = {}
        if newest is not None:
            for point, channel in newest.settings.channel_of.items():
                seconds = self.history.silence_s(point, t_us)
                if math.isfinite(seconds):
                    silent[channel] = seconds
        marks = tuple(mark for mark in marks_of(self.session.events) if mark.t_us <= t_us)
        return Present(
            elapsed_us=t_us,
            newest=newest,
            links=self._links(t_us),
            channels=tuple(channel.id for channel in self.session.channels),
            labels={channel.id: plain(channel.label) for channel in self.session.channels},
            silent=silent,
            title=plain(self.session.header.title) or self.session.folder.name,
            preset=self.preset,
            kind="review",
            end_us=self.end_us,
            bands=bands,
            judged=judged,
            alarms=self.alarms.shown(t_us),
            marks=marks,
            support=self._support(t_us, newest),
            notice=self.notice,
        )

    def _support(self, t_us: int, newest: Results | None) -> Support | None:
        """Say what the last minute before a moment supports."""
        if newest is None:
            return None
        since = float(newest.judgement.since_change_s[-1])
        rows = self.history.tail(t_us, ADVISE_ROWS)
        found = advise(rows, self.curves, self.card, running=runs(newest), since_change_s=since)
        return support_of(found, self.preset, newest.settings.barometer_pa)

    def _links(self, t_us: int) -> tuple[Link, ...]:
        """Give the devices' links as they stood; what came with the end of the recording is no loss."""
        names = dict.fromkeys(channel.id.partition("/")[0] for channel in self.session.channels)
        found = []
        for name in names:
            line = [
                entry for entry in timeline(self.session.events, "link", name)
                if entry[0] <= t_us and entry[0] < self.end_us
            ]  # fmt: skip
            event = None
            if line:
                word, _, reason = line[-1][1].partition(": ")
                state = next((s for s in LinkState if s.value == word.strip()), None)
                if state is LinkState.ENDED and line[-1][0] >= self.end_us - CLOSING_US:
                    state = LinkState.LIVE
                event = LinkEvent(line[-1][0] * 1000, state, reason) if state is not None else None
            found.append(Link(name, event))
        return tuple(found)
