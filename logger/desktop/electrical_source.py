"""Electrical work without a session: a dead machine has nothing that could be recorded."""

from __future__ import annotations

from pathlib import Path

from analysis.presets import PresetName
from analysis.timeline import Event
from logger.desktop.history import History
from logger.desktop.present import Present


class ElectricalSource:
    """What the window shows where only a meter speaks.

    Parameters
    ----------
    path
        File that keeps what is typed; taken up where it is there already.
    """

    recording = False
    finished = True

    def __init__(self, path: Path, preset: PresetName) -> None:
        self.electrical_path, self.preset = path, preset
        self.history = History(keep_rows=False)
        self.events: list[Event] = []
        self.notice = ""

    def present(self) -> Present:
        """Give a moment without any reading."""
        title = self.electrical_path.stem.replace("-", " ")
        return Present(title=title, preset=self.preset, notice=self.notice)

    def mark(self, text: str = "") -> None:
        """Say why there are no marks here."""
        self.notice = "nothing is recorded, so there are no marks: each value holds its own moment"

    def undo(self) -> None:
        """Say what to do instead."""
        self.notice = "take a value back on its own page"

    def back_date(self, seconds: float) -> None:
        """Do nothing: there are no marks."""

    def assign(self, channel: str, point: str) -> None:
        """Do nothing: there are no channels."""

    def stop(self, reason: str) -> None:
        """Do nothing: nothing is recorded."""
