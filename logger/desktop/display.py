"""Whether a window can be opened here; asked before Qt is loaded, for Qt ends the program where it cannot."""

from __future__ import annotations

import ctypes
import importlib.util
import os
import subprocess
import sys

_PROBE = "from PySide6.QtGui import QGuiApplication; QGuiApplication([])"
PROBE_S = 20.0
_NEEDED = {
    "libxcb-cursor.so.0": "libxcb-cursor0",
    "libxcb-icccm.so.4": "libxcb-icccm4",
    "libxcb-keysyms.so.1": "libxcb-keysyms1",
    "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
    "libEGL.so.1": "libegl1",
}
"""What Qt's X11 window asks of the system, and Debian's package that brings it."""


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
    missing = (
        [] if os.environ.get("WAYLAND_DISPLAY") else [p for so, p in _NEEDED.items() if not _library(so)]
    )
    if missing:
        return f"The window needs system libraries; on Debian: sudo apt install {' '.join(missing)}."
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
