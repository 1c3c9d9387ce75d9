"""The window's keyboard: named keys, foot switches, the pad of a typed visit, a mark's name, the ring."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent

from logger.desktop.electrical_keys import VIEWS_WITH_KEYS, electrical_key
from logger.desktop.event_clock import EventClock
from logger.desktop.frame_parts import VIEWS
from logger.desktop.switch import REPEAT_S, Act, Switch

if TYPE_CHECKING:
    from logger.desktop.window import Window

STEP_S = 10.0
"""By how much an arrow moves through a stored session."""


class Keyboard:
    """Turns keys into the acts that touches have too, each dated to its press."""

    def __init__(self, window: Window) -> None:
        self._window = window
        self._stamps = EventClock()
        self._switches: dict[int, Switch] = {}
        self._key_s: dict[str, float] = {}

    def due(self, now: float) -> None:
        """Do what foot switches ask for by having been held for long enough."""
        for switch in self._switches.values():
            self._switched(switch.due(now))

    def pressed(self, event: QKeyEvent) -> None:
        """Take a key."""
        if event.isAutoRepeat():
            return
        now = time.monotonic()
        late = self._stamps.late_s(event.timestamp(), now)
        if self._window.naming is not None:
            self._name_key(event)
            return
        if self._ring_key(event.key()):
            return
        if (
            self._window.choices.view == "typed"
            and self._window.typing() is not None
            and self._pad_key(event)
        ):
            return
        if self._window.choices.view in VIEWS_WITH_KEYS and (
            act := electrical_key(event, typing=self._window.electrical.typing)
        ):
            self._window.act(act)
            return
        key = event.key()
        if key == Qt.Key.Key_Left and self._window.backdating:
            self._window.act("back 5")
        elif key in (Qt.Key.Key_Left, Qt.Key.Key_Right):
            move = getattr(self._window.source, "move", None)
            if move is not None:
                move(STEP_S if key == Qt.Key.Key_Right else -STEP_S)
                self._window.redraw()
        elif key in _KEYS:
            act = _KEYS[key]
            # A foot switch may send any key; a bouncing one is pressed once.
            pressed_s, before_s = now - late, self._key_s.get(act, -1e9)
            self._key_s[act] = pressed_s
            if pressed_s - before_s >= REPEAT_S or act not in _MARKING:
                self._window.act(f"{act} {late:.6f}" if act in _MARKING else act)
        elif Qt.Key.Key_1 <= key <= Qt.Key.Key_9 and key - Qt.Key.Key_1 < len(VIEWS):
            self._window.act(f"view {VIEWS[key - Qt.Key.Key_1]}")
        elif key not in _NO_SWITCH and not event.modifiers() & _COMMANDS:
            switch = self._switches.setdefault(key, Switch())
            self._switched(switch.press(now - late), late)

    def released(self, event: QKeyEvent) -> None:
        """Take the end of a press of a foot switch."""
        switch = self._switches.get(event.key())
        if switch is not None and not event.isAutoRepeat():
            now = time.monotonic()
            self._switched(switch.release(now - self._stamps.late_s(event.timestamp(), now)))

    def _switched(self, acts: list[Act], late_s: float = 0.0) -> None:
        """Do what a foot switch asks for."""
        for act in acts:
            if act == "changed":
                self._window.source.name("I changed")
                self._window.redraw()
            elif act == "mark":
                self._window.act(f"mark {late_s:.6f}")
            else:
                self._window.act(act)

    def _name_key(self, event: QKeyEvent) -> None:
        """Give a key to the name that is being written."""
        assert self._window.naming is not None, "asked for only while a mark is being named"
        self._window.naming = self._window.naming.key(_WRITING.get(event.key(), event.text()))
        if self._window.naming.done:
            if self._window.naming.keep:
                self._window.source.name(self._window.naming.text.strip(), self._window.naming.mark.t_us)
            self._window.naming = None
        self._window.redraw()

    def _ring_key(self, key: int) -> bool:
        """Give Enter to the key inside the ring; Escape takes the ring away."""
        if not self._window.ring or key not in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Escape):
            return False
        act = self._window.ring
        if key == Qt.Key.Key_Escape or all(target.act != act for target in self._window.scene.targets):
            self._window.ring = ""
            self._window.paint_scene()
            return key == Qt.Key.Key_Escape
        self._window.press(act)
        return True

    def _pad_key(self, event: QKeyEvent) -> bool:
        """Give a key to the pad of the typed view; views then change by the page keys only."""
        named: dict[int, str] = {
            Qt.Key.Key_Return: "keep", Qt.Key.Key_Enter: "keep", Qt.Key.Key_Backspace: "back"
        }  # fmt: skip
        key = named.get(event.key()) or event.text().replace(",", ".")
        if key not in (*named.values(), *"0123456789.-"):
            return False
        self._window.act(f"key {key}")
        return True


_KEYS: dict[int, str] = {
    Qt.Key.Key_Space: "mark", Qt.Key.Key_Return: "mark", Qt.Key.Key_Enter: "mark",
    Qt.Key.Key_Backspace: "undo", Qt.Key.Key_C: "changed", Qt.Key.Key_L: "looked",
    Qt.Key.Key_PageDown: "next view", Qt.Key.Key_PageUp: "previous view", Qt.Key.Key_F: "far",
    Qt.Key.Key_0: "far", Qt.Key.Key_T: "look", Qt.Key.Key_R: "refit", Qt.Key.Key_P: "play",
    Qt.Key.Key_A: "alarm seen", Qt.Key.Key_W: "alarm wait",
    Qt.Key.Key_N: "name", Qt.Key.Key_S: "silence",
}  # fmt: skip
_MARKING = ("mark", "changed", "looked")
_COMMANDS = (
    Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier | Qt.KeyboardModifier.MetaModifier
)
_NO_SWITCH = frozenset({
    Qt.Key.Key_Shift, Qt.Key.Key_Control, Qt.Key.Key_Alt, Qt.Key.Key_AltGr, Qt.Key.Key_Meta,
    Qt.Key.Key_CapsLock, Qt.Key.Key_NumLock, Qt.Key.Key_ScrollLock, Qt.Key.Key_Tab, Qt.Key.Key_Backtab,
    Qt.Key.Key_Escape, Qt.Key.Key_Print, Qt.Key.Key_Menu, Qt.Key.Key_Up, Qt.Key.Key_Down,
    Qt.Key.Key_unknown,
})  # fmt: skip
"""Keys that no foot switch sends, or that people touch without meaning a mark."""
_WRITING: dict[int, str] = {
    Qt.Key.Key_Return: "keep", Qt.Key.Key_Enter: "keep", Qt.Key.Key_Escape: "leave",
    Qt.Key.Key_Backspace: "back", Qt.Key.Key_Up: "earlier", Qt.Key.Key_Down: "later",
}  # fmt: skip
