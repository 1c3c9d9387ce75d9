"""What is doubtful in stated performance: power over the source, and several tables of one machine."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise
from typing import TYPE_CHECKING

from analysis.card_fault import CardFault
from analysis.presets import show
from analysis.units import Quantity

if TYPE_CHECKING:
    from analysis.unit_card import Performance

OFF_ITS_NEIGHBOURS = 0.06
"""An inner figure further than this from the line through its neighbours is a slip (our choice: printed
tables with steps of 3 to 6 K keep within 2 %)."""
SAME_K = 0.05
SAME_FLOW = 0.005
LEEWAY = 0.01
"""Tables are rounded; what is alike within this share is no contradiction."""


def power_doubts(table: Performance) -> Iterator[str]:
    """Hold power and capacity against their neighbours, and power in cooling against the sense of it.

    In cooling warmer source water lifts the condensing temperature, so the power rises; in heating it may go
    either way, with the mass flow, so only the smoothness is looked at.
    """
    if table.mode == "cooling":
        for place, (earlier, later) in enumerate(pairwise(table.power), 1):
            if later < earlier * (1.0 - LEEWAY):
                change = (
                    f"{earlier / 1e3:.2f} to {later / 1e3:.2f} kW between columns {place} and {place + 1}"
                )
                yield f"power goes from {change}, against the sense of cooling: look for a misread figure."
    for name, figures in (("capacity", table.capacity), ("power", table.power)):
        for place, (left, figure, right) in enumerate(
            zip(figures, figures[1:], figures[2:], strict=False), 2
        ):
            t = table.source_entering[place - 2 : place + 1]
            if not t[0] < t[1] < t[2] or min(left, figure, right) <= 0.0:
                continue  # told elsewhere
            expected = left + (right - left) * (t[1] - t[0]) / (t[2] - t[0])
            if abs(figure / expected - 1.0) > OFF_ITS_NEIGHBOURS:
                yield (
                    f"column {place}: {name} {figure / 1e3:.2f} kW lies off its neighbours, which point to "
                    f"{expected / 1e3:.2f} kW: look for a misread figure."
                )


def between_tables(tables: Sequence[Performance]) -> Iterator[CardFault]:
    """Hold the tables of one machine against each other at the entering temperatures that they share.

    A warmer load takes capacity and costs power in heating, and brings capacity in cooling; more source flow
    never takes capacity.
    """
    for (one, first), (other, second) in combinations(enumerate(tables, 1), 2):
        if first.mode != second.mode:
            continue
        low, high = (first, second) if first.load_entering <= second.load_entering else (second, first)
        same_load = high.load_entering - low.load_entering < SAME_K
        same_flow = abs(first.flow - second.flow) <= SAME_FLOW * max(first.flow, second.flow)
        where = f"performance[{other}]"
        if same_load and same_flow:
            yield CardFault(
                where, f"mode, flow and entering load are those of performance[{one}]: keep one of them."
            )
        elif same_flow:
            yield from _warmer_load(low, high, where, one)
        elif same_load:
            less, more = (first, second) if first.flow < second.flow else (second, first)
            for t, a, b in _shared(less, more):
                if b[0] < a[0] * (1.0 - LEEWAY):
                    yield _against(where, one, t, "capacity", b[0], a[0], "with more source flow")


def _warmer_load(low: Performance, high: Performance, where: str, one: int) -> Iterator[CardFault]:
    for t, cool, warm in _shared(low, high):
        if low.mode == "heating":
            if warm[0] > cool[0] * (1.0 + LEEWAY):
                yield _against(where, one, t, "capacity", warm[0], cool[0], "with the warmer load")
            if warm[1] < cool[1] * (1.0 - LEEWAY):
                yield _against(where, one, t, "power", warm[1], cool[1], "with the warmer load")
        elif warm[0] < cool[0] * (1.0 - LEEWAY):
            yield _against(where, one, t, "capacity", warm[0], cool[0], "with the warmer load")


def _shared(
    one: Performance, other: Performance
) -> Iterator[tuple[float, tuple[float, float], tuple[float, float]]]:
    """Give (temperature, figures of one, figures of the other) where both have a column."""
    for t, *mine in zip(one.source_entering, one.capacity, one.power, strict=True):
        for t_other, *its in zip(other.source_entering, other.capacity, other.power, strict=True):
            if abs(t - t_other) < SAME_K:
                yield t, (mine[0], mine[1]), (its[0], its[1])


def _against(where: str, one: int, t: float, name: str, figure: float, against: float, how: str) -> CardFault:
    return CardFault(
        where,
        f"at {show(Quantity.TEMPERATURE, t)} the {name} is {figure / 1e3:.2f} kW {how} and "
        f"{against / 1e3:.2f} kW in performance[{one}], against the sense of it: look for a misread figure.",
    )
