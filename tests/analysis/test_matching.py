"""One-cup match: the offsets, what is known of them, and what stands against taking them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.correction import Correction, correction_text, parse_correction
from analysis.cup import AWAY, ICE, MEAN, Cup, Lack, difference_uncertainty, stated_difference
from analysis.cup_troubles import LEAST_READINGS, MOVES_K_PER_S, STANDS_OUT_K
from analysis.matching import WINDOW_S, cup_match
from analysis.measure import Channel, Specification
from analysis.still_mean import Series, still_mean
from analysis.units import Quantity

CLAMP = Specification(fixed=1.0)
T = np.arange(0.0, 121.0)
END_S = 120.0
AWAY_K = 40.0
"""How far from the cup's temperature the probes are used later."""


def channel(name: str, spec: Specification | None = CLAMP, **more: object) -> Channel:
    return Channel(name, Quantity.TEMPERATURE, "degC", resolution=0.01, uncertainty=spec, **more)  # type: ignore[arg-type]


def probe(name: str, true: np.ndarray, error: float, rng: np.random.Generator, **more: object) -> Series:
    """Give what a probe with a fixed error and some noise reads, to its last digit."""
    held = float(more.pop("held", 0.0))  # type: ignore[arg-type]
    read = np.round((true + error + rng.normal(0.0, 0.02, true.size) - 273.15) / 0.01) * 0.01 + 273.15
    return Series(channel(name, **more), T[: true.size], read, held)  # type: ignore[arg-type]


def cup(errors: dict[str, float], *, seed: int = 1, reference: str = MEAN, drift: float = 0.0) -> Cup:
    rng = np.random.default_rng(seed)
    true = 285.0 + drift * T
    return cup_match([probe(n, true, e, rng) for n, e in errors.items()], END_S, reference=reference)


def test_the_offset_of_each_probe_brings_it_to_the_mean_of_all() -> None:
    found = cup({"a": 0.3, "b": -0.2, "c": 0.05})
    assert found.even
    mean = (0.3 - 0.2 + 0.05) / 3.0
    for one, error in zip(found.probes, (0.3, -0.2, 0.05), strict=True):
        assert one.offset == pytest.approx(mean - error, abs=0.01)
        assert found.u_offset(one) < 0.06
    assert sum(one.offset for one in found.probes) == pytest.approx(0.0, abs=1e-9)


def test_a_reference_probe_keeps_its_own_offset_and_gives_its_uncertainty_to_all() -> None:
    rng = np.random.default_rng(2)
    true = np.full(T.size, 285.0)
    good = probe("good", true, 0.1, rng, spec=Specification(fixed=0.1), held=-0.1)
    found = cup_match([good, probe("clamp", true, 0.6, rng)], END_S, reference="good")
    assert found.even
    by_name = {one.channel.id: one for one in found.probes}
    assert by_name["good"].offset == pytest.approx(-0.1)
    assert found.u_offset(by_name["good"]) == 0.0
    assert by_name["clamp"].offset == pytest.approx(-0.6, abs=0.02)
    assert found.shared == pytest.approx(math.hypot(0.05, by_name["good"].own))


def test_a_second_match_in_the_same_cup_finds_the_same() -> None:
    rng = np.random.default_rng(3)
    series = [probe(n, np.full(T.size, 285.0), e, rng) for n, e in (("a", 0.3), ("b", -0.2))]
    first = cup_match(series, END_S)
    again = cup_match(
        [Series(s.channel, s.t_s, s.value, p.offset) for s, p in zip(series, first.probes, strict=True)],
        END_S,
    )
    assert [p.offset for p in again.probes] == pytest.approx([p.offset for p in first.probes])


def test_ice_water_gives_a_lone_probe_its_zero() -> None:
    rng = np.random.default_rng(4)
    ice = [probe("a", np.full(T.size, 273.15), 0.4, rng)]
    found = cup_match(ice, END_S, reference=ICE)
    assert found.even
    assert found.probes[0].offset == pytest.approx(-0.4, abs=0.01)
    assert found.shared == pytest.approx(0.1 / math.sqrt(3.0))
    warm = cup_match([probe("a", np.full(T.size, 276.0), 0.0, rng)], END_S, reference=ICE)
    assert [t.lack for t in warm.troubles] == [Lack.NOT_ICE]
    assert cup_match(ice, END_S).troubles[0].lack is Lack.FEW_PROBES
    late = [probe("a", 273.15 + 0.2 / 60.0 * (END_S - T), 0.0, rng)]
    assert [t.lack for t in cup_match(late, END_S, reference=ICE).troubles] == [Lack.MOVES]


