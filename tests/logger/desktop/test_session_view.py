"""The session view: moving, playing, putting right what was declared, and opening another session."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QApplication

from logger.desktop.review import Review
from logger.desktop.window import Window
from logger.replay import open_session
from logger.session import Session
from tests.logger.hall_sessions import AS_FOUND, AS_LEFT, hall_session

SURE = 30.0


@pytest.fixture
def window(application: QApplication, tmp_path: Path) -> Iterator[Window]:
    hall_session(tmp_path / "hall-as-left", AS_LEFT, seconds=700)
    folder = hall_session(tmp_path / "hall-as-found", AS_FOUND, seconds=900)
    shown = Window(Review.open(open_session(str(folder)), "si"))
    shown.show_view("session")
    shown.redraw()
    yield shown
    shown.close()
    shown.deleteLater()


def _touch(window: Window, act: str) -> None:
    target = next(t for t in window.scene.targets if t.act == act)
    at = QPointF(target.rect.x + target.rect.w / 2, target.rect.y + target.rect.h / 2)
    left, none = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    window.mousePressEvent(QMouseEvent(QMouseEvent.Type.MouseButtonPress, at, at, left, left, none))
    assert window.desk.join(SURE)
    window.pull()
    window.redraw()


def _words(window: Window) -> str:
    return "\n".join(text.text for text in window.scene.texts)


def _review(window: Window) -> Review:
    assert isinstance(window.source, Review)
    return window.source


def test_touches_move_through_the_session_and_play_it(window: Window) -> None:
    review = _review(window)
    _touch(window, "step -60")
    assert review.shown_us == review.end_us - 60_000_000
    _touch(window, next(t.act for t in window.scene.targets if t.act.startswith("moment ")))
    assert review.shown_us == pytest.approx(review.end_us / 48, abs=1e6)
    before = review.shown_us
    _touch(window, "speed 600")
    assert review.shown_us == before + 60_000_000  # one pull of a tenth of a second at 600 times real time
    assert "speed 0" in {t.act for t in window.scene.targets}
    _touch(window, "speed 0")
    at = review.shown_us
    window.pull()
    assert review.shown_us == at
    _touch(window, "step 1e9")
    _touch(window, "speed 10")
    assert review.shown_us == 1_000_000  # from its end it plays from the beginning


def test_another_refrigerant_is_declared_and_everything_is_worked_out_again(window: Window) -> None:
    review = _review(window)
    before = review.present().value("superheat")
    _touch(window, "session choose refrigerant")
    assert "which refrigerant is in the machine?" in _words(window)
    _touch(window, "session declare R32")
    after = review.present().value("superheat")
    assert after != pytest.approx(before, abs=0.5)
    assert "was 5.8 K" in _words(window)
    events = [(e.t_us, e.kind, e.text) for e in Session.open(review.folder).events]
    assert (0, "refrigerant", "R32") in events
    assert (0, "refrigerant", "R410A") in events  # the wrong line stays readable


def test_a_change_from_this_moment_on_leaves_what_was_before(window: Window) -> None:
    review = _review(window)
    review.shown_us = 600_000_000
    _touch(window, "session since")
    _touch(window, "session choose phase")
    _touch(window, "session declare as-left")
    assert [name for _, name in review.history.phases] == ["", "as-left"]
    assert review.history.phases[1][0] == 600


@pytest.mark.parametrize(
    ("keys", "text", "told"),
    [("94.3", "94.3", "no barometer reading"), ("943.2", "94.32 kPa(a)", "")],
)
def test_a_barometer_is_typed_and_a_wrong_one_refused(
    window: Window, keys: str, text: str, told: str
) -> None:
    review = _review(window)
    count = len(review.events)
    _touch(window, "session choose barometer")
    for key in keys:
        _touch(window, f"session digit {key}")
    assert keys in _words(window)
    _touch(window, "session keep")
    if told:
        assert told in _words(window)
        assert len(review.events) == count
    else:
        assert review.events[-1].text == text
        present = review.present()
        assert present.newest is not None
        assert present.newest.settings.barometer_pa == pytest.approx(94_320.0)


def test_the_height_of_the_site_does_for_a_barometer(window: Window) -> None:
    _touch(window, "session choose barometer")
    _touch(window, "session unit m")
    for key in "600":
        _touch(window, f"session digit {key}")
    _touch(window, "session digit clear")
    for key in "600":
        _touch(window, f"session digit {key}")
    _touch(window, "session keep")
    assert _review(window).events[-1].text == "600 m"


def test_another_session_of_the_folder_is_opened(window: Window) -> None:
    before = _review(window)
    _touch(window, "session browse")
    _touch(window, next(t.act for t in window.scene.targets if t.act.endswith("hall-as-left")))
    opened = _review(window)
    assert opened is not before
    assert opened.folder.name == "hall-as-left"
    assert opened.shown_us == opened.end_us
    assert "11:40 of 11:40" in _words(window)
    _touch(window, "session browse")
    _touch(window, next(t.act for t in window.scene.targets if t.act.endswith("hall-as-found")))
    assert _review(window).folder.name == "hall-as-found"


def test_a_folder_that_is_no_session_is_refused_in_a_sentence(window: Window, tmp_path: Path) -> None:
    (tmp_path / "broken").mkdir()
    (tmp_path / "broken" / "datapackage.json").write_text("{", encoding="utf-8")
    before = window.source
    _touch(window, "session browse")
    _touch(window, next(t.act for t in window.scene.targets if t.act.endswith("broken")))
    assert window.source is before
    assert "datapackage.json" in _words(window)


def test_what_cannot_be_written_is_refused_and_nothing_changes(
    window: Window, monkeypatch: pytest.MonkeyPatch
) -> None:
    from logger import amend
    from logger.session_errors import StorageError

    def refuse(*_: object) -> None:
        raise StorageError("the disk refuses")

    monkeypatch.setattr(amend, "append_events", refuse)
    before = _review(window).present().value("superheat")
    _touch(window, "session choose refrigerant")
    _touch(window, "session declare R32")
    assert "the disk refuses" in _words(window)
    assert _review(window).present().value("superheat") == before
