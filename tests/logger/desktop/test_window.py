"""The window: keys and touches, marks, views, looks, joining, and closing that loses nothing."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from PySide6.QtCore import QByteArray, QEvent, QPointF, Qt
from PySide6.QtGui import QCloseEvent, QKeyEvent, QMouseEvent
from PySide6.QtWidgets import QApplication

from analysis.timeline import Event
from logger.demo import HALL, open_visit, simulated_machine
from logger.desktop.history import History
from logger.desktop.live import Live
from logger.desktop.painter import family
from logger.desktop.present import Mark, Present
from logger.desktop.review import Review, marks_of
from logger.desktop.staged import stage
from logger.desktop.window import Window
from logger.replay import open_session
from logger.session import Session
from tests.logger.hall_sessions import AS_FOUND, hall_session


class Staged:
    """A source that stands still and remembers what it was asked for."""

    def __init__(self, recording: bool) -> None:
        self.recording, self.finished, self.notice = recording, False, ""
        self._present, self.history = stage("as-found")
        self.asked: list[str] = []
        self.ago_s: list[float] = []
        self.events: list[Event] = []

    def present(self) -> Present:
        marks = tuple(Mark(n + 1, n, what) for n, what in enumerate(self.asked) if what.startswith("mark"))
        return replace(self._present, marks=marks)

    def mark(self, text: str = "", ago_s: float = 0.0) -> None:
        self.asked.append(f"mark {text}".strip())
        self.ago_s.append(ago_s)

    def name(self, text: str, t_us: int | None = None) -> None:
        self.asked.append(f"name {text}" if t_us is None else f"name {text} at {t_us}")

    def undo(self) -> None:
        self.asked.append("undo")

    def back_date(self, seconds: float) -> None:
        self.asked.append(f"back {seconds:g}")

    def alarm(self, text: str) -> None:
        self.asked.append(f"alarm {text}")
        self._present = replace(self._present, alarms=())

    def assign(self, channel: str, point: str) -> None:
        self.asked.append(f"assign {channel} {point}")

    def stop(self, reason: str) -> None:
        self.asked.append(f"stop {reason}")
        self.finished = True


@pytest.fixture
def source() -> Staged:
    return Staged(recording=True)


@pytest.fixture
def window(application: QApplication, source: Staged) -> Iterator[Window]:
    made = Window(source)
    made.show()
    yield made
    source.recording = False
    made.close()
    made.deleteLater()


def _press(window: Window, key: Qt.Key) -> None:
    window.keyPressEvent(QKeyEvent(QEvent.Type.KeyPress, key, Qt.KeyboardModifier.NoModifier))


def _touch(window: Window, act: str) -> None:
    target = next(t for t in window.scene.targets if t.act == act)
    at = QPointF(target.rect.x + target.rect.w / 2, target.rect.y + target.rect.h / 2)
    left, none = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    window.mousePressEvent(QMouseEvent(QEvent.Type.MouseButtonPress, at, at, left, left, none))


def test_an_alarm_is_answered_by_touch_or_key_and_waits_only_with_a_reason(
    window: Window, source: Staged
) -> None:
    assert "ALARM: freeze margin too low, 1.6 K: be ready to stop the unit" in _words(window)
    _touch(window, "alarm wait")
    assert not source.asked, "a reason is asked for first"
    _touch(window, "alarm agreed")
    assert source.asked == ["alarm shelved for 30 min: agreed with the owner"]
    assert "ALARM" not in _words(window)
    _press(window, Qt.Key.Key_A)
    assert source.asked[-1] == "alarm acknowledged"


def _words(window: Window) -> str:
    return " | ".join(text.text for text in window.scene.texts)


def test_the_shipped_fonts_load(application: QApplication) -> None:
    assert family() == "B612"


def test_keys_mark_take_back_and_move_back(window: Window, source: Staged) -> None:
    for key in (Qt.Key.Key_Space, Qt.Key.Key_Left, Qt.Key.Key_C, Qt.Key.Key_L, Qt.Key.Key_Backspace):
        _press(window, key)
    assert source.asked == ["mark", "back 5", "mark I changed", "mark I looked", "undo"]


def test_a_touch_on_mark_now_marks_and_offers_to_move_it_back(window: Window, source: Staged) -> None:
    _touch(window, "mark")
    assert {"back 5", "back 15", "back 30"} <= {t.act for t in window.scene.targets}
    _touch(window, "back 15")
    assert source.asked == ["mark", "back 15"]


def test_views_change_by_number_and_page_keys_and_far_comes_and_goes(window: Window) -> None:
    seen = []
    for key in (Qt.Key.Key_2, Qt.Key.Key_PageDown, Qt.Key.Key_PageUp, Qt.Key.Key_F, Qt.Key.Key_0):
        _press(window, key)
        seen.append(window.scene.view)
    assert seen[0] == "trends"
    assert seen[2] == "trends"
    assert seen[3:] == ["far", "levels"]


def test_a_touch_on_a_lane_brings_the_next_series_and_never_one_twice(window: Window) -> None:
    window.show_view("trends")
    window.redraw()
    seen = set()
    for _ in range(len(window.source.history.series) + 2):
        _touch(window, "lane 1")
        lanes = window.choices.lanes
        assert len(set(lanes)) == 4
        seen.add(lanes[1])
    assert len(seen) == len(window.source.history.series) - 3


def test_looks_follow_each_other(window: Window) -> None:
    looks = []
    for _ in range(3):
        _press(window, Qt.Key.Key_T)
        looks.append(window.look)
    assert looks == ["sun", "night", "dark"]
    assert any("waived" in text.text for text in window.scene.texts)


def test_a_channel_is_joined_to_a_point_by_touches(window: Window, source: Staged) -> None:
    window.show_view("devices")
    window.redraw()
    _touch(window, "join")
    _touch(window, "channel gauges/suction_temperature")
    _touch(window, "point liquid_pressure")
    assert source.asked == ["assign gauges/suction_temperature liquid_pressure"]
    assert "join" in {t.act for t in window.scene.targets}


def test_the_axis_stays_until_it_is_refitted(window: Window) -> None:
    before = window.axis
    window.redraw()
    assert window.axis is before
    _press(window, Qt.Key.Key_R)
    assert window.axis is not before


def test_closing_while_recording_asks_first_and_then_ends_the_recording(
    window: Window, source: Staged
) -> None:
    first = QCloseEvent()
    window.closeEvent(first)
    assert not first.isAccepted()
    assert source.asked == []
    assert any("still recording" in text.text for text in window.scene.texts)
    window._asked = time.monotonic() - 1.0
    second = QCloseEvent()
    window.closeEvent(second)
    assert source.asked == ["stop stopped by the person"]
    assert not second.isAccepted()
    third = QCloseEvent()
    window.closeEvent(third)
    assert third.isAccepted()


def test_a_touch_scales_with_the_window(window: Window, source: Staged) -> None:
    window.resize(1024, 768)
    target = next(t for t in window.scene.targets if t.act == "mark")
    scale = 1024 / 1280
    at = QPointF((target.rect.x + 5) * scale, (768 - 640) / 2 + (target.rect.y + 5) * scale)
    left, none = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    window.mousePressEvent(QMouseEvent(QEvent.Type.MouseButtonPress, at, at, left, left, none))
    assert source.asked == ["mark"]


def test_a_stored_session_is_shown_moved_through_marked_and_put_right(
    application: QApplication, tmp_path: Path
) -> None:
    folder = hall_session(tmp_path / "hall", AS_FOUND, seconds=900)
    review = Review.open(open_session(str(folder)), "si")
    shown = Window(review)
    try:
        end = review.shown_us
        _press(shown, Qt.Key.Key_Left)
        assert review.shown_us == end - 10_000_000
        review.shown_us = 0
        shown.redraw()
        _press(shown, Qt.Key.Key_P)
        shown.pull()
        shown.pull()
        assert review.shown_us == 2_000_000  # two pulls of a tenth of a second at ten times real time
        review.shown_us = end - 10_000_000
        _press(shown, Qt.Key.Key_P)
        _press(shown, Qt.Key.Key_P)
        shown.act("mark")
        assert [mark.t_us for mark in marks_of(Session.open(folder).events)] == [review.shown_us]
        shown.act("undo")
        assert marks_of(Session.open(folder).events) == ()
        before = review.present().value("suction_temperature")
        review.assign("clamps/tl", "suction_temperature")
        assert review.present().value("suction_temperature") == pytest.approx(before + 33.0, abs=0.1)
        assert ("assign", "clamps/tl", "suction_temperature") in {
            (e.kind, e.subject, e.text) for e in Session.open(folder).events
        }
    finally:
        shown.close()


def test_a_channel_that_cannot_feed_a_point_is_refused_in_a_sentence(tmp_path: Path) -> None:
    folder = hall_session(tmp_path / "hall", AS_FOUND, seconds=120)
    review = Review.open(open_session(str(folder)), "si")
    review.assign("gauges/ps", "suction_temperature")
    assert "cannot feed suction_temperature" in review.present().notice
    assert review.present().value("suction_pressure") > 0


def test_a_live_machine_is_recorded_marked_and_closed_whole(
    application: QApplication, tmp_path: Path
) -> None:
    folder = tmp_path / "live"
    with simulated_machine("hall", "as-found", speed=1.0) as (address, _):
        live = Live(open_visit(HALL, HALL.visits[0], address, folder, live=True), "si", simulated=True)
        live.start()
        shown = Window(live)
        try:
            deadline = time.monotonic() + 15.0
            while live.present().newest is None and time.monotonic() < deadline:
                time.sleep(0.05)
                shown.pull()
            shown.act("mark")
            live.assign("machine/ts", "suction_pressure")
            while not live.notice and time.monotonic() < deadline:
                time.sleep(0.05)
            present = live.present()
        finally:
            live.stop("test")
            assert live.join(30.0)
            shown.close()
    assert present.newest is not None
    assert "cannot feed suction_pressure" in present.notice
    assert present.kind == "simulated"
    assert live.failure == ""
    session = Session.open(folder)
    assert session.state.value == "closed"
    assert len(marks_of(session.events)) == 1
    assert live.history.rows > 0


def test_the_window_does_not_load_the_property_library() -> None:
    code = (
        "import sys; import logger.desktop.running, logger.desktop.window, logger.desktop.staged;"
        "import logger.desktop.opening;"
        "from logger.desktop.staged import stage; stage('as-found');"
        "bad = [m for m in ('CoolProp', 'pyqtgraph', 'pandas') if m in sys.modules]; print(bad);"
        "sys.exit(bool(bad))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], check=False, capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_qt_calls_do_not_eat_references_to_none() -> None:
    # PySide6 6.12 on Python 3.11 takes one reference to None away with every call that returns nothing.
    array = QByteArray()
    array.resize(1)
    before = sys.getrefcount(None)
    for number in range(1000):
        array.resize(number % 7)
    assert abs(sys.getrefcount(None) - before) < 100


def test_a_missing_display_is_told_in_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    from logger.desktop.display import why_no_window

    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(sys, "platform", "linux")
    assert "no display" in why_no_window()


def test_history_of_a_live_recording_keeps_no_rows() -> None:
    assert History(keep_rows=False).at(0) is None


@pytest.mark.parametrize("wanted", [True, False])
def test_labels_glide_when_levels_change_order_and_nothing_else_moves(
    window: Window, source: Staged, monkeypatch: pytest.MonkeyPatch, wanted: bool
) -> None:
    from logger.desktop import glider as module

    monkeypatch.setattr(module, "motion_wanted", lambda: wanted)
    now = [1000.0]
    monkeypatch.setattr(module.time, "monotonic", lambda: now[0])
    window.redraw()

    def heights() -> dict[str, float]:
        return {t.of: t.y for t in window.scene.texts if t.px == 22 and t.of.endswith("_temperature")}

    def rest() -> list[tuple[str, float, float]]:
        texts = window.scene.texts
        return [(t.text, t.x, t.y) for t in texts if not (240 < t.x < 400 or 580 < t.x < 700)]

    before = heights()
    newest = source._present.newest
    assert newest is not None
    points = dict(newest.points)
    column = points["suction_temperature"]
    points["suction_temperature"] = replace(
        column, value=column.value - 8.0
    )  # now below the evaporating level
    source._present = replace(source._present, newest=replace(newest, points=points))
    window.redraw()
    began, still = heights(), rest()
    now[0] += 0.075
    window._glider.step()
    half = heights()
    now[0] += 0.1
    window._glider.step()
    ended = heights()
    assert abs(ended["suction_temperature"] - before["suction_temperature"]) > 40
    if wanted:
        assert began["suction_temperature"] == before["suction_temperature"]
        assert before["suction_temperature"] < half["suction_temperature"] < ended["suction_temperature"]
    else:
        assert began == half == ended
    assert rest() == still


def test_a_fault_in_what_is_shown_does_not_end_the_recording(monkeypatch: pytest.MonkeyPatch) -> None:
    live = Live.__new__(Live)
    live.failure, live._engine = "", SimpleNamespace(on_results=live._follow)  # type: ignore[assignment]

    def fail(*_: object) -> None:
        raise ValueError("a fault")

    monkeypatch.setattr(live, "_take", fail)
    live._follow([])
    assert "the screen stands still" in live.failure
    assert live._engine.on_results is None


def test_every_touch_can_be_reached_and_done_by_keyboard(window: Window, source: Staged) -> None:
    tab = QKeyEvent(QEvent.Type.KeyPress, Qt.Key.Key_Tab, Qt.KeyboardModifier.NoModifier)
    for view in ("levels", "trends", "compare", "devices", "far", "report", "cycle"):
        window.show_view(view)
        window.redraw()
        acts = {t.act for t in window.scene.targets if t.act.split(" ")[0] not in ("moment", "look", "far")}
        reached = set()
        for _ in range(len(acts)):
            QApplication.sendEvent(window, QKeyEvent(tab))
            reached.add(window.ring)
            assert any(getattr(item, "name", "") == "ring" for item in window.scene.items)
        assert reached == acts
    window.show_view("levels")
    window.redraw()
    for _ in window.scene.targets:
        QApplication.sendEvent(window, QKeyEvent(tab))
        if window.ring == "undo":
            break
    _press(window, Qt.Key.Key_Return)
    assert source.asked == ["undo"]
    _press(window, Qt.Key.Key_Escape)
    _press(window, Qt.Key.Key_Return)
    assert source.asked == ["undo", "mark"]
