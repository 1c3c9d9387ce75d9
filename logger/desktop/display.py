"""Whether a window can be opened here; asked before Qt is loaded, for Qt ends the program where it cannot."""

from __future__ import annotations

import importlib.util
import os
import sys


def why_no_window() -> str:
    """Say in one sentence why no window can be opened, with the way out; empty where one can."""
    if importlib.util.find_spec("PySide6") is None:
        return "The window needs PySide6: install it with pip install 'evenrun[desktop]'."
    if sys.platform.startswith("linux") and not any(
        os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")
    ):
        return (
            "There is no display here: neither DISPLAY nor WAYLAND_DISPLAY is set; "
            "evenrun record --watch and evenrun replay work in a terminal."
        )
    return ""
