"""Every test of the window runs without a screen; without PySide6 there is no window to test."""

from __future__ import annotations

import importlib.util
import os
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from PySide6.QtWidgets import QApplication

os.environ["QT_QPA_PLATFORM"] = "offscreen"
if importlib.util.find_spec("PySide6") is None:
    collect_ignore_glob = ["test_*.py"]


@pytest.fixture(scope="session", autouse=True)
def application() -> QApplication:
    """Give the one application, which outlives every window."""
    from PySide6.QtWidgets import QApplication

    found = QApplication.instance() or QApplication(["evenrun"])
    assert isinstance(found, QApplication)
    return found


@pytest.fixture(autouse=True)
def _no_window_outlives_its_test(application: QApplication) -> Iterator[None]:
    """Destroy every window here, in its own thread.

    Left to the garbage collector, which runs in whatever thread asks for memory, a window and its timers may
    be destroyed in a writer's thread; Qt then keeps a dead timer and the next look at the events crashes.
    """
    yield
    import shiboken6

    for window in application.topLevelWidgets():
        shiboken6.delete(window)


@pytest.fixture
def own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Keep the settings, the log and the sessions of the person out of a test; gives the place instead."""
    from logger.desktop import remembered, running

    monkeypatch.setattr(remembered, "settings_folder", lambda: tmp_path / "settings")
    monkeypatch.setattr(remembered, "sessions_folder", lambda: tmp_path / "sessions")
    monkeypatch.setattr(running, "log_file", lambda: tmp_path / "log" / "evenrun.log")
    return tmp_path
