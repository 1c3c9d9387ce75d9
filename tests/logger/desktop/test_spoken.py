"""What a screen reader finds: state and key in the ring as the window's name, every key, every value."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace

import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QAccessible, QAccessibleInterface, QKeyEvent
from PySide6.QtWidgets import QApplication, QWidget

from logger.desktop import stand_ins
from logger.desktop.drawing import Choices, draw
from logger.desktop.present import Present
from logger.desktop.scene_find import find_scene
from logger.desktop.spoken import spoken
from logger.desktop.staged import stage
from logger.desktop.staged_find import staged_finds
from logger.desktop.window import Window
from tests.logger.desktop.test_window import Staged

VIEWS = ("levels", "far", "trends", "devices", "compare", "cycle")


@pytest.fixture
def announced(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[str]]:
    said: list[str] = []
    monkeypatch.setattr(stand_ins, "announce", lambda _widget, words: said.append(words))
    QAccessible.setActive(True)
    yield said
    QAccessible.setActive(False)


@pytest.fixture
def source() -> Staged:
    return Staged(recording=True)


@pytest.fixture
def window(application: QApplication, announced: list[str], source: Staged) -> Iterator[Window]:
    made = Window(source)
    made.show()
    yield made
    source.recording = False
    made.close()
    made.deleteLater()


def _found(window: Window) -> dict[str, QAccessibleInterface]:
    """Give what a screen reader finds in the window, by name."""
    top = QAccessible.queryAccessibleInterface(window)
    assert top is not None
    children = [top.child(number) for number in range(top.childCount())]
    return {child.text(QAccessible.Text.Name): child for child in children if child is not None}


def _name(window: Window) -> str:
    top = QAccessible.queryAccessibleInterface(window)
    assert top is not None
    return top.text(QAccessible.Text.Name)


def _tab(window: Window) -> None:
    QApplication.sendEvent(
        window, QKeyEvent(QEvent.Type.KeyPress, Qt.Key.Key_Tab, Qt.KeyboardModifier.NoModifier)
    )


def test_the_window_is_called_by_its_state_and_then_by_the_key_in_the_ring(
    window: Window, announced: list[str]
) -> None:
    assert _name(window).startswith("STEADY for 4:41. ALARM: freeze margin too low")
    names = []
    for _ in range(20):
        _tab(window)
        names.append(_name(window))
    assert "subcooling, HIGH, 11.5 K, 3.5 K over ± 0.3 K, 4 K 8 K" in names
    assert "MARK NOW, flags the present moment" in names
    assert announced[-20:] == names, "every step of the ring is announced"
    window.keyPressEvent(QKeyEvent(QEvent.Type.KeyPress, Qt.Key.Key_Escape, Qt.KeyboardModifier.NoModifier))
    assert _name(window).startswith("STEADY for")


def test_a_state_is_announced_when_it_changes_and_not_while_it_lasts(
    window: Window, source: Staged, announced: list[str]
) -> None:
    before = len(announced)
    for _ in range(3):
        window.redraw()
    assert len(announced) == before
    source._present = replace(stage("start")[0], alarms=())
    window.redraw()
    assert len(announced) == before + 1
    assert not announced[-1].startswith("STEADY")


def test_every_key_is_a_button_with_words_that_can_be_pressed(window: Window, source: Staged) -> None:
    found = _found(window)
    for act in {target.act for target in window.scene.targets}:
        name = spoken(window.scene).keys[act]
        assert found[name].role() == QAccessible.Role.Button
    mark = next(one for name, one in found.items() if name.startswith("MARK NOW"))
    press = mark.actionInterface()
    assert press is not None
    press.doAction("Press")
    deadline = time.monotonic() + 60.0
    while not source.asked and time.monotonic() < deadline:
        QApplication.processEvents()  # the system lets a pressed button stay down for a moment
    assert source.asked == ["mark"]
    target = next(target for target in window.scene.targets if target.act == "mark")
    assert abs(mark.rect().width() - target.rect.w) <= 1


def test_values_are_read_with_name_and_unit(window: Window) -> None:
    found = _found(window)
    assert {"suction pressure: 5.15 bar(g)", "discharge line: 85.0 °C", "evaporating: −8.2 °C"} <= set(found)
    assert found["evaporating: −8.2 °C"].role() == QAccessible.Role.StaticText


def test_stand_ins_follow_the_view_and_hold_nothing_up(window: Window, source: Staged) -> None:
    window.show_view("devices")
    window.redraw()
    assert "join a channel to a measuring point" in _found(window)
    window.resize(1024, 768)
    window.redraw()
    button = next(one for name, one in _found(window).items() if name.startswith("MARK NOW"))
    assert abs(button.rect().width() - 408 * 0.8) <= 1
    child = window.childAt(100, 700)
    assert child is None or child.testAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)


def test_nothing_is_made_where_nobody_listens(application: QApplication, source: Staged) -> None:
    assert not QAccessible.isActive()
    stand_ins.announce(QWidget(), "nobody hears this")
    made = Window(source)
    assert not [child for child in made.children() if isinstance(child, QWidget)]
    source.recording = False
    made.close()


def test_no_key_is_without_words_and_no_state_is_silent() -> None:
    for moment in ("as-found", "no-device", "dropout", "cooling"):
        present, history = stage(moment)
        for view in VIEWS:
            heard = spoken(draw(present, history, Choices(view=view)))
            assert heard.state, (moment, view)
            for act, words in heard.keys.items():
                assert words.strip(" ,"), (moment, view, act)


def test_what_is_chosen_is_said() -> None:
    heard = spoken(find_scene(Present(kind="idle"), staged_finds()["taken"]))
    assert heard.keys["visit refrigerant R410A"] == "R410A, chosen"
    assert heard.keys["visit refrigerant R32"] == "R32"
    assert heard.keys["visit take 0"].endswith("chosen")
    assert heard.keys["visit start"].startswith("START RECORDING, 2 devices")
