"""Every test of the window runs without a screen; without PySide6 there is no window to test."""

from __future__ import annotations

import importlib.util
import os
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
