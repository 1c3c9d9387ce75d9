"""Stated intervals hold the truth as often as they say, and Monte Carlo agrees with the propagation."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from analysis.analyser import Analyser
from analysis.derived import BY_SYMBOL
from analysis.measure import Channel, Specification
from analysis.measured import contact_uncertainty
from analysis.rows import Rows
from analysis.saturation import refrigerant
from analysis.settings import settings_over_time
from analysis.timeline import Event
from analysis.uncertainty import propagate
from analysis.units import Quantity

#: The hall as left (job scenario), in the unit of each channel, and the instruments that read it.
TRUE = {
    "suction_pressure": 5.89, "discharge_pressure": 22.85, "suction_temperature": 1.3,
    "liquid_temperature": 34.0, "source_entering_temperature": 4.0, "source_leaving_temperature": 0.1,
    "load_entering_temperature": 30.0, "load_leaving_temperature": 35.5, "source_flow": 0.60,
    "load_flow": 0.53, "compressor_power": 2960.0,
}  # fmt: skip
GAUGE = Specification(of_span=0.005, span=35.0, k=2.0)
CLAMP = Specification(fixed=1.0, k=2.0)
BOUNDED_CLAMP = Specification(fixed=0.6, distribution="rectangular")
WATER = Specification(fixed=0.15, shared=0.25, k=2.0)
FLOW = Specification(of_reading=0.03, k=2.0)
POWER = Specification(of_reading=0.01, fixed=10.0, k=2.0)
KINDS: dict[str, tuple[Quantity, str, Specification]] = {
    "pressure": (Quantity.GAUGE_PRESSURE, "bar(g)", GAUGE),
    "temperature": (Quantity.TEMPERATURE, "degC", CLAMP),
    "water": (Quantity.TEMPERATURE, "degC", WATER),
    "flow": (Quantity.VOLUME_FLOW, "L/s", FLOW),
    "power": (Quantity.POWER, "W", POWER),
}


def kind_of(place: str) -> str:
    if place.startswith(("source_e", "source_l", "load_e", "load_l")):
        return "water"
    return place.rsplit("_", 1)[1]


def channel(place: str, clamp: Specification) -> Channel:
    quantity, unit, spec = KINDS[kind_of(place)]
    spec = clamp if spec is CLAMP else spec
    calibration = "one cup" if kind_of(place) == "water" else ""
    return Channel(f"x/{place}", quantity, unit, uncertainty=spec, calibration=calibration)


def draw(spec: Specification, true: float, rng: np.random.Generator, common: np.ndarray) -> np.ndarray:
    """Draw errors as the specification promises them: bounds over k, or rectangular bounds."""
    n = common.size

    def part(bound: float) -> np.ndarray:
        if spec.distribution == "rectangular":
            return rng.uniform(-bound, bound, n)
        return rng.normal(0.0, bound / spec.k, n)

    parts = part(spec.fixed) + part(spec.of_reading * abs(true)) + part(spec.of_span * spec.span)
    return parts + common * spec.shared / spec.divisor


def measure_many(
    n: int, seed: int, clamp: Specification = CLAMP
) -> dict[str, tuple[np.ndarray, np.ndarray, float]]:
    """Measure the same truth n times with new instruments each time: value, u, and the true value."""
    rng = np.random.default_rng(seed)
    cup = rng.normal(0.0, 1.0, n)
    indicated = {p: v + draw(channel(p, clamp).uncertainty or GAUGE, v, rng, cup) for p, v in TRUE.items()}
    channels = {f"x/{p}": channel(p, clamp) for p in TRUE}
    declared = [Event(0, 0, "assign", f"x/{p}", p) for p in TRUE]
    for kind, text in (
        ("refrigerant", "R410A"), ("barometer", "94.32 kPa(a)"), ("mode", "heating"),
        ("fluid", "water"), ("load_fluid", "water"),
    ):  # fmt: skip
        declared.append(Event(0, 0, kind, "", text))

    def run(values: dict[str, np.ndarray]) -> dict[str, tuple[np.ndarray, np.ndarray]]:
        fold = Analyser(channels, settings_over_time(declared, channels), {"R410A": refrigerant("R410A")})
        ids = tuple(channels)
        m = next(iter(values.values())).size
        t = np.repeat(np.arange(m, dtype=np.int64) * 1_000_000, len(ids))
        value = np.stack([values[name.removeprefix("x/")] for name in ids], axis=1).ravel()
        rows = Rows(
            ids, t, np.tile(np.arange(len(ids), dtype=np.int32), m), value, np.zeros(t.size, np.uint16)
        )
        results = fold.step(rows, now_us=(m - 1) * 1_000_000 + 500_000)
        symbols = ("superheat", "subcooling", "source_delta_t", "heat_from_source", "heat_to_load", "cop")
        columns = {symbol: [r.derived[symbol] for r in results] for symbol in symbols}
        return {
            symbol: (np.concatenate([c.value for c in parts]), np.concatenate([c.u for c in parts]))
            for symbol, parts in columns.items()
        }

    truth = run({p: np.full(1, v) for p, v in TRUE.items()})
    return {s: (*found, float(truth[s][0][0])) for s, found in run(indicated).items()}


def covered(n: int, seed: int, clamp: Specification = CLAMP) -> dict[str, float]:
    """Give for each value the share of measurements whose 95 % interval holds the truth."""
    return {
        symbol: float((np.abs(value - true) <= 1.96 * u).mean())
        for symbol, (value, u, true) in measure_many(n, seed, clamp).items()
    }


def test_stated_intervals_hold_the_truth() -> None:
    # 1,000 draws: a true share of 95 % lies within 3.5 standard deviations of the binomial, 2.4 %.
    for symbol, share in covered(1000, seed=2).items():
        assert abs(share - 0.95) <= 0.024, (symbol, share)


def test_a_bounded_error_that_rules_makes_the_interval_safe_not_short() -> None:
    """A rectangular error never leaves its bounds, so 1.96 u around it holds more than 95 %."""
    shares = covered(1000, seed=2, clamp=BOUNDED_CLAMP)
    assert all(share >= 0.95 - 0.024 for share in shares.values()), shares
    assert shares["subcooling"] > 0.95


@pytest.mark.campaign
def test_coverage_campaign() -> None:
    import time

    from tests.campaign.record import record

    begun = time.monotonic()
    normal = covered(10_000, seed=1)
    bounded = covered(10_000, seed=1, clamp=BOUNDED_CLAMP)
    found = {"draws": 10_000, "normal_terms": normal, "rectangular_line_clamps": bounded}
    record("coverage", 1, time.monotonic() - begun, found)
    for symbol, share in normal.items():
        assert 0.93 <= share <= 0.97, (symbol, share)
    for symbol, share in bounded.items():
        assert share >= 0.93, (symbol, share)


def test_matched_probes_read_a_difference_better_than_either_temperature() -> None:
    value, u, _ = measure_many(50, seed=3)["source_delta_t"]
    assert value.size == 50
    own = 0.15 / 2.0
    assert u == pytest.approx(np.hypot(own, own), rel=1e-3)  # the shared 0.25 K has cancelled


@pytest.mark.parametrize("symbol", ["superheat", "subcooling", "compression_ratio", "discharge_superheat"])
def test_propagation_agrees_with_monte_carlo(symbol: str) -> None:
    from analysis.circumstances import Circumstances

    row = BY_SYMBOL[symbol]
    centre = {"suction_pressure": 6.8e5, "liquid_pressure": 23.8e5, "discharge_pressure": 23.8e5}
    inputs = [p.split("|")[0] for p in row.inputs]
    values = [np.array([centre.get(p, 290.0)]) for p in inputs]
    steps = [np.array([8e3 if "pressure" in p else 0.3]) for p in inputs]
    known = Circumstances(refrigerant("R410A"))

    def function(*arguments: np.ndarray) -> np.ndarray:
        return np.asarray(row.function(known, *arguments))

    _, u = propagate(function, values, steps)
    rng = np.random.default_rng(7)
    drawn = function(*(v + rng.normal(0.0, s, 40_000) for v, s in zip(values, steps, strict=True)))
    assert float(u[0]) == pytest.approx(float(drawn.std()), rel=0.02)


def test_no_promise_no_uncertainty() -> None:
    plus: Callable[..., np.ndarray] = lambda a, b: a + b  # noqa: E731
    _, u = propagate(plus, [np.array([1.0]), np.array([2.0])], [np.array([0.1]), np.array([np.nan])])
    assert np.isnan(u[0])


def test_a_clamp_without_ambient_is_judged_by_the_assumed_one() -> None:
    assert contact_uncertainty(np.array([273.15]), None, 0.05)[0] == pytest.approx(0.05 * 20.0 / np.sqrt(3.0))
    assert contact_uncertainty(np.array([273.15]), np.array([np.nan]), 0.05)[0] > 0.0
