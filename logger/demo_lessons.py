"""What a story teaches: each sentence comes from a comparison, and is left out where it does not hold."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from analysis.compare import Change, Compared, Verdict
from analysis.presets import PresetName, show
from analysis.units import Quantity
from analysis.windows import Stretch
from logger.comparison import not_tested_lines
from logger.shown_values import shown_change, shown_value

LIVE_SUPPLY_V, DEAD_CONTROL_V = 187.0, 1.0
"""A 208 to 230 V plate less 10 %, and next to nothing (common practice, no source)."""


class Pair:
    """One comparison, asked by symbol."""

    def __init__(self, compared: Compared, preset: PresetName) -> None:
        self.compared = compared
        self._preset = preset
        self._changes = {c.symbol: c for each in compared.comparisons for c in each.changes}
        self._stretches = [(each.as_found, each.as_left) for each in compared.comparisons]

    def change(self, symbol: str, direction: int) -> Change | None:
        """Give a change that is shown beyond its uncertainty and goes this way (+1 up, -1 down)."""
        found = self._changes.get(symbol)
        if found is None or found.verdict is not Verdict.CHANGED or found.difference * direction <= 0.0:
            return None
        return found

    def unchanged(self, symbol: str) -> bool:
        """Whether a quantity was compared and not shown to have changed."""
        found = self._changes.get(symbol)
        return found is not None and found.verdict is Verdict.NOT_SHOWN

    def by(self, change: Change) -> str:
        """Write by how much, with its uncertainty."""
        return shown_change(change.quantity, change.difference, change.expanded, self._preset)

    def from_to(self, change: Change) -> str:
        """Write from what to what."""
        found, left = self._stretches[0]
        values = (
            shown_value(change.symbol, change.quantity, mean.value, stretch.settings, self._preset)
            for mean, stretch in ((change.as_found, found), (change.as_left, left))
        )
        return " to ".join(values)


def lessons(
    visits: Sequence[tuple[str, Stretch]], pairs: Sequence[Pair], preset: PresetName
) -> Iterator[str]:
    """Say what the visits teach.

    Parameters
    ----------
    visits
        Phase and best stretch of each visit, in order of time.
    pairs
        Each visit compared with the next, then the first that ran with the last.
    """
    yield from _dead(visits, preset)
    for pair in pairs[:-1]:
        yield from _water(pair)
        yield from _surplus(pair)
    if pairs:
        yield from _scale(pairs[-1])
        yield from not_tested_lines(pairs[-1].compared)


def _dead(visits: Sequence[tuple[str, Stretch]], preset: PresetName) -> Iterator[str]:
    for phase, stretch in visits:
        supply, control = (stretch.points.get(name) for name in ("supply_voltage", "control_voltage"))
        if phase != "rest" or supply is None or control is None:
            continue
        if supply.value > LIVE_SUPPLY_V and control.value < DEAD_CONTROL_V:
            volts = [show(Quantity.VOLTAGE, mean.value, preset) for mean in (supply, control)]
            yield (
                f"The dead machine had {volts[0]} of supply and {volts[1]} of control voltage: "
                "an electrical fault, no matter for the gauges."
            )


def _water(pair: Pair) -> Iterator[str]:
    flow, condensing = pair.change("source_volume_flow", +1), pair.change("condensing_temperature", +1)
    evaporating = pair.change("evaporating_temperature", +1)
    if flow is not None and evaporating is not None:
        yield (
            f"Low evaporation was a water fault: flow from {pair.from_to(flow)} brought it "
            f"{pair.by(evaporating)}, with no refrigerant touched."
        )
    if flow is not None and condensing is not None:
        yield (
            f"With only the water put right, condensing rose {pair.by(condensing)}: more heat is moved. "
            "That is expected, and no fault of the repair."
        )


def _surplus(pair: Pair) -> Iterator[str]:
    subcooling, condensing = pair.change("subcooling", -1), pair.change("condensing_temperature", -1)
    if subcooling is not None and condensing is not None and pair.unchanged("source_volume_flow"):
        power = pair.change("compressor_power", -1)
        saved = f" and power {pair.by(power)}" if power is not None else ""
        yield (
            f"Taking out the surplus changed subcooling {pair.by(subcooling)}, condensing "
            f"{pair.by(condensing)}{saved}, at unchanged flow."
        )


def _scale(pair: Pair) -> Iterator[str]:
    approach = pair.change("condensing_approach", -1)
    if approach is not None and pair.unchanged("source_delta_t"):
        power = pair.change("compressor_power", -1)
        saved = f", and power {pair.by(power)}" if power is not None else ""
        yield (
            f"The coil was scaled, not short of water: approach {pair.by(approach)} at an unchanged rise of "
            f"the water{saved}."
        )
