"""Made-up cups and gauges for the guided page, worked out as real ones: for pictures and for audits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from analysis.cup import ICE, MEAN
from analysis.matching import cup_match
from analysis.measure import Channel, Specification
from analysis.presets import PresetName
from analysis.rows import Rows
from analysis.settings import Settings
from analysis.still_mean import Series
from analysis.units import Quantity
from analysis.zeroing import zero_gauges
from logger.desktop.match_page import MatchPage, cup_page, namer, zero_page
from logger.desktop.scene_match import ROWS_ON_PAGE
from logger.match_outcome import Taken

_T = np.arange(0.0, 61.0)
_POINTS = (
    "source_entering_temperature", "source_leaving_temperature", "load_entering_temperature",
    "load_leaving_temperature", "suction_temperature", "liquid_temperature", "discharge_temperature",
)  # fmt: skip
_ERRORS = (0.11, -0.07, 0.02, 0.05, -0.31, 0.24, 0.4)


def _taken(names: Mapping[str, str]) -> Taken:
    """Give the settings under which channels feed points."""
    held = Settings(channel_of={point: channel for channel, point in names.items() if point})
    return Taken(Rows.empty(), {}, held, 60.0, "2026-01-14T08:12:30Z")


def _cup(
    preset: PresetName, *, at: float = 285.46, late: float = 0.0, out: float = 0.0, count: int = 7,
    reference: str = MEAN, seconds: float = 60.0, long: bool = False,
) -> MatchPage:  # fmt: skip
    """Make a cup in which the second probe is late, or lies elsewhere."""
    rng = np.random.default_rng(4)
    points = dict(enumerate(_POINTS)) if not long else {}
    device = "a-probe-with-a-long-name-" * 3 if long else "clamps"
    names = {f"{device}/t{n}": points.get(n, "") for n in range(count)}
    series = []
    for number, name in enumerate(names):
        true = at + (late * np.exp(-_T / 25.0) + out) * (number == 1)
        read = true + _ERRORS[number % len(_ERRORS)] + rng.normal(0.0, 0.01, _T.size)
        heard = 60.0 - seconds <= _T
        channel = Channel(
            name, Quantity.TEMPERATURE, "degC", resolution=0.01, uncertainty=Specification(fixed=0.5)
        )
        series.append(Series(channel, _T[heard], np.round(read[heard], 2)))
    taken = _taken(names)
    which = tuple((name, namer(taken)(name), number != 2) for number, name in enumerate(names))
    return replace(cup_page(cup_match(series, 60.0, reference=reference), taken, preset), which=which)


def _zeros(preset: PresetName, *, left: float = 0.0) -> MatchPage:
    """Make gauges that are open to the air, one of which holds something."""
    names = {
        "gauges/ps": "suction_pressure", "gauges/pd": "discharge_pressure",
        "water/dp": "source_pressure_drop", "gauges/pa": "",
    }  # fmt: skip
    kinds = (
        Quantity.GAUGE_PRESSURE, Quantity.GAUGE_PRESSURE, Quantity.PRESSURE_DIFFERENCE,
        Quantity.ABSOLUTE_PRESSURE,
    )  # fmt: skip
    units = ("bar(g)", "bar(g)", "kPa", "kPa(a)")
    reads = (1200.0, -800.0 + left, 150.0, 94_900.0)
    steps = (0.001, 0.001, 0.01, 0.1)
    good = (0.05, 0.1, 0.5, 4.0)
    series = [
        Series(
            Channel(name, kind, unit, resolution=step, uncertainty=Specification(fixed=fixed)),
            _T, np.full(_T.size, read),
        )
        for name, kind, unit, read, step, fixed in zip(names, kinds, units, reads, steps, good, strict=True)
    ]  # fmt: skip
    return zero_page(zero_gauges(series, 60.0, 94_320.0), _taken(names), preset)


def staged_matches(preset: PresetName = "si") -> dict[str, MatchPage]:
    """Give made-up pages by name."""
    even = _cup(preset)
    many = _cup(preset, count=2 * ROWS_ON_PAGE + 3)
    return {
        "choice": MatchPage(),
        "stored": MatchPage(live=False),
        "even": even,
        "even-probe": _cup(preset, reference="clamps/t3"),
        "ice": _cup(preset, at=273.15, reference=ICE),
        "not-ice": _cup(preset, reference=ICE),
        "moving": _cup(preset, late=6.0),
        "elsewhere": _cup(preset, out=-8.8),
        "far-off": _cup(preset, out=888.8),
        "which": replace(even, choosing=True),
        "which-many": replace(many, choosing=True, page=1),
        "few-readings": _cup(preset, seconds=6.0),
        "no-reading": _cup(preset, seconds=-1.0),
        "one-probe": _cup(preset, count=1),
        "no-probe": _cup(preset, count=0),
        "two-apart": _cup(preset, count=2, out=7.0),
        "many": many,
        "many-more": replace(many, page=2),
        "long-names": _cup(preset, long=True, out=5.0),
        "matched": replace(even, taken="0:12:30"),
        "condition": MatchPage("zero"),
        "zeros": _zeros(preset),
        "zero-held": _zeros(preset, left=6e5),
        "no-gauge": zero_page((), _taken({}), preset),
        "zeroed": replace(_zeros(preset), taken="0:12:30"),
    }
