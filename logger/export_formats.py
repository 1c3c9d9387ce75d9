"""The file formats of an export: CSV by region, Parquet, spreadsheet; each takes blocks of finished rows."""

from __future__ import annotations

import importlib
import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.parquet

from logger.moments import elapsed_text
from logger.session_errors import SessionError

SHEET_ROWS = 1_048_576 - 1  # rows of one sheet in common spreadsheet programs, less the header


@dataclass(frozen=True, slots=True)
class Locale:
    """How a spreadsheet of a region wants its text files."""

    separator: str
    decimal: str


LOCALES = {"point": Locale(",", "."), "comma": Locale(";", ",")}
"""``point``: comma between fields, decimal point; ``comma``: semicolon, decimal comma."""


@dataclass(frozen=True, slots=True)
class ExportOptions:
    """What the table looks like."""

    step_us: int = 1_000_000
    """Distance of the rows [us]."""
    locale: str = "point"
    """For CSV: one of :data:`LOCALES`."""
    zone: tzinfo = UTC
    """For the column with local time."""
    names: str = "channel"
    """Columns are named by ``channel``, or by the ``point`` that the channel feeds at the end."""


@dataclass(frozen=True, slots=True)
class Table:
    """A block of finished rows, as all formats take it."""

    elapsed_us: npt.NDArray[np.int64]
    utc_us: npt.NDArray[np.int64]
    values: npt.NDArray[np.float64]


class Sink(Protocol):
    """A file that is being written."""

    def write(self, table: Table) -> None:
        """Append rows."""
        ...

    def close(self) -> None:
        """Finish the file and bring it to the disk."""
        ...


def _moment(utc_us: int, zone: tzinfo) -> datetime:
    return (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=utc_us)).astimezone(zone)


def _whole_text(moment: datetime) -> str:
    """Date and time as spreadsheets recognise it; decimals only where there are any."""
    text = moment.strftime("%Y-%m-%d %H:%M:%S")
    return f"{text}.{moment.microsecond // 1000:03d}" if moment.microsecond // 1000 else text


def _local_text(moment: datetime) -> str:
    """Local time with its offset, so that the hour of an autumn change is not there twice."""
    return f"{_whole_text(moment)} {moment:%z}"


_TIME_COLUMNS = ("date and time UTC", "local date and time", "elapsed [s]")


class CsvFile:
    """Text for spreadsheets, as a region writes numbers."""

    def __init__(self, path: Path, names: Sequence[str], options: ExportOptions) -> None:
        self._locale = LOCALES[options.locale]
        self._zone = options.zone
        self._file = path.open("w", encoding="utf-8-sig", newline="")  # the mark tells spreadsheets UTF-8
        self._file.write(self._line([self._quoted(name) for name in (*_TIME_COLUMNS, *names)]))

    def _quoted(self, text: str) -> str:
        special = self._locale.separator in text or '"' in text
        return f'"{text.replace(chr(34), chr(34) * 2)}"' if special else text

    def _line(self, cells: Sequence[str]) -> str:
        return self._locale.separator.join(cells) + "\r\n"

    def _number(self, text: str) -> str:
        return text.replace(".", self._locale.decimal)

    def write(self, table: Table) -> None:
        """Append rows."""
        columns = zip(table.elapsed_us.tolist(), table.utc_us.tolist(), table.values.tolist(), strict=True)
        for t_us, utc_us, values in columns:
            times = (_whole_text(_moment(utc_us, UTC)), _local_text(_moment(utc_us, self._zone)))
            numbers = [self._number(elapsed_text(t_us)), *(self._number(_text(value)) for value in values)]
            self._file.write(self._line([*times, *numbers]))

    def close(self) -> None:
        """Finish the file."""
        try:
            self._file.flush()
            os.fsync(self._file.fileno())
        finally:
            self._file.close()


def _text(value: float) -> str:
    return "" if value != value else repr(value)


class ParquetFile:
    """Columns for other tools; what is not known is null."""

    def __init__(self, path: Path, names: Sequence[str], options: ExportOptions) -> None:
        fields = [
            pa.field("date_time_utc", pa.timestamp("us", "UTC")),
            pa.field("elapsed_us", pa.int64()),
            *(pa.field(name, pa.float64()) for name in names),
        ]
        self._schema = pa.schema(fields, metadata={"local time zone": str(options.zone)})
        self._writer = pyarrow.parquet.ParquetWriter(path, self._schema, compression="zstd")

    def write(self, table: Table) -> None:
        """Append rows."""
        columns = [np.ascontiguousarray(column) for column in table.values.T]
        arrays = [
            pa.array(table.utc_us).cast(self._schema.field(0).type),
            pa.array(table.elapsed_us),
            *(pa.array(column, mask=np.isnan(column)) for column in columns),
        ]
        self._writer.write_table(pa.Table.from_arrays(arrays, schema=self._schema))

    def close(self) -> None:
        """Finish the file."""
        self._writer.close()


class SheetFile:
    """One sheet; needs the library xlsxwriter."""

    def __init__(self, path: Path, names: Sequence[str], options: ExportOptions) -> None:
        try:
            xlsxwriter: Any = importlib.import_module("xlsxwriter")
        except ImportError:
            raise SessionError("writing .xlsx needs xlsxwriter; install it, or export .csv instead") from None
        self._refused: type[Exception] = xlsxwriter.exceptions.FileCreateError
        self._zone = options.zone
        plain = {"constant_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
        self._book = xlsxwriter.Workbook(str(path), plain)
        self._sheet = self._book.add_worksheet("readings")
        self._when = self._book.add_format({"num_format": "yyyy-mm-dd hh:mm:ss"})
        self._sheet.write_row(0, 0, [*_TIME_COLUMNS, *names])
        self._row = 0

    def write(self, table: Table) -> None:
        """Append rows."""
        if self._row + len(table.elapsed_us) > SHEET_ROWS:
            raise SessionError(f"a sheet holds {SHEET_ROWS} rows; choose a larger step or export .csv")
        columns = zip(table.elapsed_us.tolist(), table.utc_us.tolist(), table.values.tolist(), strict=True)
        for t_us, utc_us, values in columns:
            self._row += 1
            self._sheet.write_datetime(self._row, 0, _moment(utc_us, UTC).replace(tzinfo=None), self._when)
            self._sheet.write_string(self._row, 1, _local_text(_moment(utc_us, self._zone)))
            self._sheet.write_number(self._row, 2, t_us / 1e6)
            for column, value in enumerate(values, 3):
                if value == value:
                    self._sheet.write_number(self._row, column, value)

    def close(self) -> None:
        """Finish the file."""
        try:
            self._book.close()
        except self._refused as error:  # the library wraps what the disk says
            raise error.args[0] if isinstance(error.args[0], OSError) else OSError(str(error)) from None
