"""The clock of a glide: it ticks only while a label of the levels view is on its way."""

from __future__ import annotations

import time
from collections.abc import Callable

from PySide6.QtCore import QObject, QTimer

from logger.desktop.axis import Axis
from logger.desktop.gliding import Glide
from logger.desktop.motion import motion_wanted
from logger.desktop.present import Present
from logger.desktop.scene_levels import places_of_labels

GLIDE_MS = 16


class Glider:
    """Sends the labels of the levels view to their places and asks for the steps between to be drawn.

    Parameters
    ----------
    draw
        Draws the scene of what was read last.
    parent
        The window, with which the timer ends.
    """

    def __init__(self, draw: Callable[[], None], parent: QObject) -> None:
        self._draw = draw
        self._glide = Glide()
        self._axis: Axis | None = None
        self._timer = QTimer(parent)
        self._timer.setSingleShot(True)
        self._timer.timeout.connect(self.step)

    def send(self, present: Present, axis: Axis | None, *, shown: bool) -> None:
        """Send the labels to where they belong; with another axis or view they go at once."""
        if not shown or axis is None or present.newest is None:
            self._glide, self._axis = Glide(), None
            return
        now = time.monotonic()
        smooth = self._axis is axis and motion_wanted()
        self._glide.to(places_of_labels(present, axis), now, smooth=smooth)
        self._axis = axis
        if self._glide.moving(now):
            self._timer.start(GLIDE_MS)

    def places(self) -> dict[str, float]:
        """Give where the labels are now."""
        return self._glide.at(time.monotonic())

    def step(self) -> None:
        """Draw the next step; nothing is read for it and nothing else moves."""
        self._draw()
        if self._glide.moving(time.monotonic()):
            self._timer.start(GLIDE_MS)
