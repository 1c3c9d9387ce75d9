"""Rows of a spreadsheet (.xls, .xlsx, .xlsb, .ods); such a file is read whole, within a stated limit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import python_calamine

from drivers.table_numbers import Cell
from drivers.table_source import TableError


def sheet_rows(path: Path, sheet: str = "") -> tuple[str, Iterator[tuple[int, Sequence[Cell]]]]:
    """Give the name of a sheet (the first with cells where none is named) and its numbered rows.

    Raises
    ------
    TableError
        If the file is damaged or locked by a password, or has no such sheet.
    """
    try:
        book = python_calamine.CalamineWorkbook.from_path(path)
        names = list(book.sheet_names)
        if sheet and sheet not in names:
            raise TableError(f"{path} has no sheet '{sheet}'; it has {', '.join(names)}.")
        for name in [sheet] if sheet else names:
            found = book.get_sheet_by_name(name)
            if found.height:
                rows = found.to_python(skip_empty_area=False)
                return name, ((number, row) for number, row in enumerate(rows, 1))
    except python_calamine.PasswordError:
        raise TableError(f"{path} is locked by a password: save it without one.") from None
    except (python_calamine.CalamineError, OSError) as error:
        raise TableError(f"{path} cannot be read as a spreadsheet ({error}): save it again.") from None
    raise TableError(f"{path} has no cells in its sheets: there is nothing to import.")
