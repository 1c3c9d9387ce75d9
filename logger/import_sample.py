"""Rows kept for the checks after an import: at most so many, spread evenly, in SI."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from analysis.elementwise import FloatArray
from analysis.import_checks import Check, check_factor, check_saturation, check_standing_pressure
from analysis.liquids import Liquid, parse_liquid
from analysis.machine_events import running
from analysis.measure import UNUSABLE, Channel
from analysis.settings import Settings
from analysis.units import Quantity
from logger.import_source import Batch
from logger.mapping import ColumnTable, Mapping
from logger.setup_file import find_curve

MOST_ROWS = 20_000


class _Values:
    """One column of the sample under the name by which :func:`running` asks for it."""

    def __init__(self, value: FloatArray) -> None:
        self._value = value

    @property
    def value(self) -> FloatArray:
        """SI values at each row."""
        return self._value


class Sample:
    """Every n-th row of one file; n doubles whenever there are too many."""

    def __init__(self) -> None:
        self._every, self._seen = 1, 0
        self._kept: list[FloatArray] = []
        self._count = 0

    def take(self, batch: Batch) -> None:
        """Look at the rows of a batch."""
        usable = batch.present & ((batch.quality & int(UNUSABLE)) == 0)
        places = np.arange(-self._seen % self._every, len(batch.t_us), self._every)
        self._kept.append(np.where(usable[places], batch.value[places], np.nan))
        self._count += len(places)
        self._seen += len(batch.t_us)
        while self._count > MOST_ROWS:
            whole = np.concatenate(self._kept)[::2]
            self._kept, self._count, self._every = [whole], len(whole), 2 * self._every

    def rows(self) -> FloatArray:
        """Give what was kept, shape (rows, channels), as indicated."""
        return np.concatenate(self._kept) if self._kept else np.empty((0, 0))


def run_checks(
    sample: Sample,
    columns: Sequence[ColumnTable],
    channels: Sequence[Channel],
    settings: Settings,
    mapping: Mapping,
) -> Iterator[Check]:
    """Hold one file's readings against physics, as far as its columns and the map allow."""
    rows = sample.rows()
    if not rows.size:
        return
    si = [_in_si(rows[:, n], channel, settings) for n, channel in enumerate(channels)]
    at = {column.assign: n for n, column in enumerate(columns) if column.assign}
    for side, declared in (("source", mapping.fluid), ("load", mapping.load_fluid)):
        fluid = parse_liquid(declared) if declared else Liquid("water")
        names = [f"{side}_flow", f"{side}_entering_temperature", f"{side}_leaving_temperature"]
        heat = next((n for n, column in enumerate(columns) if column.heat_of == side), None)
        if heat is not None and all(name in at for name in names):
            flow, entering, leaving = (at[name] for name in names)
            mapped = (channels[heat].unit, channels[flow].unit, channels[entering].unit)
            yield check_factor(side, si[heat], si[flow], si[entering], si[leaving], fluid, mapped)
    if not mapping.refrigerant:
        return
    curve = find_curve(mapping.refrigerant)
    for n, column in enumerate(columns):
        if column.saturation_of in at and column.saturation_of:
            yield check_saturation(column.saturation_of, si[at[column.saturation_of]], si[n], curve)
    pressures = [si[at[p]] for p in ("suction_pressure", "discharge_pressure", "liquid_pressure") if p in at]
    water = [
        si[at[name]] for name in at if name.startswith(("source_", "load_")) and name.endswith("_temperature")
    ]
    runs = running({name: _Values(si[n]) for name, n in at.items()})
    if pressures and water and runs is not None:
        yield check_standing_pressure(pressures, water, ~runs, curve)


def _in_si(value: FloatArray, channel: Channel, settings: Settings) -> FloatArray:
    """Bring indications to SI as the analyser does: scaled, converted, corrected, absolute."""
    unit = channel.si_unit
    scaled = value * settings.scale.get(channel.id, 1.0)
    si = scaled * unit.factor + unit.offset + settings.offset.get(channel.id, 0.0)
    return si + settings.barometer_pa if channel.quantity is Quantity.GAUGE_PRESSURE else si
