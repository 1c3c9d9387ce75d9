"""Comparing: what is fair, what counts as a change, and how often a verdict is wrong."""

from __future__ import annotations

import dataclasses
import json
import math
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from analysis.circumstances import Circumstances, RatedCoil
from analysis.compare import Compared, Verdict, compare
from analysis.correction import CupMatch
from analysis.derived import BY_SYMBOL
from analysis.fairness import Alike, same_probes
from analysis.liquids import Liquid
from analysis.measure import Channel, Specification
from analysis.measured import Column
from analysis.repeatability import REPOSITION_K, Side, effective_rows, uncertainty_of_change
from analysis.saturation import refrigerant
from analysis.settings import Settings
from analysis.units import Quantity
from analysis.windows import Mean, Stretch, mean_of

CLAMP = Specification(fixed=1.0)
CHANNELS = {
    "clamps/si": Channel("clamps/si", Quantity.TEMPERATURE, "degC", uncertainty=CLAMP),
    "clamps/li": Channel("clamps/li", Quantity.TEMPERATURE, "degC", uncertainty=CLAMP),
    "clamps/ts": Channel("clamps/ts", Quantity.TEMPERATURE, "degC", uncertainty=CLAMP),
    "gauges/ps": Channel(
        "gauges/ps", Quantity.GAUGE_PRESSURE, "bar(g)", uncertainty=Specification(of_span=0.005, span=35.0)
    ),
    "meter/q": Channel("meter/q", Quantity.VOLUME_FLOW, "L/s", uncertainty=Specification(of_reading=0.03)),
    "meter/v": Channel("meter/v", Quantity.VOLTAGE, "V", uncertainty=Specification(fixed=1.0)),
}
PLACES = {
    "source_entering_temperature": "clamps/si", "load_entering_temperature": "clamps/li",
    "suction_temperature": "clamps/ts", "suction_pressure": "gauges/ps", "source_flow": "meter/q",
    "supply_voltage": "meter/v",
}  # fmt: skip
LEVELS = {
    "source_entering_temperature": 277.15, "load_entering_temperature": 303.15, "suction_temperature": 270.75,
    "suction_pressure": 609_320.0, "source_flow": 0.33e-3, "supply_voltage": 229.0,
}  # fmt: skip
R410A = Circumstances(refrigerant("R410A"))


def stretch(
    levels: dict[str, float] | None = None, *, steady: bool = True, noise: float = 0.0, seconds: int = 600,
    places: dict[str, str] = PLACES, channels: dict[str, Channel] = CHANNELS, **declared: str,
) -> Stretch:  # fmt: skip
    """Make the stretch that steady readings of these levels give."""
    words = {"mode": "heating", "refrigerant": "R410A", "phase": ""} | declared
    points = {}
    for name, value in (LEVELS | (levels or {})).items():
        channel = channels[places[name]]
        indicated = (value - channel.si_unit.offset) / channel.si_unit.factor
        u = channel.standard_uncertainty(indicated) * channel.si_unit.factor
        points[name] = Mean(value, math.hypot(u, noise / math.sqrt(seconds)), noise, seconds, 0.0)
    row = BY_SYMBOL["superheat"]
    inputs = ("suction_pressure", "suction_temperature")
    value = row.function(R410A, *(np.array([points[name].value]) for name in inputs))[0]
    derived = {"superheat": Mean(float(value), 0.5, noise, seconds, 0.0)}
    held = Settings(channel_of=places, **words)
    return Stretch(0, seconds * 1_000_000, steady, held, points, derived, {"superheat": inputs}, {})


def side(*stretches: Stretch, channels: dict[str, Channel] = CHANNELS) -> Side:
    return Side(stretches, channels, lambda held: R410A)


def verdicts(compared: Compared) -> dict[str, Verdict]:
    (comparison,) = compared.comparisons
    return {change.symbol: change.verdict for change in comparison.changes}


def standing(compared: Compared) -> dict[str, Alike]:
    return {c.name: c.alike for c in compared.comparisons[0].fairness.conditions}


def test_a_session_compared_with_itself_changes_nothing() -> None:
    one = side(stretch(noise=0.02))
    found = compare(one, one)
    assert set(verdicts(found).values()) == {Verdict.NOT_SHOWN}
    assert all(change.difference == 0.0 for change in found.comparisons[0].changes)
    assert found.comparisons[0].fairness.fair
    assert found.not_tested == (("cooling", "not tested"),)


