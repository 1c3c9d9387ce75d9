"""Marks without looking: foot switch, late handling, sounds that can be silenced, names given later."""

from __future__ import annotations

import io
import time
import wave
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QCoreApplication, QEvent, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QApplication

from analysis.alarm_standing import AlarmState
from analysis.timeline import Event
from logger.desktop.cues import ACT_EVERY_S, CueWatch
from logger.desktop.remembered import FILE, Remembered, remember, remembered
from logger.desktop.review import Review, marks_of
from logger.desktop.sounds import TONES, Cue, Sounds, wav
from logger.desktop.staged import stage
from logger.desktop.window import Window
from logger.replay import open_session
from logger.session import Session
from tests.logger.desktop.test_window import Staged
from tests.logger.hall_sessions import AS_FOUND, hall_session

PRESS, RELEASE = QEvent.Type.KeyPress, QEvent.Type.KeyRelease


class Heard(Sounds):
    """Remembers what it is asked to play."""

    def __init__(self) -> None:
        super().__init__(on=True, find=lambda name: f"/bin/{name}", platform="linux")
        self.cues: list[Cue] = []

    def play(self, cue: Cue) -> bool:
        if self.on:
            self.cues.append(cue)
        return self.on


@pytest.fixture
def source() -> Staged:
    return Staged(recording=True)


@pytest.fixture
def window(application: QApplication, source: Staged) -> Iterator[Window]:
    made = Window(source, sounds=Heard())
    made.show()
    yield made
    source.recording = False
    made.close()
    made.deleteLater()


def _key(
    kind: QEvent.Type, key: Qt.Key, stamp_ms: int = 0, text: str = "", *, auto: bool = False
) -> QKeyEvent:
    event = QKeyEvent(kind, key, Qt.KeyboardModifier.NoModifier, text, auto)
    event.setTimestamp(stamp_ms)
    return event


@pytest.mark.parametrize(
    "key", [Qt.Key.Key_F13, Qt.Key.Key_B, Qt.Key.Key_F5, Qt.Key.Key_Period, Qt.Key.Key_VolumeUp]
)
def test_any_key_of_a_foot_switch_marks_once_however_it_repeats(
    window: Window, source: Staged, key: Qt.Key
) -> None:
    stamp = 10_000
    QCoreApplication.postEvent(window, _key(PRESS, key, stamp))
    for number in range(20):
        QCoreApplication.postEvent(window, _key(PRESS, key, stamp + 30 * number, auto=True))
    for number in range(5):  # the contact bounces on release
        QCoreApplication.postEvent(window, _key(RELEASE, key, stamp + 700 + 8 * number))
        QCoreApplication.postEvent(window, _key(PRESS, key, stamp + 704 + 8 * number))
    QCoreApplication.postEvent(window, _key(RELEASE, key, stamp + 745))
    QCoreApplication.processEvents()
    assert source.asked == ["mark"]


def test_a_mark_is_dated_to_the_press_while_the_window_was_busy(window: Window, source: Staged) -> None:
    def send(key: Qt.Key, happened_s: float) -> None:
        window.keyPressEvent(_key(PRESS, key, round(happened_s * 1000)))

    send(Qt.Key.Key_Shift, time.monotonic())  # any event teaches how the stamps count
    for key in (Qt.Key.Key_Space, Qt.Key.Key_F13):
        pressed = time.monotonic() - 0.4  # handled four tenths of a second after it happened
        send(key, pressed)
        marked = time.monotonic() - source.ago_s[-1]
        assert marked == pytest.approx(pressed, abs=0.02)
    assert source.asked == ["mark", "mark"]


def test_two_spaces_of_a_bouncing_key_are_one_mark(window: Window, source: Staged) -> None:
    for stamp_ms in (5_000, 5_020, 5_040):  # of the window system: a slow machine handles them later apart
        event = _key(PRESS, Qt.Key.Key_Space)
        event.setTimestamp(stamp_ms)
        window.keyPressEvent(event)
    assert source.asked == ["mark"]


