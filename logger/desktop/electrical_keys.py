"""Keys of the keyboard in the electrical and the shorts view."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent

VIEWS_WITH_KEYS = ("electrical", "shorts")
_KEYS: dict[int, str] = {
    Qt.Key.Key_E: "enter", Qt.Key.Key_Escape: "show", Qt.Key.Key_Up: "step -1", Qt.Key.Key_Down: "step 1",
    Qt.Key.Key_O: "circuit", Qt.Key.Key_S: "supply", Qt.Key.Key_H: "call", Qt.Key.Key_M: "runs",
    Qt.Key.Key_I: "isolation", Qt.Key.Key_G: "earth", Qt.Key.Key_B: "branches", Qt.Key.Key_K: "loaded",
    Qt.Key.Key_Delete: "back", Qt.Key.Key_V: "repaired", Qt.Key.Key_U: "calls",
    Qt.Key.Key_F1: "f 1", Qt.Key.Key_F2: "f 2", Qt.Key.Key_F3: "f 3", Qt.Key.Key_F4: "f 4",
    Qt.Key.Key_F5: "f 5", Qt.Key.Key_F6: "f 6",
}  # fmt: skip
_PAD: dict[int, str] = {
    Qt.Key.Key_Backspace: "back", Qt.Key.Key_Return: "keep", Qt.Key.Key_Enter: "keep", Qt.Key.Key_O: "open"
}  # fmt: skip


def electrical_key(event: QKeyEvent, *, typing: bool) -> str:
    """Give the act of a key; empty where it means nothing here.

    Parameters
    ----------
    typing
        Whether the keypad is shown: it then takes digits, Enter, and o for open.
    """
    if typing:
        key = _PAD.get(event.key()) or event.text().replace(",", ".")
        if key in _PAD.values() or (len(key) == 1 and key in "0123456789."):
            return f"electrical key {key}"
    act = _KEYS.get(event.key(), "")
    return f"electrical {act}" if act else ""