def test_outcomes_change_and_never_make_a_pair_unfair() -> None:
    as_left = stretch({"source_flow": 0.60e-3, "suction_temperature": 274.45, "suction_pressure": 683_320.0})
    found = compare(side(stretch()), side(as_left))
    assert found.comparisons[0].fairness.fair
    told = verdicts(found)
    assert told["source_flow"] is Verdict.CHANGED
    assert told["suction_temperature"] is Verdict.CHANGED
    assert told["supply_voltage"] is Verdict.NOT_SHOWN


@pytest.mark.parametrize("symbol", ["source_delta_t", "source_entering_temperature"])
def test_a_match_in_each_session_leaves_only_what_its_probes_do_not_share(symbol: str) -> None:
    """The probes were matched anew in between: a drop of the water keeps their own errors alone."""
    ids = {"source_entering_temperature": "w/in", "source_leaving_temperature": "w/out"}
    wide = Specification(fixed=1.0)
    channels = {n: Channel(n, Quantity.TEMPERATURE, "degC", uncertainty=wide) for n in ids.values()}

    def matched(cup: str, own: float = 0.03, shared: float = 0.4) -> tuple[Stretch, Side]:
        match = CupMatch(277.15, own, shared, 0.0, cup)
        held = Settings(channel_of=ids, mode="heating", matched=dict.fromkeys(ids.values(), match))
        points = {name: Mean(277.15, math.hypot(own, shared), 0.0, 600, 0.0) for name in ids}
        derived = {"source_delta_t": Mean(0.0, own * math.sqrt(2.0), 0.0, 600, 0.0)}
        made = Stretch(0, 600_000_000, True, held, points, derived, {"source_delta_t": tuple(ids)}, {})
        return made, side(made, channels=channels)

    (found, side_found), (left, side_left) = matched("one"), matched("two")
    same = same_probes(found, left, channels, channels)
    assert not any(same.values())
    u = uncertainty_of_change(symbol, found, left, side_found, side_left, same)
    probes = 2 if symbol == "source_delta_t" else 1
    remains = 0.0 if symbol == "source_delta_t" else 2.0 * 0.4**2
    assert u == pytest.approx(math.sqrt(2 * probes * (0.03**2 + REPOSITION_K**2) + remains), rel=1e-6)
    again, side_again = matched("one")
    kept = same_probes(found, again, channels, channels)
    assert all(kept.values())
    u = uncertainty_of_change(symbol, found, again, side_found, side_again, kept)
    assert u == pytest.approx(math.sqrt(2 * probes) * REPOSITION_K, rel=1e-6)


def test_the_decoy_with_brine_at_nine_degrees_is_not_comparable() -> None:
    """Job scenario: 4 °C as found and 9 °C later; the limit is 3 °F (common practice, no source)."""
    warm = stretch({"source_entering_temperature": 282.15, "source_flow": 0.60e-3})
    found = compare(side(stretch()), side(warm))
    assert not found.comparisons[0].fairness.fair
    assert set(verdicts(found).values()) == {Verdict.NOT_COMPARABLE}
    assert standing(found)["entering_source"] is Alike.UNLIKE
    assert "source water in" in found.comparisons[0].changes[0].reason


@pytest.mark.parametrize(("apart_degf", "fair"), [(2.9, True), (3.1, False), (-2.9, True), (-3.1, False)])
@pytest.mark.parametrize("name", ["source_entering_temperature", "load_entering_temperature"])
def test_entering_temperatures_may_differ_by_three_degrees_fahrenheit(
    name: str, apart_degf: float, fair: bool
) -> None:
    other = stretch({name: LEVELS[name] + apart_degf / 1.8})
    assert compare(side(stretch()), side(other)).comparisons[0].fairness.fair is fair


@pytest.mark.parametrize(
    ("change", "condition"),
    [
        ({"refrigerant": "R22"}, "refrigerant"),
        ({"refrigerant": ""}, "refrigerant"),
        ({"mode": ""}, "mode"),
        ({"steady": False}, "steadiness"),
    ],
)
def test_unlike_conditions_forbid_a_verdict(change: dict[str, object], condition: str) -> None:
    found = compare(side(stretch()), side(stretch(**change)))  # type: ignore[arg-type]
    assert set(verdicts(found).values()) == {Verdict.NOT_COMPARABLE}
    assert [c.name for c in found.comparisons[0].fairness.blocking] == [condition]