def test_keys_with_control_or_alone_as_modifiers_are_no_foot_switch(window: Window, source: Staged) -> None:
    window.keyPressEvent(_key(PRESS, Qt.Key.Key_Shift))
    window.keyPressEvent(_key(PRESS, Qt.Key.Key_Tab))
    window.keyPressEvent(QKeyEvent(PRESS, Qt.Key.Key_Q, Qt.KeyboardModifier.ControlModifier))
    assert source.asked == []


def test_it_was_a_minute_ago_is_two_touches(window: Window, source: Staged) -> None:
    for act in ("mark", "back 30", "back 30"):
        assert act in {target.act for target in window.scene.targets}
        window.act(act)
    assert source.asked == ["mark", "back 30", "back 30"]


def test_a_mark_is_named_later_by_the_keyboard(window: Window, source: Staged) -> None:
    window.keyPressEvent(_key(PRESS, Qt.Key.Key_N))  # nothing to name yet
    assert any("no mark to name" in text.text for text in window.scene.texts)
    window.act("mark")
    window.act("mark")
    window.keyPressEvent(_key(PRESS, Qt.Key.Key_N))
    window.keyPressEvent(_key(PRESS, Qt.Key.Key_Up))
    for letter in "coil ":
        window.keyPressEvent(_key(PRESS, Qt.Key.Key_A, text=letter))
    assert any("coil" in text.text for text in window.scene.texts)
    window.keyPressEvent(_key(PRESS, Qt.Key.Key_Backspace))
    window.keyPressEvent(_key(PRESS, Qt.Key.Key_Return))
    assert source.asked == ["mark", "mark", "name coil at 0"]
    window.keyPressEvent(_key(PRESS, Qt.Key.Key_N))
    window.keyPressEvent(_key(PRESS, Qt.Key.Key_Escape))
    assert len(source.asked) == 3


def test_a_stored_session_keeps_both_lines_of_a_mark_that_was_named_moved_and_undone(tmp_path: Path) -> None:
    folder = hall_session(tmp_path / "hall", AS_FOUND, seconds=120)
    review = Review.open(open_session(str(folder)), "si")
    for at_us in (60_000_000, 80_000_000):
        review.shown_us = at_us
        review.mark()
    review.back_date(30.0)  # now earlier than the other one, and still the one set last
    review.name("strainer opened")
    assert [(m.t_us, m.text) for m in marks_of(Session.open(folder).events)] == [
        (50_000_000, "strainer opened"), (60_000_000, ""),
    ]  # fmt: skip
    review.undo()
    stored = Session.open(folder).events
    assert [(m.number, m.t_us) for m in marks_of(stored)] == [(1, 60_000_000)]
    assert [e.kind for e in stored if e.kind in ("mark", "unmark", "named")] == [
        "mark", "mark", "unmark", "mark", "named", "unmark",
    ]  # fmt: skip


def test_marks_that_were_taken_back_are_in_no_report(tmp_path: Path) -> None:
    from logger.reports.session_pages import happenings

    folder = hall_session(tmp_path / "hall", AS_FOUND, seconds=120)
    review = Review.open(open_session(str(folder)), "si")
    review.shown_us = 60_000_000
    review.mark("seen")
    review.shown_us = 80_000_000
    review.mark("by mistake")
    review.undo()
    told = [(line.kind, line.text.partition(" (")[0]) for line in happenings(Session.open(folder))]
    assert ("mark 1", "seen") in told
    assert not any("mistake" in text or kind == "unmark" for kind, text in told)


def test_sounds_follow_marks_and_one_key_silences_them(window: Window) -> None:
    heard = window.sounds
    assert isinstance(heard, Heard)
    window.act("mark")
    window.act("undo")
    assert [cue for cue in heard.cues if cue != "act"] == ["mark", "undo"]
    window.keyPressEvent(_key(PRESS, Qt.Key.Key_S))
    assert any("sounds are off" in text.text for text in window.scene.texts)
    before = len(heard.cues)
    window.act("mark")
    assert len(heard.cues) == before


