"""Keeping typed rows as a session: each row is with the operating system before the next one is asked for."""

from __future__ import annotations

import importlib.metadata
from pathlib import Path

from analysis.measure import Quality
from analysis.rows import Rows
from analysis.typed_channels import TypedRow
from drivers.base import Clock
from drivers.clock import SystemClock
from logger.descriptor import SessionHeader
from logger.errors import NotAvailableError
from logger.session_errors import SessionError
from logger.session_summary import keep_summary
from logger.session_writer import SessionWriter
from logger.typed_sheet import TypedSheet


class TypedSession:
    """A session into which rows are written as they are typed."""

    def __init__(self, writer: SessionWriter) -> None:
        self._writer = writer
        self._known: dict[str, TypedRow] = {}

    @classmethod
    def create(cls, folder: Path, sheet: TypedSheet, clock: Clock | None = None) -> TypedSession:
        """Make the folder, write what is declared, and take every further row of the sheet.

        Raises
        ------
        NotAvailableError
            If the folder is there already or cannot be made.
        """
        clock = clock or SystemClock()
        libraries = {f"saturation of {sheet.refrigerant}": sheet.curve.source} if sheet.curve else {}
        header = SessionHeader(
            title="typed visit" + (f" by {sheet.who}" if sheet.who else ""),
            software=f"evenrun {importlib.metadata.version('evenrun')}",
            libraries=libraries,
            barometer_pa=sheet.barometer_pa if sheet.barometer_text else None,
        )
        try:
            writer = SessionWriter.create(folder, header, clock)
        except SessionError as error:
            raise NotAvailableError(f"{error}.") from None
        session = cls(writer)
        session.declare(sheet)
        sheet.keep = session.add
        return session

    def declare(self, sheet: TypedSheet) -> None:
        """Write what the sheet declares, from the start of the session."""
        for kind, text in (
            ("refrigerant", sheet.refrigerant), ("barometer", sheet.barometer_text),
            ("fluid", sheet.fluid_text), ("mode", sheet.circumstances.mode), ("source_coil", sheet.coil_text),
        ):  # fmt: skip
            if text:
                self._writer.note(kind, "", text, from_us=0)

    def now_s(self) -> float:
        """Whole seconds since the session began: a person's look is known no better.

        Rows of an analysis stand at whole seconds, so the newest look is in the newest row.
        """
        return float(self._writer.now_us() // 1_000_000)

    def add(self, row: TypedRow) -> None:
        """Write one row; a person looks, then types, so its moment is known to about a second."""
        first = self._known.setdefault(row.point, row)
        self._writer.channels([first.channel])
        if first is row:
            self._writer.note("assign", first.channel.id, row.point, from_us=0)
        unit, kept = row.channel.si_unit, first.channel.si_unit
        value = row.value
        if row.channel.unit != first.channel.unit:  # a channel has one unit in a session
            value = (row.value * unit.factor + unit.offset - kept.offset) / kept.factor
        item = (round(row.t_s * 1e6), first.channel.id, value, Quality.ESTIMATED_TIME)
        self._writer.add(Rows.of([item]))
        self._writer.flush()

    def close(self) -> tuple[str, ...]:
        """End the session; gives what did not work although all rows are stored."""
        try:
            warnings = self._writer.close("typed visit ended")
        except SessionError as error:
            raise NotAvailableError(f"{error}.") from None
        keep_summary(self._writer.folder)
        return warnings