def test_an_entering_temperature_that_was_not_measured_is_not_assumed() -> None:
    without = {name: place for name, place in PLACES.items() if name != "load_entering_temperature"}
    one = stretch()
    points = {name: mean for name, mean in one.points.items() if name in without}
    one = dataclasses.replace(
        one, points=points, settings=dataclasses.replace(one.settings, channel_of=without)
    )
    found = compare(side(one), side(stretch()))
    assert standing(found)["entering_load"] is Alike.NOT_KNOWN
    assert not found.comparisons[0].fairness.fair
    missing = next(c for c in found.comparisons[0].changes if c.symbol == "load_entering_temperature")
    assert missing.verdict is Verdict.NOT_COMPARABLE
    assert missing.reason == "no value as found"
    assert math.isnan(missing.difference)


def test_a_differing_supply_voltage_is_stated_and_does_not_forbid() -> None:
    found = compare(side(stretch()), side(stretch({"supply_voltage": 229.0 * 1.06})))
    assert standing(found)["supply_voltage"] is Alike.UNLIKE
    assert found.comparisons[0].fairness.fair
    assert (
        standing(compare(side(stretch()), side(stretch({"supply_voltage": 238.0}))))["supply_voltage"]
        is Alike.ALIKE
    )


def test_other_probes_count_with_their_full_uncertainty() -> None:
    other = CHANNELS | {"other/ts": dataclasses.replace(CHANNELS["clamps/ts"], id="other/ts")}
    swapped = stretch(
        {"suction_temperature": 271.75}, places=PLACES | {"suction_temperature": "other/ts"}, channels=other
    )
    same = stretch({"suction_temperature": 271.75})
    with_same = compare(side(stretch()), side(same))
    with_other = compare(side(stretch()), side(swapped, channels=other))
    narrow, wide = (
        next(c for c in found.comparisons[0].changes if c.symbol == "suction_temperature")
        for found in (with_same, with_other)
    )
    # Same clamp: 0.3 °F each time it is put on. Another one: also 1 K (k = 2) of either instrument.
    assert narrow.u == pytest.approx(math.sqrt(2.0) * 0.3 / 1.8)
    assert wide.u == pytest.approx(math.sqrt(2.0 * (0.3 / 1.8) ** 2 + 2.0 * 0.5**2))
    assert (narrow.verdict, wide.verdict) == (Verdict.CHANGED, Verdict.NOT_SHOWN)
    assert standing(with_other)["probes"] is Alike.UNLIKE
    assert with_other.comparisons[0].fairness.fair
    superheat = next(c for c in with_other.comparisons[0].changes if c.symbol == "superheat")
    assert not superheat.same_probes
    assert superheat.u > wide.u


def test_a_probe_calibrated_anew_is_another_probe() -> None:
    anew = CHANNELS | {"clamps/ts": dataclasses.replace(CHANNELS["clamps/ts"], source="certificate of May")}
    found = compare(side(stretch()), side(stretch(channels=anew), channels=anew))
    assert found.comparisons[0].fairness.same_probe["suction_temperature"] is False
    assert found.comparisons[0].fairness.same_probe["suction_pressure"] is True


def test_a_probe_with_another_offset_is_another_probe() -> None:
    one, other = stretch(), stretch()
    held = dataclasses.replace(other.settings, offset={"clamps/si": 0.2})
    found = compare(side(one), side(dataclasses.replace(other, settings=held)))
    assert found.comparisons[0].fairness.same_probe["source_entering_temperature"] is False


def test_another_fluid_is_stated_and_does_not_forbid() -> None:
    one, other = stretch(), stretch()
    glycol = Liquid("propylene_glycol", mass_fraction=0.25)
    held = dataclasses.replace(other.settings, source_liquid=glycol)
    found = compare(side(one), side(dataclasses.replace(other, settings=held)))
    assert standing(found)["source_fluid"] is Alike.NOT_KNOWN
    assert found.comparisons[0].fairness.fair
    assert "source_fluid" not in standing(compare(side(one), side(one)))


