"""All derived values in a few calls: the same as one by one, and the same in any chunking."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.analyser import Analyser, Results
from analysis.circumstances import Circumstances
from analysis.derived import BY_SYMBOL, REGISTRY, Derived
from analysis.evaluation import BLOCK_ROWS
from analysis.measure import Channel, Quality, Specification
from analysis.rows import Rows
from analysis.saturation import refrigerant
from analysis.settings import Settings, settings_over_time
from analysis.timeline import Event
from analysis.uncertainty import propagate
from tests.analysis.test_analyser import flat
from tests.bench.analyser import LEVELS, machine, readings

R410A = refrigerant("R410A")
PLAIN = machine().channels
COMMON = 0.3
"""What the thermometers of the source side, matched in one cup, have in common [K]."""


def channel(name: str) -> Channel:
    """Give a channel with all parts of an uncertainty: matched in one cup, a clamp, of reading, none."""
    plain = PLAIN[name]
    in_cup = plain.unit == "degC" and name.startswith("source")
    part = 0.0 if name == "load_flow" else 0.1
    promised = Specification(fixed=part, of_reading=0.01, shared=COMMON if in_cup else 0.0)
    return Channel(
        name, plain.quantity, plain.unit, resolution=0.1, expected_interval_s=1.0,
        uncertainty=None if name == "pump_current" else promised, calibration="cup" if in_cup else "",
        contact=0.05 if name in ("suction_temperature", "liquid_temperature") else 0.0,
    )  # fmt: skip


def full_machine(mode: str, *, metered: bool) -> Analyser:
    """Give an analyser with everything fitted, its source flow from a meter or from the coil's drop."""
    channels = {name: channel(name) for name in LEVELS if metered or name != "source_flow"}
    events = [Event(0, 0, "assign", name, name) for name in channels]
    declared = {
        "refrigerant": "R410A", "barometer": "94.32 kPa(a)", "mode": mode, "load_fluid": "water",
        "fluid": "propylene glycol 25 % by mass", "source_coil": "0.60 L/s at 28.8 kPa",
    }  # fmt: skip
    events += [Event(0, 0, kind, "", text) for kind, text in declared.items() if text]
    events += [
        Event(500_300_000, 0, "offset", "suction_temperature", "-0.5 K"),
        Event(900_000_000, 0, "scale", "load_flow", "1.1"),
    ]
    return Analyser(channels, settings_over_time(events, channels), {"R410A": R410A})


def rough_readings(seconds: int) -> Rows:
    """Give readings with jitter, gaps, values that are not known, and some that come out of turn."""
    rows, rng = readings(seconds, seed=3), np.random.default_rng(5)
    unknown = rng.random(len(rows)) < 0.01
    rows = Rows(
        rows.ids, rows.t_us + rng.integers(0, 900_000, len(rows)), rows.channel, rows.value,
        np.where(unknown, int(Quality.INVALID), 0).astype(np.uint16),
    )  # fmt: skip
    silent = (rows.t_us > 700e6) & (rows.t_us < 730e6) & (rows.channel % 3 == 0)
    rows = rows.take((rng.random(len(rows)) > 0.1) & ~silent)
    return rows.take(np.argsort(rows.t_us + rng.integers(0, 600_000, len(rows)), kind="stable"))


def circumstances(held: Settings, fed_by: tuple[str, ...]) -> Circumstances:
    return Circumstances(R410A, held.source_liquid, held.load_liquid, held.source_coil, held.mode, fed_by)


def one_by_one(symbol: str, fold: Analyser, found: Results) -> tuple[np.ndarray, np.ndarray]:
    """Work a value out from its measuring points, its whole chain of formulas as one function."""
    row, names = BY_SYMBOL[symbol], found.inputs[symbol]
    known = circumstances(found.settings, names)
    values, own, shared = [], [], {}
    for index, name in enumerate(names):
        column = found.points[name]
        common = np.where(np.isfinite(column.value), fold.channels[name].shared_uncertainty, np.nan)
        if fold.channels[name].shared_uncertainty:
            shared[index] = common
        values.append(column.value)
        own.append(np.sqrt(np.maximum(column.u**2 - common**2, 0.0)))
    for value, u in row.parameters(known):
        values.append(np.full(found.rows, value))
        own.append(np.full(found.rows, u))
    return propagate(lambda *x: row.function(known, *x), values, own, [shared] if shared else [])


@pytest.mark.parametrize(
    ("mode", "metered"), [("heating", True), ("heating", False), ("cooling", False), ("", True)]
)
def test_all_at_once_is_the_same_as_one_by_one(mode: str, metered: bool) -> None:
    fold = full_machine(mode, metered=metered)
    results = fold.step(rough_readings(400))
    for found in results:
        assert set(found.derived) == {
            row.symbol for row in REGISTRY if mode in row.modes and row.symbol != "air_delta_t"
        }
        for symbol, column in found.derived.items():
            value, u = one_by_one(symbol, fold, found)
            np.testing.assert_array_equal(column.value, value, symbol)
            np.testing.assert_allclose(column.u, u, rtol=1e-6, err_msg=symbol)
            assert np.isfinite(column.u).mean() > 0.5, symbol
            ages = np.max([found.points[name].age_s for name in found.inputs[symbol]], axis=0)
            np.testing.assert_array_equal(column.age_s, np.where(np.isfinite(value), ages, np.nan), symbol)


@pytest.mark.parametrize("metered", [True, False])
def test_a_whole_machine_in_any_chunking_gives_the_same_results_to_the_bit(metered: bool) -> None:
    rows = rough_readings(BLOCK_ROWS + 200)
    whole = flat(full_machine("heating", metered=metered).step(rows))
    assert np.isfinite(whole["d.heat_balance.u"]).sum() > BLOCK_ROWS / 2
    rng = np.random.default_rng(11)
    for pieces in (2, 5, 40):
        fold, results = full_machine("heating", metered=metered), []
        for part in np.split(np.arange(len(rows)), np.sort(rng.integers(0, len(rows), pieces))):
            results += fold.step(rows.take(part))
        for name, column in flat(results).items():
            assert column.tobytes() == whole[name].tobytes(), name


def test_a_channel_that_becomes_known_later_feeds_its_point_from_then_on() -> None:
    fold = full_machine("heating", metered=True)
    late = fold.channels.pop("suction_temperature")
    rows = readings(40)
    before = fold.step(rows.take(rows.t_us < 20_000_000))
    fold.channels["suction_temperature"] = late
    after = fold.step(rows.take(rows.t_us >= 20_000_000))
    assert "superheat" in before[-1].missing
    assert np.isfinite(after[-1].derived["superheat"].value).all()


@pytest.mark.parametrize("row", REGISTRY, ids=lambda row: row.symbol)
def test_a_value_asks_for_all_that_the_values_before_it_ask_for(row: Derived) -> None:
    assert len(set(row.inputs)) == len(row.inputs)  # an input twice would count as two that err apart
    for argument in row.arguments:
        if isinstance(argument, Derived):
            assert REGISTRY.index(argument) < REGISTRY.index(row)
            assert set(argument.needs) <= set(row.needs)
            assert set(row.modes) <= set(argument.modes)
