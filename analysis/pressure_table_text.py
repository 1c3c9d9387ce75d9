"""Reading and judging the text of a pressure-temperature table.

A table that is wrong would be believed for years, so everything that shows a slip is refused with its line:
missing units, pressures that do not say gauge or absolute, swapped dew and bubble, rows off the curve.
"""

from __future__ import annotations

import csv
import math
from itertools import pairwise

from analysis.units import Quantity, UnitError, to_si, unit

FEWEST_ROWS = 5
#: A row further than this [K] from the line through its neighbours is taken for a slip of the pen.
LARGEST_STEP_ERROR = 1.0
#: Slope of ln p over 1/T in the cold half of a table divided by that in the warm half. Every refrigerant of
#: analysis/tables lies between 0.96 and 1.08, whatever the range; -40 to 65 degC read as absolute where gauge
#: is meant gives 1.3 and more, the reverse 0.85 and less.
SLOPE_RATIO = (0.92, 1.12)

Points = list[tuple[int, float, float]]
"""Line number, absolute pressure [Pa], temperature [K] of each row of one line."""

_LAYOUTS = (
    ("temperature", "dew_pressure", "bubble_pressure"),
    ("pressure", "dew_temperature", "bubble_temperature"),
    ("temperature", "pressure"),
)
_PRESSURES = (Quantity.GAUGE_PRESSURE, Quantity.ABSOLUTE_PRESSURE)

_Rows = list[tuple[int, dict[str, float]]]  # line number, column name -> value in SI


class PressureTableError(ValueError):
    """A table that cannot be believed; the text says which row and what to do."""


def read_points(text: str, atmosphere: float) -> tuple[Points, Points | None]:
    """Read a table's text into the points of its dew and bubble line, in rising order.

    Parameters
    ----------
    text
        CSV as described in :mod:`analysis.pressure_table`.
    atmosphere
        What gauge pressures stand above [Pa].

    Returns
    -------
    tuple
        Dew and bubble points; None for bubble where the table has one pressure for both.

    Raises
    ------
    PressureTableError
        One sentence with the line and the way out.
    """
    rows, layout = _read(text, atmosphere)
    if layout == ("temperature", "pressure"):
        points = [(line, row["pressure"], row["temperature"]) for line, row in rows]
        return _checked(points, ""), None
    if layout[0] == "temperature":
        dew = [(line, row["dew_pressure"], row["temperature"]) for line, row in rows]
        bubble = [(line, row["bubble_pressure"], row["temperature"]) for line, row in rows]
        swapped = [line for line, row in rows if row["dew_pressure"] > row["bubble_pressure"]]
        rule = "at one temperature the dew pressure is the lower"
    else:
        dew = [(line, row["pressure"], row["dew_temperature"]) for line, row in rows]
        bubble = [(line, row["pressure"], row["bubble_temperature"]) for line, row in rows]
        swapped = [line for line, row in rows if row["dew_temperature"] < row["bubble_temperature"]]
        rule = "at one pressure the dew temperature is the higher"
    if swapped:
        raise PressureTableError(f"Line {swapped[0]}: dew and bubble are swapped or wrong: {rule}.")
    return _checked(dew, "dew "), _checked(bubble, "bubble ")


def figures_only(text: str) -> str:
    r"""Write a table again: its columns, units and figures, and nothing else that a person may have written.

    Raises
    ------
    PressureTableError
        As :func:`read_points` does.

    Examples
    --------
    >>> rows = "".join(f"{t}; {p}\n" for t, p in ((0, 5), (10, 7), (20, 9.5), (30, 12.6), (40, 16.4)))
    >>> figures_only("# of the cylinder\nTemperature [degC]; Pressure [bar(a)]\n" + rows).splitlines()[:2]
    ['temperature [degC],pressure [bar(a)]', '0.0,5.0']
    """
    _, separator, columns, rest = _header(text)
    lines = [",".join(f"{name} [{unit_name}]" for name, _, unit_name in columns)]
    for number, line in rest:
        cells = _row_cells(line, separator, columns, number)
        figures = (
            _figure(cell, separator, name, number) for (name, _, _), cell in zip(columns, cells, strict=True)
        )
        lines.append(",".join(map(repr, figures)))
    return "\n".join(lines) + "\n"


_Columns = list[tuple[str, Quantity, str]]
"""Name, quantity and unit of each column."""


