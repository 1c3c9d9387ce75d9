"""Stand-ins for a screen reader: the scene is one drawing, so each of its keys gets an unseen button.

They take neither touches nor the keyboard's focus, which stay the window's. They are made only where
something asks the system for accessible objects, and follow the scene.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial

from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible, QAccessibleAnnouncementEvent, QPaintEvent
from PySide6.QtWidgets import QAbstractButton, QLabel, QWidget

from logger.desktop.painter import fit
from logger.desktop.scene import Rect, Scene
from logger.desktop.spoken import Line, spoken, without_numbers


class _Button(QAbstractButton):
    """A key of the scene, unseen."""

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Paint nothing: the scene is painted by the window."""


class _Words(QLabel):
    """Words of the scene, unseen."""

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Paint nothing."""


class StandIns:
    """What a screen reader finds in the window.

    Parameters
    ----------
    window
        The window; its accessible name is the key inside the ring, else the state.
    press
        Does what a touch on the key of an act does.
    """

    def __init__(self, window: QWidget, press: Callable[[str], None]) -> None:
        self._window, self._press = window, press
        self._buttons: dict[str, _Button] = {}
        self._labels: list[_Words] = []
        self._said = ""

    def follow(self, scene: Scene, ring: str) -> None:
        """Say what is shown now.

        The window's name changes, and is announced, only where something else is said than before, since a
        duration that counts on would drown everything else.
        """
        if not QAccessible.isActive():
            return
        heard = spoken(scene)
        name = heard.name(ring)
        said = f"{ring} {without_numbers(name)}"
        if said != self._said:
            self._said = said
            self._window.setAccessibleName(name)
            announce(self._window, name)
        self._follow_keys(scene, heard.keys)
        self._follow_lines((Line(heard.state, Rect(0, 0, 900, 88)), *heard.values))

    def _follow_keys(self, scene: Scene, keys: Mapping[str, str]) -> None:
        places = {target.act: target.rect for target in scene.targets}
        for act in [act for act in self._buttons if act not in keys]:
            self._buttons.pop(act).deleteLater()
        for act, words in keys.items():
            button = self._buttons.get(act)
            if button is None:
                button = self._buttons[act] = _Button(self._window)
                button.clicked.connect(partial(self._pressed, act))
                _keep_out_of_the_way(button)
            self._place(button, places[act])
            if button.accessibleName() != words:
                button.setAccessibleName(words)

    def _pressed(self, act: str, _checked: bool = False) -> None:
        self._press(act)

    def _follow_lines(self, lines: Sequence[Line]) -> None:
        while len(self._labels) > len(lines):
            self._labels.pop().deleteLater()
        while len(self._labels) < len(lines):
            self._labels.append(_Words(self._window))
            _keep_out_of_the_way(self._labels[-1])
        for label, line in zip(self._labels, lines, strict=True):
            self._place(label, line.rect)
            if label.text() != line.words:
                label.setText(line.words)

    def _place(self, widget: QWidget, rect: Rect) -> None:
        scale, dx, dy = fit(self._window.width(), self._window.height())
        x, y, w, h = (round(part * scale) for part in (rect.x, rect.y, rect.w, rect.h))
        widget.setGeometry(round(dx) + x, round(dy) + y, max(w, 1), max(h, 1))


def _keep_out_of_the_way(widget: QWidget) -> None:
    """Let a stand-in take neither touch nor focus, and nothing of the window's painting."""
    widget.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
    widget.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    widget.show()


def announce(widget: QWidget, words: str) -> None:
    """Let a screen reader say something that has changed by itself."""
    QAccessible.updateAccessibility(QAccessibleAnnouncementEvent(widget, words))
