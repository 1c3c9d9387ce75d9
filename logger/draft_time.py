"""Where a foreign table may hold its time, and how it is written: lines for a proposed map."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from analysis.elementwise import FloatArray
from drivers.table_numbers import Cell
from drivers.table_times import MIDNIGHT

_TIME_WORDS = re.compile(
    r"time|date|zeit|datum|fecha|hora|heure|temps|elapsed|timestamp|^t[ _]?\(?s\)?$|^t_s$", re.I
)
_FORMATS = (
    "%Y/%m/%d %H:%M:%S", "%d.%m.%Y %H:%M:%S", "%d.%m.%Y %H:%M", "%d/%m/%Y %H:%M:%S", "%m/%d/%Y %H:%M:%S",
    "%d/%m/%Y %H:%M", "%m/%d/%Y %H:%M", "%m/%d/%Y %I:%M:%S %p", "%d.%m.%y %H:%M:%S", "%m/%d %H:%M:%S",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class DraftColumn:
    """One column under inspection."""

    name: str
    unit_cell: str
    cells: Sequence[Cell]
    value: FloatArray
    """The numbers in it."""
    texts: int
    empty: int


def toml_text(value: str) -> str:
    """Write a TOML string: JSON's escapes are among TOML's."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def time_lines(columns: list[DraftColumn]) -> tuple[set[int], list[str]]:
    """Find the time; gives the places of its columns and the lines of ``[time]``."""
    lines = ["", "[time]"]
    named = [place for place, column in enumerate(columns) if _TIME_WORDS.search(column.name)]
    for place in [*named, *(p for p in range(min(len(columns), 3)) if p not in named)]:
        moments = _moments(columns[place], columns, place)
        if moments is not None:
            places, text = moments
            return places, [*lines, *text]
    for place in named:
        if elapsed := _elapsed(columns[place]):
            return {place}, [*lines, *elapsed]
    lines += [
        "# ? no column of the file looks like a time; say how far the rows are apart",
        'every = "10 s"',
        '# start = "2026-01-14T08:00:00Z"',
    ]
    return set(), lines


def _moments(
    column: DraftColumn, columns: list[DraftColumn], place: int
) -> tuple[set[int], list[str]] | None:
    """Read a column as dates, alone or with a column of times behind it."""
    texts = [cell for cell in column.cells if isinstance(cell, str) and cell.strip()][:50]
    zone = '# zone = "Europe/Oslo"          # ? not in the file: UTC is taken where it is not said'
    if any(isinstance(cell, datetime) for cell in column.cells):
        return {place}, [
            f"column = {toml_text(column.name)}",
            'format = "iso"   # dates of the spreadsheet',
            zone,
        ]
    if not texts or len(column.value) > len(column.cells) / 2:
        return None
    follower = columns[place + 1] if place + 1 < len(columns) else None
    for other in (None, follower):
        if other is None:
            joined = texts
        else:
            joined = [f"{a} {b}" for a, b in zip(column.cells, other.cells, strict=True) if a and b][:50]
        name = _format(joined)
        if name:
            where = (
                f"column = {toml_text(column.name)}"
                if other is None
                else f"column = [{toml_text(column.name)}, {toml_text(other.name)}]"
            )
            lines = [where, f"format = {toml_text(name)}", zone]
            if "%d/%m" in name or "%m/%d" in name:
                lines.insert(2, "# ? day and month: look at a date after the 12th")
            if "%Y" not in name and "%y" not in name and name != "iso":
                lines.insert(2, f"year = {datetime.now().year}   # ? not in the file")  # noqa: DTZ005
            return {place} if other is None else {place, place + 1}, lines
    return None


def _format(texts: Sequence[str]) -> str:
    """Give the first format that reads all texts."""

    def reads(name: str) -> bool:
        for text in texts:
            text = " ".join(MIDNIGHT.sub("00:00", text).split()) if name != "iso" else text.strip()
            try:
                if name == "iso":
                    datetime.fromisoformat(text)
                elif "%Y" in name or "%y" in name:
                    datetime.strptime(text, name)  # noqa: DTZ007
                else:
                    datetime.strptime(f"2024 {text}", f"%Y {name}")  # noqa: DTZ007
            except ValueError:
                return False
        return bool(texts)

    return next((name for name in ("iso", *_FORMATS) if reads(name)), "")


def _elapsed(column: DraftColumn) -> list[str]:
    """Read a column as a time that runs from the start."""
    where = f"column = {toml_text(column.name)}"
    if column.value.size < 2 or column.texts:
        clock = [
            cell
            for cell in column.cells
            if isinstance(cell, str) and re.fullmatch(r"\d+:\d\d(:\d\d.*)?", cell)
        ]
        return [where, 'elapsed = "h:mm:ss"'] if len(clock) > 1 else []
    steps = np.diff(column.value)
    if (steps < 0).any():
        return []
    newest = float(column.value[-1])
    if newest > 1e12:
        return [where, 'format = "unix ms"   # ? counted from 1970']
    if newest > 1e9:
        return [where, 'format = "unix"   # ? counted from 1970']
    if (
        30000 < newest < 80000
        and float(np.median(steps)) < 1.5
        and "s" not in column.name.lower().split("_")[-1]
    ):
        return [where, 'format = "serial"   # ? days of a spreadsheet']
    words = column.name.lower()
    unit = next(
        (u for u, p in (("ms", r"\bms\b"), ("min", r"min"), ("h", r"\bh(ours?)?\b")) if re.search(p, words)),
        "s",
    )
    doubt = "" if re.search(r"\b(s|sec|ms|min|h)\b|_s$", words) else "   # ? the file does not say the unit"
    step = float(np.median(steps))
    return [
        where,
        f'elapsed = "{unit}"{doubt}',
        f"# rows are {step:g} {unit} apart",
        '# start = "2026-01-14T08:00:00Z"',
    ]
