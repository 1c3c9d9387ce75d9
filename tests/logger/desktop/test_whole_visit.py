"""A whole visit in the window, by touches: connect, reach steady, mark, name the phases, compare, report."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QApplication

from logger.demo import HALL, open_visit, simulated_machine
from logger.desktop.live import Live
from logger.desktop.paperwork import Paperwork
from logger.desktop.running import demo_card
from logger.desktop.scene import Trace
from logger.desktop.window import Window
from logger.session import Session

SPEED = 500.0
RUN_S = 8 * 3600
"""Machine time [s] at hand: a slow computer may take minutes between two touches, and it still runs."""
SURE_S = 240.0


def _touch(window: Window, act: str) -> None:
    target = next(t for t in window.scene.targets if t.act == act)
    at = QPointF(target.rect.x + target.rect.w / 2, target.rect.y + target.rect.h / 2)
    left, none = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    window.mousePressEvent(QMouseEvent(QMouseEvent.Type.MouseButtonPress, at, at, left, left, none))


def _until(window: Window, true: Callable[[], bool]) -> None:
    deadline = time.monotonic() + SURE_S
    while not true():
        assert time.monotonic() < deadline, "\n".join(text.text for text in window.scene.texts)
        time.sleep(0.02)
        window.pull()
        window.redraw()


def _shows(window: Window, words: str) -> bool:
    return any(words in text.text for text in window.scene.texts)


def _traced(window: Window) -> float:
    """Give the seconds that the trend of the pump's current reaches over."""
    traces = (i for i in window.scene.items if isinstance(i, Trace) and i.of == "pump_current")
    trace = next(traces, None)
    if trace is None or not np.isfinite(trace.mean).any():
        return 0.0
    end = float(trace.x[np.isfinite(trace.mean)].max())
    return (end - trace.clip.x) / trace.clip.w * window.source.history.rows


def test_a_visit_from_the_first_reading_to_the_written_page(
    application: QApplication, tmp_path: Path
) -> None:
    folder = tmp_path / "live"
    with simulated_machine("hall", "as-found", speed=SPEED, seconds=RUN_S) as (address, _):
        recording = open_visit(HALL, HALL.visits[0], address, folder, live=False)
        live = Live(recording, "si", simulated=True)
        paperwork = Paperwork(folder, "", "si", demo_card("hall"), growing=True)
        live.start()
        window = Window(live, paperwork=paperwork)
        try:
            _until(window, lambda: _shows(window, "STEADY for"))
            window.show_view("trends")
            window.redraw()
            rows = live.history.rows
            _until(window, lambda: live.history.rows > rows + 30 and _traced(window) > rows + 30)
            _touch(window, "mark")
            _until(window, lambda: len(window._present.marks) == 1)
            window.show_view("session")
            window.redraw()
            _touch(window, "session choose phase")
            _touch(window, "session declare as-left")
            assert window.desk.join(SURE_S)
            newest = live.present
            _until(window, lambda: (n := newest().newest) is not None and n.settings.phase == "as-left")
            window.show_view("levels")
            _until(window, lambda: _shows(window, "SETTLING") or _shows(window, "CHANGED"))
            _until(window, lambda: _shows(window, "STEADY for"))
            window.show_view("compare")
            _until(window, lambda: not paperwork.busy and _shows(window, "FAIR to compare"))
            window.show_view("report")
            window.redraw()
            _touch(window, "report approve broken")
            _touch(window, "report write")
            _until(window, lambda: bool(paperwork.page.written))
        finally:
            live.stop("test")
            assert live.join(SURE_S)
            window.close()
    page = Path(paperwork.page.written).read_text("utf-8")
    assert "As found, the readings support" in page
    assert page.count("Not stated.") == 1  # whether it is fixed was not approved
    samples = live.history.series["pump_current"].samples
    assert samples.size > 1800
    assert np.isfinite(samples[5:]).all()  # no row was passed over, however fast they came
    session = Session.open(folder)
    assert session.state.value == "closed"
    assert [event.text for event in session.events if event.kind == "phase"] == ["as-found", "as-left"]