def _header(text: str) -> tuple[tuple[str, ...], str, _Columns, list[tuple[int, str]]]:
    """Give the layout, the separator, the columns and the lines below the header."""
    lines = [
        (number, line)
        for number, line in enumerate(text.lstrip("\ufeff").splitlines(), 1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not lines:
        raise PressureTableError("The table is empty: give a header row with units and the rows below it.")
    first, header = lines[0]
    separator = next((mark for mark in "\t;" if mark in header), ",")
    columns = [_column(cell, first) for cell in _cells(header, separator, first)]
    names = [column for column, _, _ in columns]
    layout = next((wanted for wanted in _LAYOUTS if set(wanted) == set(names)), None)
    if layout is None or len(names) != len(layout):
        ways = "; or ".join(", ".join(wanted) for wanted in _LAYOUTS)
        raise PressureTableError(f"Line {first}: the columns must be {ways}, each once with its unit.")
    return layout, separator, columns, lines[1:]


def _row_cells(line: str, separator: str, columns: _Columns, number: int) -> list[str]:
    cells = _cells(line, separator, number)
    if len(cells) != len(columns):
        raise PressureTableError(
            f"Line {number}: {len(cells)} figures where the header names {len(columns)} columns."
        )
    return cells


def _read(text: str, atmosphere: float) -> tuple[_Rows, tuple[str, ...]]:
    """Split the text, find the columns and turn every figure into SI, absolute."""
    layout, separator, columns, lines = _header(text)
    rows: _Rows = []
    for number, line in lines:
        cells = _row_cells(line, separator, columns, number)
        row = {}
        for (column, quantity, unit_name), cell in zip(columns, cells, strict=True):
            value = to_si(quantity, unit_name, _figure(cell, separator, column, number))
            if quantity is Quantity.GAUGE_PRESSURE:
                value += atmosphere
            if not (math.isfinite(value) and value > 0):
                raise PressureTableError(
                    f'Line {number}: {column} "{cell.strip()}" {unit_name} is below absolute zero or endless.'
                )
            row[column] = value
        rows.append((number, row))
    if len(rows) < FEWEST_ROWS:
        raise PressureTableError(
            f"Only {len(rows)} rows: give at least {FEWEST_ROWS} over the range you need."
        )
    return rows, layout


def _cells(line: str, separator: str, number: int) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=separator, skipinitialspace=True, strict=True))
    except csv.Error as error:
        raise PressureTableError(f"Line {number} is no row of figures ({error}).") from None


def _column(cell: str, number: int) -> tuple[str, Quantity, str]:
    """Read a header cell such as ``dew_pressure [psig]``."""
    name, bracket, rest = cell.strip().partition("[")
    name = "_".join(name.lower().split())
    unit_name = rest.partition("]")[0].strip()
    if not bracket or not unit_name:
        raise PressureTableError(
            f'Line {number}: column "{cell.strip()}" has no unit; write it in brackets: pressure [psig].'
        )
    if not name.endswith("pressure"):
        return name, Quantity.TEMPERATURE, _known(unit_name, Quantity.TEMPERATURE, name, number)
    for quantity in _PRESSURES:
        try:
            return name, quantity, unit(unit_name, quantity).name
        except UnitError:
            continue
    raise PressureTableError(
        f'Line {number}: unit "{unit_name}" of {name} does not say gauge or absolute; '
        "write psig, psia, bar(g), kPa(a) or the like."
    )


def _known(unit_name: str, quantity: Quantity, name: str, number: int) -> str:
    try:
        return unit(unit_name, quantity).name
    except UnitError as error:
        raise PressureTableError(f"Line {number}, column {name}: {error}") from None


def _figure(cell: str, separator: str, column: str, number: int) -> float:
    text = cell.strip().replace("\u2212", "-")
    if separator != ",":
        text = text.replace(",", ".")
    try:
        return float(text)
    except ValueError:
        raise PressureTableError(
            f'Line {number}: {column} "{cell.strip()}" is no number; leave out the row if it is not known.'
        ) from None


def _checked(points: Points, side: str) -> Points:
    """Bring rows into rising order and refuse what cannot be a vapour-pressure curve."""
    if points[0][2] > points[-1][2]:
        points = points[::-1]
    for (_, p, t), (line, p_next, t_next) in pairwise(points):
        if not (p_next > p and t_next > t):
            raise PressureTableError(
                f"Line {line}: {side}pressure and temperature do not rise together from row to row; "
                "look for a slip or a row out of order."
            )
    for before, (line, p, t), after in zip(points, points[1:], points[2:], strict=False):
        share = (math.log(p) - math.log(before[1])) / (math.log(after[1]) - math.log(before[1]))
        expected = 1.0 / (1.0 / before[2] + share * (1.0 / after[2] - 1.0 / before[2]))
        if abs(expected - t) > LARGEST_STEP_ERROR:
            raise PressureTableError(
                f"Line {line}: {side}figures lie {abs(expected - t):.1f} K off the line through the "
                "neighbouring rows; look for a slip, or give rows closer together."
            )
    middle = len(points) // 2
    cold, warm = _steepness(points[0], points[middle]), _steepness(points[middle], points[-1])
    if not SLOPE_RATIO[0] <= cold / warm <= SLOPE_RATIO[1]:
        raise PressureTableError(
            f"Lines {points[0][0]} to {points[-1][0]}: the {side}figures do not bend like a vapour pressure; "
            "check whether the pressures are gauge or absolute, and the units."
        )
    return points


def _steepness(low: tuple[int, float, float], high: tuple[int, float, float]) -> float:
    return math.log(high[1] / low[1]) / (1.0 / low[2] - 1.0 / high[2])
