"""Whether the person's system lets things move on the screen."""

from __future__ import annotations

from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication, QStyle


def motion_wanted() -> bool:
    """Say whether animations are welcome: not where the system asks for reduced motion or has them off."""
    hints = QGuiApplication.styleHints()
    accessibility = getattr(hints, "accessibility", None)
    preference = getattr(accessibility(), "motionPreference", None) if accessibility is not None else None
    if preference is not None and "reduce" in str(preference()).lower():  # since Qt 6.12
        return False
    return QApplication.style().styleHint(QStyle.StyleHint.SH_Widget_Animation_Duration) > 0
