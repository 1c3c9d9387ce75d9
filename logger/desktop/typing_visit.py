"""A typed visit in the window: keys become rows, and every row is on disk before the next one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from analysis.presets import PresetName
from analysis.timeline import Event
from analysis.typed_channels import TypedError
from analysis.unit_card import UnitCard
from logger.desktop.bands import Band, bands_of
from logger.desktop.history import History
from logger.desktop.present import Present
from logger.desktop.typed_page import TypedPage, entry_unit, may_be_negative
from logger.errors import CommandError
from logger.typed_session import TypedSession
from logger.typed_sheet import TypedSheet

MOST_DIGITS = 6


class TypingVisit:
    """What is typed, as the window's source.

    Parameters
    ----------
    sheet
        With what is declared.
    folder
        Of the session that keeps the rows; must not exist.
    """

    recording = True

    def __init__(
        self, sheet: TypedSheet, folder: Path, preset: PresetName, card: UnitCard | None = None
    ) -> None:
        self.folder, self.preset = folder, preset
        self.history = History(keep_rows=False)
        self.events: list[Event] = []
        self.notice = ""
        self.finished = False
        self.warnings: tuple[str, ...] = ()
        self._session = TypedSession.create(folder, sheet)
        mode = sheet.circumstances.mode
        self._bands: Mapping[str, Band] = bands_of(card.bands, mode) if card is not None else {}
        self._page = TypedPage(sheet, began=datetime.now())  # noqa: DTZ005 the person's own clock

    @property
    def page(self) -> TypedPage:
        """What the typed view shows now."""
        return replace(self._page, now_s=self._session.now_s())

    def present(self) -> Present:
        """Give the frame of the moment; no probe is read in a typed visit."""
        elapsed_us = round(self._session.now_s() * 1e6)
        return Present(
            elapsed_us=elapsed_us,
            title="typed visit",
            preset=self.preset,
            bands=self._bands,
            notice=self.notice,
        )

    def choose(self, point: str) -> None:
        """Type for another point."""
        self._page = replace(self._page, point=point, digits="")
        self.notice = ""

    def turn(self) -> None:
        """Show further points."""
        self._page = replace(self._page, page=self._page.page + 1)

    def key(self, key: str) -> None:
        """Take a key of the pad: a digit, point or minus, ``clear``, ``back`` or ``keep``."""
        digits = self._page.digits
        self.notice = ""
        if key == "clear":
            digits = ""
        elif key == "back":
            digits = digits[:-1]
        elif key == "keep":
            self._keep()
            return
        elif key == "-":
            if may_be_negative(self._page.point):
                digits = digits.removeprefix("-") if digits.startswith("-") else f"-{digits}"
        elif key == "." and "." in digits:
            return
        elif len(digits) < MOST_DIGITS:
            digits += key
        self._page = replace(self._page, digits=digits)

    def _keep(self) -> None:
        page = self._page
        if not page.digits.strip("-."):
            self.notice = "type a value first"
            return
        text = f"{page.digits} {entry_unit(page.point, self.preset)}"
        try:
            page.sheet.enter(self._session.now_s(), page.point, text)
        except (TypedError, CommandError) as refused:
            self.notice = str(refused)
            return
        self._page = replace(page, digits="")

    def mark(self, text: str = "", ago_s: float = 0.0) -> None:
        """Say why there are no marks here."""
        self.notice = "a typed visit has no marks: each row holds its own moment"

    def name(self, text: str, t_us: int | None = None) -> None:
        """Do nothing: there are no marks."""

    def undo(self) -> None:
        """Say what to do instead: a typed row is never taken away."""
        self.notice = "a kept row stays; type the right value again and it counts from then on"

    def back_date(self, seconds: float) -> None:
        """Do nothing: there are no marks."""

    def alarm(self, text: str) -> None:
        """Do nothing: a single look raises no alarm."""

    def assign(self, channel: str, point: str) -> None:
        """Say that typed channels have their place."""
        self.notice = "a typed value belongs to the point it was typed for"

    def stop(self, reason: str) -> None:
        """Close the session."""
        if not self.finished:
            self.finished = True
            self.warnings = self._session.close()
