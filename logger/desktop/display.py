"""Whether a window can be opened here; asked before Qt is loaded, for Qt ends the program where it cannot."""

from __future__ import annotations

import ctypes
import importlib.util
import os
import subprocess
import sys

_PROBE = "from PySide6.QtGui import QGuiApplication; QGuiApplication([])"
PROBE_S = 20.0


def why_no_window() -> str:
    """Say in one sentence why no window can be opened, with the way out; empty where one can.

    What Qt would end the program for is tried in a process of its own.
    """
    if importlib.util.find_spec("PySide6") is None:
        return "The window needs PySide6: install it with pip install 'evenrun[desktop]'."
    if not sys.platform.startswith("linux") or os.environ.get("QT_QPA_PLATFORM"):
        return ""
    if not any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY")):
        return (
            "There is no display here: neither DISPLAY nor WAYLAND_DISPLAY is set; "
            "evenrun record and evenrun replay work in a terminal."
        )
    if not os.environ.get("WAYLAND_DISPLAY") and not _library("libxcb-cursor.so.0"):
        return "The window needs the system library libxcb-cursor: install it (Debian: libxcb-cursor0)."
    return "" if _opens() else "The display does not answer; evenrun record and replay work in a terminal."


def _library(name: str) -> bool:
    try:
        ctypes.CDLL(name)
    except OSError:
        return False
    return True


def _opens() -> bool:
    """Whether Qt can open the display, tried where its end does no harm."""
    try:
        tried = subprocess.run(  # noqa: S603
            [sys.executable, "-c", _PROBE], check=False, capture_output=True, timeout=PROBE_S
        )
    except (OSError, subprocess.TimeoutExpired):
        return False
    return tried.returncode == 0
