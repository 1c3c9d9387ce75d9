"""A proposed map for a foreign table, with its doubts as comments: a start for a person, never a decision."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from analysis.elementwise import FloatArray
from analysis.points import point
from analysis.units import Quantity, to_si
from drivers.table_dialect import Dialect, is_data
from drivers.table_file import Table, open_table
from drivers.table_numbers import Cell, CellState, parse_numbers
from drivers.table_source import TableError
from logger.draft_time import DraftColumn, time_lines, toml_text
from logger.draft_words import place_in_header, quantity_in_header, unit_in_header
from logger.errors import DamagedInputError, NotAvailableError

SAMPLE_ROWS = 2000
_RANGE: dict[Quantity, tuple[float, float]] = {
    Quantity.TEMPERATURE: (223.15, 423.15),
    Quantity.GAUGE_PRESSURE: (-1.0e5, 50e5),
    Quantity.ABSOLUTE_PRESSURE: (0.0, 50e5),
    Quantity.VOLUME_FLOW: (0.0, 20.0),
    Quantity.VOLTAGE: (0.0, 700.0),
    Quantity.CURRENT: (0.0, 1000.0),
    Quantity.SPEED: (0.0, 40.0),
}
"""What is plausible on a heat pump (common practice, no source); outside it the unit is doubted."""
_SENTINELS = (-9999.0, -999.0, -99.9, -127.0, 9999.0, 99999.0, 6553.5, 65535.0, 32767.0, -32768.0)
"""Numbers that stand for "no value" (common practice, no source)."""


def draft(path: Path) -> str:
    """Propose a map as TOML text.

    Raises
    ------
    CommandError
        Exit status 3 where the file is no table, 4 where it cannot be opened.
    """
    try:
        table = open_table(path, Dialect())
        sample = table.sample(SAMPLE_ROWS)
    except TableError as error:
        raise DamagedInputError(str(error)) from None
    except OSError as error:
        raise NotAvailableError(f"{path} cannot be opened: {error.strerror}.") from None
    width = len(table.header)
    rows = [tuple(row) for _, row in sample if len(row) == width]
    cells = list(zip(*rows, strict=True)) if rows else [()] * width
    columns = [_column(table, place, column) for place, column in enumerate(cells)]
    lines = [
        f"# A proposal for {path.name}, from its first {len(rows)} rows.",
        "# Read every line: '# ?' marks a doubt, and what is behind '#' is not in force.",
        f"# {table.facts}",
    ]
    lines += [f"# ? {doubt}" for doubt in table.found.doubts]
    if len(rows) < len(sample):
        lines.append(f"# ? {len(sample) - len(rows)} rows have more or fewer cells than the header")
    lines += _head(table)
    time_places, said = time_lines(columns)
    lines += said
    assigned: dict[str, str] = {}
    for place, column in enumerate(columns):
        if place not in time_places:
            lines += ["", *_column_lines(column, assigned)]
    return "\n".join(lines) + "\n"


def _column(table: Table, place: int, cells: Sequence[Cell]) -> DraftColumn:
    read = parse_numbers(cells, table.style)
    units = table.found.units
    return DraftColumn(
        table.header[place],
        units[place] if place < len(units) else "",
        cells,
        read.value[np.isfinite(read.value)],
        int(np.count_nonzero((read.state != CellState.NUMBER) & (read.state != CellState.EMPTY))),
        int(np.count_nonzero(read.state == CellState.EMPTY)),
    )


def _head(table: Table) -> list[str]:
    dialect = table.found.dialect
    lines = [
        "", f"title = {toml_text(table.path.stem)}",
        '# refrigerant = "R410A"        # ? not in the file: what the plate says',
        '# barometer = "600 m"          # ? not in the file: altitude, or pressure as "94.3 kPa(a)"',
        '# mode = "heating"', '# fluid = "water"', 'keep = "original"', "", "[table]",
    ]  # fmt: skip
    if table.kind == "spreadsheet":
        lines.append(f"sheet = {toml_text(dialect.sheet)}")
    else:
        delimiter = {"\t": "tab"}.get(dialect.delimiter, dialect.delimiter)
        lines += [f"delimiter = {toml_text(delimiter)}", f"encoding = {toml_text(dialect.encoding)}"]
    lines.append(f"decimal = {toml_text(dialect.decimal)}")
    lines.append(f"header_row = {dialect.header_row}")
    if dialect.units_row:
        lines.append(f"units_row = {dialect.units_row}")
    return lines


def _column_lines(column: DraftColumn, assigned: dict[str, str]) -> list[str]:
    """Propose one column; one that cannot be proposed whole stands as a comment."""
    if not column.value.size:
        kind = "empty" if column.empty == len(column.cells) else "no number"
        return [f"# {toml_text(column.name)} holds {kind}; left out"]
    doubts: list[str] = []
    said = unit_in_header(column.name, column.unit_cell)
    sentinels = [number for number in _SENTINELS if np.any(column.value == number)]
    value = column.value[~np.isin(column.value, sentinels)]
    if sentinels:
        doubts.append(f"{', '.join(f'{n:g}' for n in sentinels)} may stand for 'no value'")
    if value.size and np.ptp(value) == 0.0 and value.size > 5:
        doubts.append(f"always {value[0]:g}")
    if column.texts:
        sample = (
            next(str(c) for c in column.cells if isinstance(c, str) and c.strip() and not is_data(c))
            if any(isinstance(c, str) and c.strip() and not is_data(c) for c in column.cells)
            else "other marks"
        )
        doubts.append(f"{column.texts} cells are no number, as '{sample[:30]}'")
    quantity, unit = said if said else (None, "")
    place = ""
    if quantity is Quantity.PRESSURE_DIFFERENCE:
        quantity, unit = _pressure(unit, doubts)
    if quantity is None:
        doubts.append("the file does not say the unit")
    else:
        place = place_in_header(column.name, quantity)
        doubts += _unit_doubts(value, quantity, unit)
    if place in assigned:
        doubts.append(f"may be {place} too, which '{assigned[place]}' has")
        place = ""
    elif place:
        assigned[place] = column.name
    spread = f"{value.min():g} to {value.max():g}" if value.size else "no value"
    lines = [f"# {spread}"] + [f"# ? {doubt}" for doubt in doubts]
    whole = ["[[column]]", f"header = {toml_text(column.name)}"]
    if quantity is not None:
        whole += [f'quantity = "{quantity.value}"', f'unit = "{unit}"']
    else:
        guess = quantity_in_header(column.name)
        whole += [
            f'quantity = "{guess[0].value if guess else "?"}"',
            f'unit = "?"   # {guess[1]}' if guess else 'unit = "?"',
        ]
    if sentinels:
        whole.append(f"sentinels = [{', '.join(f'{n:g}' for n in sentinels)}]")
    if place and quantity is not None and point(place).accepts(quantity):
        whole.append(f'assign = "{place}"   # ? by its name only')
    return lines + (whole if quantity is not None else [f"# {line}" for line in whole])


def _pressure(unit: str, doubts: list[str]) -> tuple[Quantity, str]:
    """Take a pressure that does not say gauge or absolute as gauge, and doubt it."""
    gauge = "psig" if unit == "psi" else f"{unit}(g)"
    doubts.append(f"{unit} does not say gauge or absolute (or a difference); gauge is taken")
    return Quantity.GAUGE_PRESSURE, gauge


def _unit_doubts(value: FloatArray, quantity: Quantity, unit: str) -> Iterator[str]:
    """Doubt a unit in which the values would be implausible, and name one in which they are plausible."""
    if not value.size or quantity not in _RANGE:
        return
    low, high = float(np.percentile(value, 5)), float(np.percentile(value, 95))
    if quantity in (Quantity.GAUGE_PRESSURE, Quantity.ABSOLUTE_PRESSURE):
        largest = to_si(quantity, unit, high)
        if high > 0.0 and largest < 2e4:
            mark = "(g)" if quantity is Quantity.GAUGE_PRESSURE else "(a)"
            psi = "psig" if mark == "(g)" else "psia"
            likely = [
                u
                for u in (f"bar{mark}", psi, f"kPa{mark}", f"MPa{mark}")
                if 1e5 < to_si(quantity, u, high) < 50e5
            ]
            yield (
                f"{low:g} to {high:g} {unit} is next to nothing for a refrigerant pressure; "
                f"likely {' or '.join(likely) or 'another unit'}"
            )
            return
    least, most = _RANGE[quantity]
    inside = [least <= to_si(quantity, unit, v) <= most for v in (low, high) if math.isfinite(v)]
    if not all(inside):
        words = quantity.value.replace("_", " ")
        yield f"{low:g} to {high:g} {unit} is not plausible for {words}; look at the unit"