def test_an_alarm_is_heard_until_somebody_answers_it() -> None:
    watch, present = CueWatch(), stage("as-found")[0]
    assert present.calling is not None
    assert watch.step(present, 0.0) == "act"
    assert watch.step(present, 1.0) is None
    assert watch.step(present, ACT_EVERY_S) == "act"
    answered = replace(present.calling.standing, state=AlarmState.ACKNOWLEDGED)
    seen = replace(present, alarms=(replace(present.calling, standing=answered),))
    assert watch.step(seen, 20.0) is None
    assert watch.step(present, 30.0) == "act", "a new one is heard again"


def test_settled_and_a_lost_point_are_heard_once() -> None:
    watch, (settling, _), (steady, _) = CueWatch(), stage("start"), stage("as-left")
    assert [watch.step(present, n) for n, present in enumerate((settling, steady, steady))] == [
        None, "settled", None,
    ]  # fmt: skip
    lost = replace(steady, silent={"gauges/suction_pressure": 4.0})
    assert [watch.step(lost, 5.0), watch.step(lost, 6.0)] == ["lost", None]


def test_every_tone_differs_and_its_main_energy_lies_between_300_and_3000_hz() -> None:
    heard = set()
    for cue in TONES:
        with wave.open(io.BytesIO(wav(cue))) as file:
            rate, count = file.getframerate(), file.getnframes()
            samples = np.frombuffer(file.readframes(count), "<i2").astype(float)
        power = np.abs(np.fft.rfft(samples)) ** 2
        at = np.fft.rfftfreq(samples.size, 1.0 / rate)
        inside = power[(at >= 300.0) & (at <= 3000.0)].sum() / power.sum()
        assert inside > 0.9, cue
        heard.add((round(float(at[power.argmax()]), -1), count))
    assert len(heard) == len(TONES)


def test_a_sound_never_waits_and_never_fails(tmp_path: Path) -> None:
    slow = tmp_path / "player"
    slow.write_text("#!/bin/sh\nexec sleep 20\n", encoding="utf-8")
    slow.chmod(0o755)
    sounds = Sounds(on=True, find=lambda name: str(slow) if name == "aplay" else None, platform="linux")
    assert sounds.missing == ""
    began = [sounds.play("mark") for _ in range(6)]
    assert began == [True] * 4 + [False] * 2  # four still play; a fifth is not worth waiting for
    sounds.close()
    broken = Sounds(on=True, find=lambda _: str(tmp_path / "gone"), platform="linux")
    assert broken.play("mark") is False
    broken.close()


def test_where_there_is_no_player_that_is_said(window: Window) -> None:
    none = Sounds(on=True, find=lambda _: None, platform="linux")
    assert none.play("mark") is False
    assert none.missing.startswith("no sound player found: install one of pw-play, paplay, aplay")
    none.on = False
    window.sounds = none
    window.act("silence")
    assert any("no sound player found" in text.text for text in window.scene.texts)


def test_what_was_chosen_is_remembered_and_a_damaged_file_is_a_new_computer(tmp_path: Path) -> None:
    folder = tmp_path / "settings"
    assert remembered(folder) == Remembered()
    assert remember(Remembered(sounds=False, last_session="/visits/hall"), folder)
    assert remembered(folder) == Remembered(sounds=False, last_session="/visits/hall")
    (folder / FILE).write_text("sounds = 'loud'", encoding="utf-8")
    assert remembered(folder) == Remembered()
    (tmp_path / "taken").write_text("", encoding="utf-8")
    assert not remember(Remembered(), tmp_path / "taken")


def test_events_of_a_kind_that_is_not_known_are_no_marks() -> None:
    assert marks_of([Event(1, 1, "phase", "", "rest"), Event(1, 1, "unmark")]) == ()
