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
def _windows_end_with_their_test(application: QApplication) -> Iterator[None]:
    """Delete a test's windows in the thread they belong to.

    A window is part of reference cycles, and left to the collector it may be taken apart in whichever thread
    runs it: that of a recording, which ends in a crash much later.
    """
    import shiboken6

    yield
    for widget in application.topLevelWidgets():
        shiboken6.delete(widget)


@pytest.fixture
def own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Keep the settings, the log and the sessions of the person out of a test; gives the place instead."""
    from logger.desktop import remembered, running

    monkeypatch.setattr(remembered, "settings_folder", lambda: tmp_path / "settings")
    monkeypatch.setattr(remembered, "sessions_folder", lambda: tmp_path / "sessions")
    monkeypatch.setattr(running, "log_file", lambda: tmp_path / "log" / "evenrun.log")
    return tmp_path
