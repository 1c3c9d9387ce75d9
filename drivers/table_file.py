"""Foreign tables (CSV, packed CSV, spreadsheets) as blocks of rows, however long the file is."""

from __future__ import annotations

import csv
import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from drivers.table_dialect import Dialect, Found, find_delimiter, look
from drivers.table_numbers import Cell, NumberStyle
from drivers.table_sheet import sheet_rows
from drivers.table_source import HEAD, FileKind, Lines, TableError, detect_encoding, kind_of, open_bytes

LOOK_ROWS = 200
BLOCK_CELLS = 1 << 16
MOST_COLUMNS = 4096
AS_FOUND = Dialect()
"""Nothing is declared."""
Row = tuple[int, Sequence[Cell]]


@dataclass(slots=True)
class Refusals:
    """What was refused: how often, and the first one of each kind with its row."""

    counts: dict[str, int] = field(default_factory=dict)
    first: dict[str, tuple[int, str]] = field(default_factory=dict)

    def add(self, kind: str, row: int, sample: str, count: int = 1) -> None:
        """Count one more (or several) of a kind."""
        if count:
            self.counts[kind] = self.counts.get(kind, 0) + count
            self.first.setdefault(kind, (row, sample[:80]))

    def sentences(self) -> list[str]:
        """Say each kind in words."""
        return [
            f"{count} {kind}; first in row {self.first[kind][0]}: '{self.first[kind][1]}'"
            for kind, count in self.counts.items()
        ]


@dataclass(frozen=True, slots=True)
class Block:
    """Some rows of a table; each has as many cells as the table has columns."""

    number: list[int]
    """Row (line) numbers in the file."""
    place: list[int]
    """Which row of data each is, refused ones counted too, from 0."""
    columns: list[Sequence[Cell]]


MOST_CELL = 131_072
"""Characters in one cell; a longer one is a quote that was never closed."""
TOO_LONG = "rows with more cells than the header, refused"
TOO_SHORT = "rows with fewer cells than the header, the cells that are there were taken"
TORN = "rows broken off at the end of the file, refused"
HEADER_AGAIN = "rows that repeat the header, passed over"
OPEN_QUOTE = "places where a quote is not closed, refused"


