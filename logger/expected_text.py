"""The sheet of expected values as rows for a page, lines for a terminal and plain values."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby

from analysis.evidence import si_unit
from analysis.expected import Expected
from analysis.finding_levels import COMMON
from analysis.presets import PresetName, show, show_expanded
from analysis.units import Quantity

_UNIT_LEFT_OUT = {Quantity.RATIO}


@dataclass(frozen=True, slots=True)
class Row:
    """One line as shown."""

    label: str
    expect: str
    """The value at this condition, else the range."""
    limits: str
    """The range, where there is a value too."""
    source: str


def expected_facts(line: Expected) -> dict[str, object]:
    """Give a line as plain values (SI); what is not known is null."""
    numbers = {name: getattr(line, name) for name in ("value", "u", "low", "high")}
    return {
        "label": line.label,
        **{name: value if math.isfinite(value) else None for name, value in numbers.items()},
        "unit": "Pa(g)" if line.quantity is Quantity.GAUGE_PRESSURE else si_unit(line.quantity),
        "source": line.source,
        "note": line.note,
    }


def row_of(line: Expected, preset: PresetName) -> Row:
    """Write a line in a preset's units."""
    value = ""
    if math.isfinite(line.value):
        value = show(line.quantity, line.value, preset)
        if math.isfinite(line.u):
            value = f"{value} {show_expanded(line.quantity, line.u, preset)}"
    limits = _limits(line, preset)
    words = [line.note] if line.note else []
    if line.source and not (line.common and line.note):
        words.append(line.source)
    elif line.common:
        words.append(COMMON)
    if not line.known:
        return Row(line.label, "", "", line.note or line.source)
    return Row(line.label, value or limits, limits if value else "", "; ".join(words))


def _limits(line: Expected, preset: PresetName) -> str:
    ends = [end for end in (line.low, line.high) if math.isfinite(end)]
    if not ends:
        return ""
    if len(ends) == 2:
        first, last = (show(line.quantity, end, preset) for end in ends)
        number, _, unit = first.partition(" ")
        return f"{number} to {last}" if last.endswith(unit) else f"{first} to {last}"
    return f"{'at least' if math.isfinite(line.low) else 'at most'} {show(line.quantity, ends[0], preset)}"


def grouped(lines: Iterable[Expected], preset: PresetName) -> list[tuple[str, list[Row]]]:
    """Gather the rows below their headings."""
    return [
        (group, [row_of(line, preset) for line in found])
        for group, found in groupby(lines, key=lambda line: line.group)
    ]


def expected_text(head: Sequence[str], lines: Iterable[Expected], preset: PresetName) -> str:
    """Write the sheet of one mode for a terminal."""
    text = list(head)
    for group, rows in grouped(lines, preset):
        text += ["", group]
        for row in rows:
            shown = row.expect or "—"
            if row.limits:
                shown += f", limits {row.limits}"
            text.append(f"  {row.label:<29} {shown}")
            text.append(f"  {'':<29}   [{row.source}]")
    return "\n".join(text)
