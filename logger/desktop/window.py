"""The window: paints the present view, takes keys and touches, and pulls what is new ten times a second."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QCloseEvent, QKeyEvent, QMouseEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from analysis.alarm_standing import ACKNOWLEDGED, shelve_text
from logger.desktop.axis import Axis
from logger.desktop.cues import CueWatch
from logger.desktop.drawing import Choices, draw
from logger.desktop.electrical_keys import VIEWS_WITH_KEYS
from logger.desktop.frame_parts import SHELVE_FOR, SHELVED_MIN, VIEWS
from logger.desktop.glider import Glider
from logger.desktop.keyboard import Keyboard
from logger.desktop.lanes import next_lane
from logger.desktop.looks import LOOKS, NEXT_LOOK, LookName
from logger.desktop.naming import Naming
from logger.desktop.painter import fit, paint
from logger.desktop.present import Present
from logger.desktop.reaching import next_act, with_ring
from logger.desktop.scene import Scene
from logger.desktop.scene_far import default_gap, next_gap
from logger.desktop.scene_levels import axis_for, levels_complete
from logger.desktop.session_desk import SessionDesk
from logger.desktop.sounds import Sounds
from logger.desktop.source import Source
from logger.desktop.stand_ins import StandIns

if TYPE_CHECKING:
    from logger.desktop.electrical_visit import ElectricalVisit
    from logger.desktop.match_desk import MatchDesk
    from logger.desktop.paperwork import Paperwork
    from logger.desktop.scene_compare import ComparePage
    from logger.desktop.scene_session import SessionPage
    from logger.desktop.typing_visit import TypingVisit

PULL_MS = 100
VALUES_S = 0.5
"""How often values are redrawn where no new row has come."""
BACK_DATE_S = 6.0
AXIS_WAITS_US = 15_000_000
"""For so long after a phase has begun the axis waits for levels that are not there yet."""
AGAIN_S = (0.5, 5.0)
"""The second touch that ends a recording must come within this time."""
LONG_TOUCH_S = 0.6
NOTICE_S = 6.0
PLAY = (0.0, 10.0, 60.0)
"""How fast a stored session is played, times real time."""


class Window(QWidget):
    """The one window."""

    def __init__(
        self, source: Source, look: LookName = "dark", view: str = "levels",
        page: ComparePage | None = None, paperwork: Paperwork | None = None, sounds: Sounds | None = None,
    ) -> None:  # fmt: skip
        super().__init__()
        self.source = source
        self._page = page
        self.paperwork = paperwork
        self.desk = SessionDesk(source, source.present().preset)
        self._matching: MatchDesk | None = None
        self.choices = Choices(view=view)
        self.look: LookName = look
        self.axis: Axis | None = None
        self.scene: Scene = Scene("levels", ())
        self._present = Present()
        self._phase: tuple[str, str] | None = None
        self._axis_until_us, self._axis_open = 0, True
        self._drawn = (-1, 0.0)
        self._marked = 0.0
        self._asked = 0.0
        self._pressed = 0.0
        self._notice = ("", 0.0)
        self._closing = self._shelving = self._then_visit = False
        self.new_visit: Callable[[], Source] | None = None
        """Begins to set up another visit; None where that cannot be."""
        self._playing = 0.0
        self._redone = 0
        self.ring = ""
        """The act whose key Tab has reached."""
        self._electrical: ElectricalVisit | None = None
        self.sounds = sounds or Sounds(on=False)
        self._cues = CueWatch()
        self._keyboard = Keyboard(self)
        self.naming: Naming | None = None
        """The mark that is being named."""
        self._stand_ins = StandIns(self, self.press)
        self.setWindowTitle("evenrun")
        self.setMinimumSize(640, 400)
        self.resize(1280, 800)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._glider = Glider(self.paint_scene, self)
        self._timer = QTimer(self)
        self._timer.timeout.connect(self.pull)
        self._timer.start(PULL_MS)
        self.pull()

    def pull(self) -> None:
        """Ask for what is new and redraw where something is."""
        if self._playing:
            self._play()
        opened = self.desk.opened or getattr(self.source, "opened", None)
        if opened is not None:
            self._adopt(opened)
        self._put_right()
        self._look_at_papers()
        now = time.monotonic()
        self._keyboard.due(now)
        present = self.source.present()
        if self.source.recording:
            cue = self._cues.step(present, now)
            if cue is not None:
                self.sounds.play(cue)
        newest = -1 if present.newest is None else int(present.newest.t_us[-1])
        if self._closing and self.source.finished:
            if self._then_visit and self.new_visit is not None:
                self._adopt(self.new_visit())
            else:
                self.close()
            return
        if (newest, present.marks) != (self._drawn[0], self._present.marks) or now - self._drawn[
            1
        ] >= VALUES_S:
            self._drawn = (newest, now)
            self.redraw(present)

    def _play(self) -> None:
        """Move on through a stored session; ends at its end."""
        move = getattr(self.source, "move", None)
        before = self._present.elapsed_us
        if move is not None:
            move(self._playing * PULL_MS / 1000.0)
        if move is None or self.source.present().elapsed_us == before:
            self._playing = 0.0

    def redraw(self, present: Present | None = None) -> None:
        """Draw the scene of the present view."""
        now = time.monotonic()
        present = present if present is not None else self.source.present()
        notice = self._notice[0] if now - self._notice[1] < NOTICE_S else ""
        if self.choices.view == "compare" and self.page is None and self.paperwork is not None:
            notice = notice or self.paperwork.page.busy or self.paperwork.page.trouble
        asking = ""
        if self._closing:
            asking = "closing the session: everything is kept"
        elif self.source.recording and now - self._asked < AGAIN_S[1]:
            asking = "still recording: close once more to end it; everything is kept"
        elif self.naming is not None:
            asking = self.naming.words
        electrical = self.electrical if self.choices.view in VIEWS_WITH_KEYS else None
        present = replace(
            present,
            notice=notice or (electrical.notice if electrical is not None else "") or present.notice,
            asking=asking,
            backdating=self.backdating,
            shelving=self._shelving,
        )
        self._keep_axis(present)
        self._present = present
        self._glider.send(present, self.axis, shown=self.choices.view == "levels")
        self.paint_scene()

    def paint_scene(self) -> None:
        """Draw the scene of what was read last."""
        present = self._present
        source, typing = self.source, self.typing()
        typed = typing.page if typing is not None else None
        report = self.paperwork.page if self.paperwork is not None else None
        with_keys = self.choices.view in VIEWS_WITH_KEYS
        scene = draw(
            present, source.history, self.choices, self.axis, source.events, self.page, typed, report,
            self._session(present), self._glider.places(),
            self.electrical.page(present) if with_keys else None, getattr(source, "finding", None),
            self._matching.page() if self._matching and self.choices.view == "devices" else None,
        )  # fmt: skip
        self.scene = with_ring(scene, self.ring)
        self._stand_ins.follow(self.scene, self.ring)
        self.update()

    @property
    def page(self) -> ComparePage | None:
        """What the compare view shows: the pair that was opened, or both ends of one session."""
        return (self.paperwork.comparison if self.paperwork is not None else None) or self._page

    @property
    def backdating(self) -> bool:
        """Whether a mark was set so lately that it may be dated back."""
        return time.monotonic() - self._marked < BACK_DATE_S

    def _session(self, present: Present) -> SessionPage | None:
        """Give what the session view shows; None where that is not the view, or nothing can be declared."""
        shown = self.choices.view == "session" and hasattr(self.source, "declare")
        return self.desk.page(present, self._playing) if shown else None

    def _put_right(self) -> None:
        """Take up what the session view has done in the background."""
        told = self.desk.notice()
        if told:
            self.tell(told)
        if self.desk.redone != self._redone:
            self._redone, self._drawn = self.desk.redone, (-1, 0.0)
            if self.paperwork is not None:
                self.paperwork.again()

    def _adopt(self, source: Source) -> None:
        """Show another source; nothing of the one before is kept in memory."""
        from logger.desktop.adopting import paperwork_for, view_for, where_told

        view = view_for(source, self.source, self.choices.view)
        self.source, self.desk = source, SessionDesk(source, source.present().preset)
        self._page, self.paperwork = None, paperwork_for(source)
        self._phase, self.axis, self._drawn, self._redone = None, None, (-1, 0.0), 0
        self._playing, self._electrical, self._matching = 0.0, None, None
        self._closing, self.ring = False, ""
        self.choices = Choices(view=view)
        if told := where_told(source):
            self.tell(told)

    @property
    def electrical(self) -> ElectricalVisit:
        """Electrical readings beside what is shown; loaded when they are first looked at."""
        if self._electrical is None:
            from logger.desktop.electrical_source import visit_beside

            self._electrical = visit_beside(self.source)
        return self._electrical

    @property
    def matching(self) -> MatchDesk:
        """The guided match of probes and gauges; loaded when it is first opened."""
        if self._matching is None:
            from logger.desktop.match_desk import MatchDesk

            self._matching = MatchDesk(self.source, self._present.preset, self.sounds)
        return self._matching

    def typing(self) -> TypingVisit | None:
        """Give the source where it is a typed visit."""
        return self.source if hasattr(self.source, "choose") else None  # type: ignore[return-value]

    def _keep_axis(self, present: Present) -> None:
        """Choose the axis once when a phase begins with its first levels; never by itself after that."""
        if present.newest is None:
            return
        phase = (present.newest.settings.mode, present.newest.settings.phase)
        if phase != self._phase:
            self._phase, self._axis_until_us = phase, present.elapsed_us + AXIS_WAITS_US
            self.axis = None
        # A probe that is heard late still counts, but nothing moves once the machine is being watched.
        if self.axis is None or (self._axis_open and present.elapsed_us < self._axis_until_us):
            self.axis = axis_for(present)
            self._axis_open = not levels_complete(present)

    def act(self, act: str) -> None:
        """Do what a key or a touch asks for."""
        name, _, rest = act.partition(" ")
        match name:
            case "mark":
                self._mark("", rest)
            case "changed" | "looked":
                self._mark(f"I {name}", rest)
            case "undo":
                self.source.undo()
                self.sounds.play("undo")
                self._marked = 0.0
            case "back":
                # It stays on offer, so that two touches of 30 s say "it was a minute ago".
                self.source.back_date(float(rest))
                self._marked = time.monotonic()
            case "name":
                self._begin_naming()
            case "silence":
                self._silence()
            case "alarm":
                self._alarm(rest)
            case "next" | "previous":
                at = VIEWS.index(self.choices.view) + (1 if name == "next" else -1)
                self.show_view(VIEWS[at % len(VIEWS)])
            case "view":
                self.show_view(rest)
            case "far":
                self.show_view("levels" if self.choices.view == "far" else "far")
            case "look":
                self.look = NEXT_LOOK[self.look]
                if self.look == "night":
                    self.tell("night look: dimmed, the contrast test is waived")
            case "refit":
                self.axis = axis_for(self._present)
                if self.source.recording:
                    self.source.mark("axis refitted")
            case "source":
                band = self._present.bands.get(rest)
                self.tell(f"band from: {band.source or 'not stated'}" if band else "no band on the unit card")
            case "join":
                self.choices = replace(self.choices, choosing=True, joining="", page=0)
            case "cancel":
                self.choices = replace(self.choices, choosing=False, joining="", page=0)
            case "page":
                self.choices = replace(self.choices, page=self.choices.page + 1)
            case "channel":
                self.choices = replace(self.choices, choosing=False, joining=rest, page=0)
            case "point":
                self._join(rest)
            case "moment":
                move = getattr(self.source, "move", None)
                self.choices = replace(self.choices, centre_us=int(rest))
                if move is not None:
                    move((int(rest) - self._present.elapsed_us) / 1e6)
            case "typed" | "typed-page" | "key":
                self._type(name, rest)
            case "match":
                self.matching.act(rest)
                if told := self.matching.notice():
                    self.tell(told)
            case "electrical":
                self.electrical.act(rest, self.choices.view)
            case "lane":
                lanes = next_lane(self._present, self.source.history, self.choices.lanes, int(rest))
                self.choices = replace(self.choices, lanes=lanes)
            case "play":
                self._playing = PLAY[(PLAY.index(self._playing) + 1) % len(PLAY)]
                told = f"playing at {self._playing:.0f} times real time" if self._playing else "playing stops"
                self.tell("a recording is live already" if self.source.recording else told)
            case "session":
                self.desk.act(rest)
            case "visit":
                self._visit(rest)
            case "speed":
                self._playing = float(rest)
                move = getattr(self.source, "move", None)
                if self._playing and self._present.at_end and move is not None:
                    move(-self._present.elapsed_us / 1e6)
            case "step":
                move = getattr(self.source, "move", None)
                if move is not None:
                    move(float(rest))
            case "report":
                if self.paperwork is not None:
                    self.paperwork.act(rest)
            case "zoom":
                self.choices = replace(self.choices, span_s=float(rest))
            case _:
                pass
        self.redraw()

    def _visit(self, act: str) -> None:
        """Set a visit up; a demonstration that still runs is ended first, by a second touch."""
        setting_up = getattr(self.source, "act", None)
        if setting_up is not None:
            setting_up(act)
        elif self.source.recording and not self.source.finished:
            self.close()
            self._then_visit = self._closing
        elif self.new_visit is not None:
            self._adopt(self.new_visit())

    def _alarm(self, act: str) -> None:
        """Acknowledge the alarm that wants somebody, or let it wait with a reason."""
        self._shelving = act == "wait"
        if act == "seen":
            self.source.alarm(ACKNOWLEDGED)
        elif act in SHELVE_FOR:
            self.source.alarm(shelve_text(SHELVED_MIN, SHELVE_FOR[act]))
            self.tell(f"the alarm waits for {SHELVED_MIN} min and comes back by itself")

    def _mark(self, text: str, late_s: str) -> None:
        """Set a mark at the moment of the press, which a busy window handles late."""
        self.source.mark(text, float(late_s or 0.0))
        self.sounds.play("mark")
        self._marked = time.monotonic()

    def _silence(self) -> None:
        """Silence all sounds, or let them be heard again; an alarm's ends when somebody answers it."""
        self.sounds.on = not self.sounds.on
        words = self.sounds.missing or "sounds are on: mark, undo, settled, a point lost, act now"
        self.tell(words if self.sounds.on else "sounds are off")

    def _begin_naming(self) -> None:
        marks = self.source.present().marks
        self.naming = Naming(marks, len(marks) - 1) if marks else None
        if self.naming is None:
            self.tell("there is no mark to name yet")

    def _type(self, name: str, rest: str) -> None:
        typing = self.typing()
        if typing is None:
            return
        if name == "typed":
            typing.choose(rest)
        elif name == "typed-page":
            typing.turn()
        else:
            typing.key(rest)

    def tell(self, notice: str) -> None:
        """Show a sentence for some seconds."""
        self._notice = (notice, time.monotonic())

    def show_view(self, view: str) -> None:
        """Go to another view."""
        self.choices = replace(self.choices, view=view, choosing=False, joining="", page=0)
        self.ring = ""
        self._look_at_papers()

    def _look_at_papers(self) -> None:
        """Let the pages be worked out while they are looked at."""
        if self.paperwork is not None and self.choices.view in ("compare", "report"):
            self.paperwork.open()

    def _join(self, point: str) -> None:
        self.source.assign(self.choices.joining, point)
        if self.paperwork is not None:
            self.paperwork.again()
        self.tell(f"{self.choices.joining} now feeds {point.replace('_', ' ')}")
        self.choices = replace(self.choices, choosing=False, joining="", page=0)

    def choose_gap(self) -> None:
        """Show the next refrigerant gap in the far view."""
        chosen = self.choices.far_gap or default_gap(self._present)
        self.choices = replace(self.choices, far_gap=next_gap(self._present, chosen))
        self.redraw()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Paint the scene, scaled as a whole."""
        painter = QPainter(self)
        paint(painter, self.scene, LOOKS[self.look], self.width(), self.height())
        painter.end()

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        """Take a touch; marks are taken at press-down."""
        self._pressed, self.ring = time.monotonic(), ""
        scale, dx, dy = fit(self.width(), self.height())
        place = event.position()
        target = self.scene.target_at((place.x() - dx) / scale, (place.y() - dy) / scale)
        if target is not None and target.act != "choose gap":
            self.act(target.act)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        """Take the end of a long touch."""
        scale, dx, dy = fit(self.width(), self.height())
        place = event.position()
        target = self.scene.target_at((place.x() - dx) / scale, (place.y() - dy) / scale)
        held = time.monotonic() - self._pressed
        if target is not None and target.act == "choose gap" and held >= LONG_TOUCH_S:
            self.choose_gap()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """Take a key."""
        self._keyboard.pressed(event)

    def keyReleaseEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """Take the end of a press."""
        self._keyboard.released(event)

    def focusNextPrevChild(self, next: bool) -> bool:  # noqa: N802 Qt's own name
        """Let Tab take the ring to the next key of the view."""
        self.ring = next_act(self.scene, self.ring, 1 if next else -1)
        self.paint_scene()
        return True

    def press(self, act: str) -> None:
        """Do what a touch on the key of an act does, without one."""
        if act == "choose gap":
            self.choose_gap()
        else:
            self.act(act)

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: N802
        """Close at once where nothing is recorded; else ask, then end the recording and keep everything."""
        if not self.source.recording or self.source.finished:
            event.accept()
            return
        event.ignore()
        since = time.monotonic() - self._asked
        if AGAIN_S[0] <= since <= AGAIN_S[1]:
            self.end_recording()
        elif not self._closing:
            self._asked = time.monotonic()
        self.redraw()

    def end_recording(self) -> None:
        """End the recording; the window closes when the session is closed on disk."""
        self._closing = True
        self.source.stop("stopped by the person")