class Table:
    """One file as a table; see :func:`open_table`."""

    def __init__(self, path: Path, kind: FileKind, found: Found) -> None:
        self.path, self.kind, self.found = path, kind, found
        self.refusals = Refusals()
        self.rows = 0
        """Rows of data so far, refused ones counted too."""
        self.notes: list[str] = []
        """What else was seen on the way."""

    @property
    def header(self) -> tuple[str, ...]:
        """Names of the columns, each once."""
        return self.found.header

    @property
    def style(self) -> NumberStyle:
        """How numbers are written in it."""
        dialect = self.found.dialect
        return NumberStyle(dialect.decimal, dialect.thousands, frozenset(dialect.missing))

    @property
    def facts(self) -> str:
        """How it is written, in words."""
        dialect = self.found.dialect
        if self.kind == "spreadsheet":
            return f"spreadsheet, sheet '{dialect.sheet}', names in row {dialect.header_row}"
        delimiter = {"\t": "tab"}.get(dialect.delimiter, dialect.delimiter)
        packed = "packed " if self.kind == "gzip" else ""
        return (
            f"{packed}text in {dialect.encoding}, delimiter '{delimiter}', decimal mark '{dialect.decimal}', "
            f"names in row {dialect.header_row}"
            + (f", units in row {dialect.units_row}" if dialect.units_row else "")
        )

    def blocks(self) -> Iterator[Block]:
        """Give all rows of data in blocks of bounded size.

        Raises
        ------
        TableError
            Where the file breaks off or is damaged; what was given before is good.
        """
        width = len(self.header)
        size = max(BLOCK_CELLS // max(width, 1), 16)
        numbers: list[int] = []
        places: list[int] = []
        rows: list[Sequence[Cell]] = []
        for number, row, torn in self._numbered():
            if number < self.found.first_row or not (row and (_filled(row[0]) or any(map(_filled, row)))):
                continue
            place, self.rows = self.rows, self.rows + 1
            whole = self._whole(number, row, width, torn)
            if whole is not None:
                numbers.append(number)
                places.append(place)
                rows.append(whole)
                if len(rows) >= size:
                    yield Block(numbers, places, list(zip(*rows, strict=True)))
                    numbers, places, rows = [], [], []
        if rows:
            yield Block(numbers, places, list(zip(*rows, strict=True)))

    def sample(self, count: int) -> list[Row]:
        """Give the first rows of data, for a look."""
        rows = ((number, row) for number, row, _ in self._numbered() if number >= self.found.first_row)
        return list(itertools.islice(rows, count))

    def _whole(self, number: int, row: Sequence[Cell], width: int, torn: bool) -> Sequence[Cell] | None:
        """Bring a row to the table's width, or refuse it with a count."""
        if len(row) == width:
            # A header that stands again comes from files that were put one behind the other.
            if self.found.dialect.header_row and _same(row, self.header):
                self.refusals.add(HEADER_AGAIN, number, _sample(row))
                return None
            return row
        if len(row) > width:
            if not any(_filled(cell) for cell in row[width:]):
                return row[:width]
            self.refusals.add(TOO_LONG, number, _sample(row))
            return None
        if torn:
            self.refusals.add(TORN, number, _sample(row))
            return None
        if any(isinstance(cell, str) and "\n" in cell for cell in row):
            self.refusals.add(OPEN_QUOTE, number, _sample(row))
            return None
        self.refusals.add(TOO_SHORT, number, _sample(row))
        return (*row, *("" for _ in range(width - len(row))))

    def _numbered(self) -> Iterator[tuple[int, Sequence[Cell], bool]]:
        if self.kind == "spreadsheet":
            for number, row in sheet_rows(self.path, self.found.dialect.sheet)[1]:
                yield number, row, False
            return
        with open_bytes(self.path, self.kind) as stream:
            lines = Lines(self.path, stream, self.found.dialect.encoding, self.found.dialect.comment)
            yield from _csv_rows(lines, self.found.dialect.delimiter, self.refusals)
            if lines.zeros:
                self.notes.append(f"NUL characters were taken out of {lines.zeros} lines")


def _csv_rows(
    lines: Lines, delimiter: str, refusals: Refusals | None = None
) -> Iterator[tuple[int, list[str], bool]]:
    # The limit is the process's own and other libraries raise it; it is what ends an unclosed quote.
    csv.field_size_limit(MOST_CELL)
    reader = csv.reader(iter(lines), delimiter=delimiter)
    while True:
        first = lines.number + 1
        try:
            row = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            if refusals is not None:
                refusals.add(OPEN_QUOTE, first, f"lines {first} to {lines.number}: {error}")
            continue
        if len(row) > MOST_COLUMNS:
            raise TableError(
                f"{lines.path}, line {first}: more than {MOST_COLUMNS} columns, so this is no table."
            )
        yield first, row, lines.torn


def open_table(path: Path, wanted: Dialect = AS_FOUND) -> Table:
    """Look at a file and find out how it is written, where that is not declared.

    Raises
    ------
    TableError
        If it is empty, no table, or holds no row of data.
    OSError
        If it cannot be opened.
    """
    kind = kind_of(path)
    if kind == "spreadsheet":
        sheet, rows = sheet_rows(path, wanted.sheet)
        found = look(list(itertools.islice(rows, LOOK_ROWS)), replace(wanted, sheet=sheet))
    else:
        with open_bytes(path, kind) as stream:
            head = _head(stream)
        if not head:
            raise TableError(f"{path} is empty: there is nothing to import.")
        wanted = replace(wanted, encoding=wanted.encoding or detect_encoding(head, path))
        found = _look_at_text(path, kind, wanted)
    table = Table(path, kind, found)
    if not table.header:
        raise TableError(f"{path} has no columns: there is nothing to import.")
    if not table.sample(1):
        raise TableError(f"{path} has a header and no row of data: there is nothing to import.")
    table.refusals = Refusals()
    table.notes.clear()
    return table


def _head(stream: object) -> bytes:
    read = getattr(stream, "read")  # noqa: B009  (a buffered reader of either kind)
    head: bytes = read(HEAD)
    return head


def _look_at_text(path: Path, kind: FileKind, wanted: Dialect) -> Found:
    delimiter = wanted.delimiter
    with open_bytes(path, kind) as stream:
        lines = Lines(path, stream, wanted.encoding, wanted.comment)
        numbered = [(lines.number, line) for line in itertools.islice(iter(lines), LOOK_ROWS) if line.strip()]
    if not numbered:
        raise TableError(f"{path} holds blank lines only: there is nothing to import.")
    wanted = replace(wanted, delimiter=delimiter or find_delimiter([line for _, line in numbered]))
    with open_bytes(path, kind) as stream:
        lines = Lines(path, stream, wanted.encoding, wanted.comment)
        rows = [
            (number, row)
            for number, row, _ in itertools.islice(_csv_rows(lines, wanted.delimiter), LOOK_ROWS)
        ]
    found = look(rows, wanted)
    if found.dialect.header_row and not any(number == found.dialect.header_row for number, _ in rows):
        raise TableError(
            f"{path} has no row {found.dialect.header_row} for the names; correct header_row in the map."
        )
    return found


def _filled(cell: Cell) -> bool:
    return cell is not None and (not isinstance(cell, str) or bool(cell.strip()))


def _same(row: Sequence[Cell], header: Sequence[str]) -> bool:
    """Whether a row repeats the names (a name that stood twice has got a number there)."""
    first = row[0]
    return (
        isinstance(first, str)
        and " ".join(first.strip("\ufeff").split()) == header[0]
        and not any(
            isinstance(cell, str) and " ".join(cell.strip("\ufeff").split()) not in name
            for cell, name in zip(row, header, strict=True)
        )
    )


def _sample(row: Sequence[Cell]) -> str:
    return " | ".join("" if cell is None else str(cell) for cell in row)[:80]