def test_an_assumed_exponent_does_not_cancel_where_it_matters_in_one_session_only() -> None:
    """Flow from a coil's pressure drop: the exponent does not matter at the rated point.

    dq/dn = -q ln(dp / dp_rated) / n^2, by hand from q = q_rated (dp / dp_rated)^(1/n).
    """
    coil = RatedCoil(0.60e-3, 28.8e3)
    channels = {
        "gauge/dp": Channel(
            "gauge/dp", Quantity.PRESSURE_DIFFERENCE, "kPa", uncertainty=Specification(fixed=1e-6)
        )
    }
    both = []
    for dp in (9.8e3, 28.8e3):
        held = Settings(channel_of={"source_pressure_drop": "gauge/dp"}, source_coil=coil)
        q = 0.60e-3 * (dp / 28.8e3) ** (1 / 1.8)
        both.append(
            Stretch(
                0, 600_000_000, True, held, {"source_pressure_drop": Mean(dp, 5e-4, 0.0, 600)},
                {"source_volume_flow": Mean(q, 1e-6, 0.0, 600)},
                {"source_volume_flow": ("source_pressure_drop",)}, {},
            )
        )  # fmt: skip
    known = Side(both, channels, lambda held: Circumstances(source_coil=coil))
    u = uncertainty_of_change("source_volume_flow", *both, known, known, {"source_pressure_drop": True})
    q_found = both[0].derived["source_volume_flow"].value
    of_exponent = q_found * abs(math.log(9.8 / 28.8)) / 1.8**2 * 0.125
    of_rated_point = 0.025 * (0.60e-3 - q_found)  # it scales both flows alike, so only their difference
    by_hand = math.hypot(of_exponent, of_rated_point)
    assert u == pytest.approx(by_hand, rel=0.02)
    same = uncertainty_of_change(
        "source_volume_flow", both[0], both[0], known, known, {"source_pressure_drop": True}
    )
    assert same < 1e-3 * by_hand


def test_re_clamping_limit_of_the_worked_example() -> None:
    """0.3 °F on each side gives a limit of 0.85 °F: 2 sqrt(0.3^2 + 0.3^2) (common practice, no source)."""
    one, other = stretch(), stretch()
    u = uncertainty_of_change(
        "suction_temperature", one, other, side(one), side(other), {"suction_temperature": True}
    )
    assert 2.0 * u * 1.8 == pytest.approx(0.85, abs=0.005)


def test_an_error_in_proportion_to_the_reading_stays_in_proportion_to_the_change() -> None:
    """A meter that is 3 % (k = 2) off reads both flows 1.5 % wrong, and so their difference (k = 1)."""
    one, other = stretch(), stretch({"source_flow": 0.60e-3})
    u = uncertainty_of_change("source_flow", one, other, side(one), side(other), {"source_flow": True})
    repeat = 0.25 * 0.015 * math.hypot(0.33e-3, 0.60e-3)
    assert u == pytest.approx(math.hypot(0.015 * 0.27e-3, repeat), rel=1e-6)


def test_nothing_promised_about_a_gauge_means_no_verdict_on_it_but_on_the_clamps() -> None:
    bare = CHANNELS | {"gauges/ps": dataclasses.replace(CHANNELS["gauges/ps"], uncertainty=None)}
    one, other = stretch(channels=bare), stretch({"suction_pressure": 700_000.0}, channels=bare)
    told = verdicts(compare(side(one, channels=bare), side(other, channels=bare)))
    assert told["suction_pressure"] is told["superheat"] is Verdict.NOT_COMPARABLE
    assert told["suction_temperature"] is Verdict.NOT_SHOWN


def test_heating_and_cooling_are_kept_apart() -> None:
    heating, cooling = stretch(), stretch(mode="cooling")
    found = compare(side(heating, cooling), side(cooling))
    assert [c.mode for c in found.comparisons] == ["cooling"]
    assert found.not_tested == (("heating", "tested as found only"),)
    neither = compare(side(heating), side(cooling))
    assert neither.comparisons == ()
    assert dict(neither.not_tested) == {"heating": "tested as found only", "cooling": "tested as left only"}


