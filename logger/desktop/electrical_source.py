"""Where electrical work is kept: beside what the window shows, or in a file alone for a dead machine."""

from __future__ import annotations

import math
from pathlib import Path

from analysis.presets import PresetName
from analysis.timeline import Event
from analysis.unit_card import UnitCard
from logger.desktop.electrical_visit import ElectricalVisit
from logger.desktop.history import History
from logger.desktop.present import Present
from logger.desktop.source import Source


def visit_beside(source: Source) -> ElectricalVisit:
    """Begin or take up the electrical work beside what the window shows.

    Parameters
    ----------
    source
        A recording, a stored session, a typed visit or a file alone; its folder, card and declared
        refrigerant serve where it has them.
    """
    path: Path | None = getattr(source, "electrical_path", None)
    folder: Path | None = getattr(source, "folder", None)
    card: UnitCard | None = getattr(source, "card", None)
    present = source.present()
    refrigerant = present.newest.settings.refrigerant if present.newest is not None else ""
    plate = f"{card.supply:g} V" if card is not None and math.isfinite(card.supply) else ""
    return ElectricalVisit(folder, title=present.title, refrigerant=refrigerant or "", plate=plate, path=path)


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
        return Present(title=title, preset=self.preset, notice=self.notice, kind="idle")

    def mark(self, text: str = "", ago_s: float = 0.0) -> None:
        """Say why there are no marks here."""
        self.notice = "nothing is recorded, so there are no marks: each value holds its own moment"

    def undo(self) -> None:
        """Say what to do instead."""
        self.notice = "take a value back on its own page"

    def back_date(self, seconds: float) -> None:
        """Do nothing: there are no marks."""

    def name(self, text: str, t_us: int | None = None) -> None:
        """Do nothing: there are no marks."""

    def alarm(self, text: str) -> None:
        """Do nothing: nothing raises an alarm here."""

    def assign(self, channel: str, point: str) -> None:
        """Do nothing: there are no channels."""

    def stop(self, reason: str) -> None:
        """Do nothing: nothing is recorded."""
