"""What a unit card states of capacity and power at a condition: read inside its tables, never beyond them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.presets import PresetName, show
from analysis.unit_card import Performance, UnitCard
from analysis.units import Quantity

TABLE_ROOM = (0.08, 0.015)
"""A machine gives its stated capacity within 8 %, and 1.5 % more for each kelvin that the entering load water
is away from the table's; our choice."""
SHELL_SHARE = 0.95
"""Share of the power that reaches the refrigerant; the shell loses the rest. Common practice, no source."""
OF_TABLE = ", performance table"
"""How the source of a figure ends that is read from a performance table."""
LOAD_WITHIN = 3.0
"""A table serves for a load temperature that is this far from its own [K]; as for a fair comparison."""
FLOW_WITHIN = 0.10
"""A table serves for a flow that is this far from its own, relative [1]; our choice."""


@dataclass(frozen=True, slots=True)
class Stated:
    """Capacity and power at one condition (SI)."""

    capacity: float
    """Heat to the load when heating, from the load when cooling [W]."""
    power: float
    """[W]"""
    room: float
    """By how much a healthy machine may differ, relative (k = 2) [1]."""
    source: str

    @property
    def cop(self) -> float:
        """Capacity over power [1]."""
        return self.capacity / self.power

    def moved(self, mode: str) -> float:
        """Heat on the source side: capacity less (cooling: plus) the power in the refrigerant [W]."""
        shell = SHELL_SHARE * self.power
        return self.capacity - shell if mode == "heating" else self.capacity + shell


def nearest_table(
    card: UnitCard, mode: str, load_entering: float, flow: float = math.nan
) -> Performance | None:
    """Give the mode's table whose load temperature, then flow, lies nearest; None where there is none."""

    def away(table: Performance) -> tuple[float, float]:
        by_flow = abs(table.flow - flow) if math.isfinite(flow) else 0.0
        return abs(table.load_entering - load_entering), by_flow

    return min((table for table in card.performance if table.mode == mode), key=away, default=None)


def stated_at(
    card: UnitCard,
    mode: str,
    source_entering: float,
    *,
    load_entering: float = math.nan,
    flow: float = math.nan,
    preset: PresetName = "si",
) -> tuple[Stated | None, str]:
    """Read capacity and power at a condition.

    Linear over the entering source temperature inside a table, then over flow and over load temperature
    between tables. A condition outside all of them gives nothing.

    Parameters
    ----------
    card
        With its ``[[performance]]`` tables.
    mode
        ``heating`` or ``cooling``.
    source_entering, load_entering
        Entering temperatures [K]; a load temperature that is not given is the tables' own if they have one.
    flow
        Source flow [m3/s]; one that is not given is the tables' own if they have one.
    preset
        Units of the sentence.

    Returns
    -------
    (Stated or None, str)
        What is stated; where nothing is, one sentence with the reason.

    Examples
    --------
    >>> from analysis.unit_card import EXAMPLE, unit_card
    >>> stated_at(unit_card(EXAMPLE), "heating", 277.15)
    (None, 'the card has no performance table for heating')
    """
    tables = [table for table in card.performance if table.mode == mode]
    if not tables:
        return None, f"the card has no performance table for {mode}"
    loads = sorted({table.load_entering for table in tables})
    if not math.isfinite(load_entering):
        if len(loads) > 1:
            return None, "the card's tables are for several load temperatures: give --load-ewt"
        load_entering = loads[0]
    reasons: list[str] = []
    found = []
    for load in loads:
        row, reason = _over_flow(
            [table for table in tables if table.load_entering == load], source_entering, flow, preset
        )
        if row is None:
            reasons.append(reason)
        else:
            found.append((load, row))
    if not found:
        return None, reasons[0]
    near = min(abs(load - load_entering) for load, _ in found)
    inside = found[0][0] <= load_entering <= found[-1][0]
    if not inside and near > LOAD_WITHIN:
        return None, _outside("load water in", Quantity.TEMPERATURE, load_entering, loads, preset)
    values = [
        float(np.interp(load_entering, [load for load, _ in found], [row[n] for _, row in found]))
        for n in (0, 1)
    ]
    room = TABLE_ROOM[0] + (0.0 if inside else TABLE_ROOM[1] * near)
    return Stated(values[0], values[1], room, tables[0].source), ""


def _over_flow(
    tables: Sequence[Performance], entering: float, flow: float, preset: PresetName
) -> tuple[tuple[float, float] | None, str]:
    """Read tables of one load temperature at an entering temperature and a flow."""
    holding = [table for table in tables if table.source_entering[0] <= entering <= table.source_entering[-1]]
    if not holding:
        ends = [tables[0].source_entering[0], tables[0].source_entering[-1]]
        return None, _outside("source water in", Quantity.TEMPERATURE, entering, ends, preset)
    holding.sort(key=lambda table: table.flow)
    flows = [table.flow for table in holding]
    if not math.isfinite(flow):
        if len(set(flows)) > 1:
            return None, "the card's tables are for several flows: give --flow"
        flow = flows[0]
    if not flows[0] * (1.0 - FLOW_WITHIN) <= flow <= flows[-1] * (1.0 + FLOW_WITHIN):
        return None, _outside("source flow", Quantity.VOLUME_FLOW, flow, flows, preset)
    columns = (
        [float(np.interp(entering, table.source_entering, column)) for table, column in
         ((table, getattr(table, name)) for table in holding)]
        for name in ("capacity", "power")
    )  # fmt: skip
    capacity, power = (float(np.interp(flow, flows, column)) for column in columns)
    return (capacity, power), ""


def _outside(what: str, quantity: Quantity, value: float, ends: Sequence[float], preset: PresetName) -> str:
    table = show(quantity, ends[0], preset)
    if ends[-1] != ends[0]:
        table += f" to {show(quantity, ends[-1], preset)}"
    return f"outside the card's table: {what} {show(quantity, value, preset)}, the table is for {table}"