def test_the_longest_steady_stretch_is_taken_the_latest_of_equal_ones_and_a_phase_when_asked() -> None:
    short, long, late = stretch(seconds=300), stretch(seconds=900), stretch(seconds=900, phase="as-left")
    unsteady = stretch(seconds=5000, steady=False)
    (pair,) = compare(side(unsteady, short, long, late), side(long)).comparisons
    assert pair.as_found is late
    (pair,) = compare(side(long, late), side(short, late), phase_left="as-left").comparisons
    assert pair.as_left is late


def autocorrelated(rng: np.random.Generator, n: int, rho: float, sigma: float) -> np.ndarray:
    """Draw a stationary first-order autoregressive series."""
    steps = rng.normal(0.0, sigma * math.sqrt(1.0 - rho * rho), n)
    x = np.empty(n)
    x[0] = rng.normal(0.0, sigma)
    for i in range(1, n):
        x[i] = rho * x[i - 1] + steps[i]
    return x


def false_and_found(pairs: int, seed: int) -> tuple[int, int]:
    """Count verdicts "changed" without a true change, and with one of three times the stated U.

    Each session puts the probes on again (an error drawn with the stated standard uncertainty), all share the
    probe's own fixed error, and the rows depend on each other as a controlled machine's do.
    """
    rng = np.random.default_rng(seed)
    false = found = 0
    name = "suction_temperature"
    for pair in range(pairs):
        n, rho = int(rng.integers(120, 900)), float(rng.uniform(0.0, 0.97))
        sigma, fixed = float(rng.uniform(0.02, 0.3)), rng.normal(0.0, 0.5)
        made = []
        for _ in range(2):
            rows = 270.75 + fixed + rng.normal(0.0, REPOSITION_K) + autocorrelated(rng, n, rho, sigma)
            mean = mean_of(Column(rows, np.full(n, 0.5), np.zeros(n)))
            one = stretch(seconds=n)
            made.append(dataclasses.replace(one, points={**one.points, name: mean}))
        (change,) = (
            c for c in compare(side(made[0]), side(made[1])).comparisons[0].changes if c.symbol == name
        )
        false += change.verdict is Verdict.CHANGED
        sign = 1.0 if pair % 2 else -1.0
        mean = made[1].points[name]
        moved = dataclasses.replace(mean, value=mean.value + sign * 3.0 * change.expanded)
        shifted = dataclasses.replace(made[1], points={**made[1].points, name: moved})
        (change,) = (
            c for c in compare(side(made[0]), side(shifted)).comparisons[0].changes if c.symbol == name
        )
        found += change.verdict is Verdict.CHANGED
    return false, found


def test_false_changes_are_rare_and_true_ones_are_found() -> None:
    """Bound: at a true rate of 5 %, 20 or more of 200 come by chance once in 375 (binomial)."""
    false, found = false_and_found(200, seed=1)
    assert false < 20
    assert found >= 180


@pytest.mark.campaign
def test_false_changes_and_found_ones_in_two_thousand_pairs() -> None:
    false, found = false_and_found(2000, seed=2)
    results = Path(__file__).parents[1] / "campaign" / "results"
    results.mkdir(exist_ok=True)
    today = datetime.now(UTC).date().isoformat()
    (results / f"compare-{today}.json").write_text(
        json.dumps({"pairs": 2000, "false_changes": false, "found_of_3U": found}) + "\n"
    )
    assert false <= 100
    assert found >= 1800


@pytest.mark.parametrize("rho", [0.0, 0.5, 0.9])
def test_lag_one_autocorrelation_and_effective_rows(rho: float) -> None:
    rows = autocorrelated(np.random.default_rng(7), 20_000, rho, 0.1) + 280.0
    mean = mean_of(Column(rows, np.zeros(rows.size), np.zeros(rows.size)))
    off = rows - rows.mean()
    assert mean.rho == pytest.approx(
        float((off[:-1] * off[1:]).mean() / (off * off).mean()), rel=1e-6, abs=1e-9
    )
    assert mean.rho == pytest.approx(rho, abs=0.03)
    # Variance of the mean of an AR(1) series: sigma^2 / n (1 + rho) / (1 - rho), textbook.
    assert effective_rows(mean) == pytest.approx(rows.size * (1 - rho) / (1 + rho), rel=0.1)
