"""A scene as a picture file, drawn without a window."""

from __future__ import annotations

import os

from logger.desktop.looks import Look
from logger.desktop.scene import Scene


def save_picture(scene: Scene, look: Look, width: int, height: int, path: str) -> bool:
    """Draw a scene and write it; False if the file cannot be written.

    Raises
    ------
    ImportError
        If the window's library is not installed.
    """
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    from PySide6.QtGui import QGuiApplication

    from logger.desktop.painter import picture

    application = QGuiApplication.instance() or QGuiApplication(["evenrun"])
    saved = bool(picture(scene, look, width, height).save(path))
    del application
    return saved