def test_probes_whose_error_is_one_calibrations_keep_it_in_common() -> None:
    shared = Specification(fixed=0.2, shared=0.4)
    rng = np.random.default_rng(5)
    true = np.full(T.size, 285.0)
    series = [probe(n, true, 0.0, rng, spec=shared, calibration="bath") for n in ("a", "b", "c", "d")]
    found = cup_match(series, END_S)
    assert found.shared == pytest.approx(math.hypot(0.2, 0.1 / 2.0), rel=0.02)
    alone = cup_match([probe(n, true, 0.0, rng, spec=shared) for n in ("a", "b", "c", "d")], END_S)
    assert alone.shared == pytest.approx(math.hypot(0.2, 0.1) / 2.0, rel=0.05)
    assert stated_difference(*found.probes[:2]) < stated_difference(*alone.probes[:2])


@pytest.mark.parametrize("reference", [MEAN, "a"])
def test_what_is_stated_of_a_difference_covers_what_it_truly_is(reference: str) -> None:
    """Cups of unlike probes that lag, drift and scatter: two standard uncertainties cover nine in ten."""
    rng = np.random.default_rng(6)
    inside = inside_far = taken = 0
    for _ in range(60):
        drift = rng.uniform(-1.0, 1.0) * 0.2 / 60.0
        errors = rng.normal(0.0, 0.4, 3)
        lags = rng.uniform(3.0, 18.0, 3)
        places = rng.uniform(-0.05, 0.05, 3)
        slopes = rng.uniform(-0.005, 0.005, 3)
        series = [
            probe(name, 285.0 + drift * (T - lag) + place, error, rng)
            for name, error, lag, place in zip("abc", errors, lags, places, strict=True)
        ]
        found = cup_match(series, END_S, reference=reference)
        if not found.even:
            continue
        for one, other in ((0, 1), (0, 2), (1, 2)):
            left = errors[one] + found.probes[one].offset - errors[other] - found.probes[other].offset
            u = difference_uncertainty(found, "abc"[one], "abc"[other])
            inside += abs(left) <= 2.0 * u
            taken += 1
            far = left + AWAY_K * (slopes[one] - slopes[other])
            inside_far += abs(far) <= 2.0 * math.hypot(u, AWAY_K * AWAY * math.sqrt(2.0))
    assert taken > 100
    assert inside / taken > 0.9
    assert inside_far / taken > 0.9
    assert u < 0.1


def test_a_probe_that_still_closes_in_is_named_and_the_cup_is_not_taken() -> None:
    rng = np.random.default_rng(7)
    still = np.full(T.size, 285.0)
    late = still + 8.0 * np.exp(-T / 30.0)
    found = cup_match(
        [probe("a", still, 0.0, rng), probe("b", still, 0.1, rng), probe("late", late, 0.0, rng)], END_S
    )
    assert not found.even
    assert found.troubles[0].lack is Lack.MOVES
    assert found.troubles[0].channels == ("late",)
    assert found.corrections("cup") == {}
    after = cup_match(
        [
            Series(s.channel, s.t_s, s.value)
            for s in (
                probe("a", still, 0.0, rng),
                probe("late", still + 8.0 * np.exp(-(T + 200.0) / 30.0), 0.0, rng),
            )
        ],
        END_S,
    )
    assert after.even


def test_a_coarse_probe_in_a_cooling_cup_is_not_taken_for_one_that_moves() -> None:
    """Two probes of 0.1 K step at different moments; that is the resolution and no drift."""
    true = 285.0 + 0.1 / 60.0 * T
    coarse = [
        Series(
            Channel(n, Quantity.TEMPERATURE, "degC", resolution=0.1, uncertainty=CLAMP),
            T,
            np.round((true + e) * 10.0) / 10.0,
        )
        for n, e in (("a", 0.0), ("b", 0.05), ("c", 0.08))
    ]
    found = cup_match(coarse, END_S)
    assert found.even, found.troubles
    assert all(one.own > 0.1 / math.sqrt(12.0) for one in found.probes)


def test_a_probe_that_lies_elsewhere_is_named() -> None:
    found = cup({"a": 0.1, "b": -0.1, "air": 6.0})
    assert [t.lack for t in found.troubles] == [Lack.STANDS_OUT]
    assert found.troubles[0].channels == ("air",)
    assert found.troubles[0].value == pytest.approx(5.9, abs=0.2)
    two = cup({"a": 0.0, "b": 6.0})
    assert set(two.troubles[0].channels) == {"a", "b"}
    assert abs(two.troubles[0].value) == pytest.approx(6.0, abs=0.1)
    good = Specification(fixed=0.1)
    rng = np.random.default_rng(8)
    true = np.full(T.size, 285.0)
    near = [probe(n, true, e, rng, spec=good) for n, e in (("a", 0.0), ("b", 0.9 * STANDS_OUT_K))]
    assert cup_match(near, END_S).even


def test_a_cup_that_cools_too_fast_is_refused() -> None:
    found = cup({"a": 0.1, "b": -0.1}, drift=-0.8 / 60.0)
    assert [t.lack for t in found.troubles] == [Lack.CUP_DRIFTS]
    slow = cup({"a": 0.1, "b": -0.1}, drift=-0.2 / 60.0)
    assert slow.even
    assert slow.probes[0].own > cup({"a": 0.1, "b": -0.1}).probes[0].own


def test_too_few_readings_are_said_before_anything_else() -> None:
    rng = np.random.default_rng(9)
    true = np.full(T.size, 285.0)
    short = probe("late", true, 5.0, rng)
    short = Series(short.channel, short.t_s[-8:], short.value[-8:])
    found = cup_match([probe("a", true, 0.0, rng), short], END_S)
    assert [t.lack for t in found.troubles] == [Lack.SHORT]
    assert found.troubles[0].channels == ("late",)
    assert (found.troubles[0].value, found.troubles[0].limit) == (7.0, 48.0)
    sparse = Series(short.channel, T[::10], np.full(T[::10].size, 285.0))
    found = cup_match([probe("a", true, 0.0, rng), sparse], END_S)
    assert [t.lack for t in found.troubles] == [Lack.FEW_READINGS]
    assert (found.troubles[0].value, found.troubles[0].limit) == (7, LEAST_READINGS)
    silent = Series(short.channel, T[:0], T[:0])
    assert cup_match([probe("a", true, 0.0, rng), silent], END_S).troubles[0].channels == ("late",)
    assert cup_match([], END_S).troubles[0].lack is Lack.FEW_PROBES


def test_slow_probes_get_a_longer_window() -> None:
    slow_t = np.arange(0.0, 301.0, 10.0)
    slow = [
        Series(channel(n, expected_interval_s=10.0), slow_t, np.full(slow_t.size, 285.0 + e))
        for n, e in (("a", 0.1), ("b", 0.0))
    ]
    found = cup_match(slow, 300.0)
    assert found.even
    assert found.window_s > WINDOW_S


def test_probes_that_are_better_than_a_cup_are_left_alone() -> None:
    fine = Specification(fixed=0.02)
    rng = np.random.default_rng(10)
    true = np.full(T.size, 285.0)
    found = cup_match([probe(n, true, 0.0, rng, spec=fine) for n in ("a", "b")], END_S)
    assert [t.lack for t in found.troubles] == [Lack.NO_GAIN]


def test_where_nothing_is_stated_offsets_are_found_and_nothing_is_promised() -> None:
    rng = np.random.default_rng(11)
    true = np.full(T.size, 285.0)
    found = cup_match([probe(n, true, e, rng, spec=None) for n, e in (("a", 0.3), ("b", 0.0))], END_S)
    assert found.even
    assert math.isnan(found.shared)
    text = correction_text(found.corrections("2026-01-14T08:12:30Z")["a"], Quantity.TEMPERATURE)
    assert math.isnan(parse_correction(text, Quantity.TEMPERATURE).match.shared)  # type: ignore[union-attr]


def test_a_reference_that_is_no_probe_is_refused() -> None:
    with pytest.raises(ValueError, match="'x' is none of a, b"):
        cup({"a": 0.0, "b": 0.1}, reference="x")


def test_scatter_that_hangs_together_says_less_than_the_number_of_readings() -> None:
    rng = np.random.default_rng(12)
    white = rng.normal(0.0, 0.05, T.size)
    hanging = np.convolve(rng.normal(0.0, 0.05, T.size + 19), np.ones(20) / math.sqrt(20.0), "valid")
    alone = still_mean(Series(channel("a"), T, 285.0 + white), 60.0)
    together = still_mean(Series(channel("a"), T, 285.0 + hanging), 60.0)
    assert together.u / together.spread > 2.0 * alone.u / alone.spread


def test_what_is_written_reads_the_same() -> None:
    for found in cup({"a": 0.31234567, "b": -0.2}).corrections("2026-01-14T08:12:30Z").values():
        again = parse_correction(correction_text(found, Quantity.TEMPERATURE), Quantity.TEMPERATURE)
        assert again.offset == pytest.approx(found.offset, rel=1e-4)
        assert again.match is not None
        assert found.match is not None
        for name in ("at", "own", "shared", "slope"):
            assert getattr(again.match, name) == pytest.approx(getattr(found.match, name), rel=5e-3)
    assert correction_text(Correction(-0.3), Quantity.TEMPERATURE) == "-0.3 K"
    assert pytest.approx(0.1) == MOVES_K_PER_S * 60.0
