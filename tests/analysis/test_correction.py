"""An offset with its evidence: read strictly, and what it does to the uncertainty of results."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.analyser import Analyser, Results
from analysis.correction import CorrectionError, parse_correction
from analysis.measure import Channel, Quality, Specification
from analysis.rows import Rows
from analysis.settings import SettingsError, settings_over_time
from analysis.timeline import Event
from analysis.units import Quantity

IN, OUT = "water/in", "water/out"
POINTS = {IN: "source_entering_temperature", OUT: "source_leaving_temperature"}
CHANNELS = {
    name: Channel(
        name, Quantity.TEMPERATURE, "degC", resolution=0.01, expected_interval_s=1.0,
        uncertainty=Specification(fixed=0.6),
    )
    for name in POINTS
}  # fmt: skip
EVIDENCE = "matched in one cup at 12 degC: own 0.03 K, shared 0.2 K, slope 0.0029, cup 2026-01-14T08:12:30Z"


def worked_out(*offsets: Event, reads: tuple[float, float] = (12.0, 8.0), scale: str = "") -> Results:
    events = [
        Event(0, 0, "assign", IN, POINTS[IN]), Event(0, 0, "assign", OUT, POINTS[OUT]),
        Event(0, 0, "mode", "", "heating"), *offsets,
        *((Event(0, 0, "scale", IN, scale),) if scale else ()),
    ]  # fmt: skip
    fold = Analyser(CHANNELS, settings_over_time(events, CHANNELS), {})
    items = [
        (second * 1_000_000, name, value, Quality.OK)
        for second in range(5)
        for name, value in zip(POINTS, reads, strict=True)
    ]
    return fold.step(Rows.of(items), 6_000_000)[-1]


def offset(name: str, text: str) -> Event:
    return Event(0, 0, "offset", name, text)


def u(found: Results, symbol: str) -> float:
    return float((found.points.get(symbol) or found.derived[symbol]).u[-1])


def test_a_match_lowers_the_uncertainty_of_the_water_drop_and_a_bare_offset_does_not() -> None:
    plain = worked_out()
    stated = math.hypot(0.3, 0.01 / math.sqrt(12.0))
    assert u(plain, "source_delta_t") == pytest.approx(stated * math.sqrt(2.0), rel=1e-6)
    bare = worked_out(offset(IN, "0.1 K"), offset(OUT, "-0.1 K"))
    assert u(bare, "source_delta_t") == pytest.approx(u(plain, "source_delta_t"))
    matched = worked_out(offset(IN, f"0.1 K, {EVIDENCE}"), offset(OUT, f"-0.1 K, {EVIDENCE}"))
    value = float(matched.derived["source_delta_t"].value[-1])
    assert value == pytest.approx(float(bare.derived["source_delta_t"].value[-1]))
    own = math.hypot(0.03, 0.01 / math.sqrt(12.0))
    away = math.hypot(0.0029 * 0.1, 0.0029 * 4.1)
    assert u(matched, "source_delta_t") == pytest.approx(math.hypot(own * math.sqrt(2.0), away), rel=1e-3)
    assert u(matched, POINTS[IN]) == pytest.approx(math.hypot(own, 0.2), rel=1e-3)


def test_probes_of_two_cups_have_nothing_in_common() -> None:
    other = EVIDENCE.replace("08:12:30", "09:30:00")
    one = worked_out(offset(IN, f"0 K, {EVIDENCE}"), offset(OUT, f"0 K, {EVIDENCE}"))
    two = worked_out(offset(IN, f"0 K, {EVIDENCE}"), offset(OUT, f"0 K, {other}"))
    half = worked_out(offset(IN, f"0 K, {EVIDENCE}"))
    assert u(one, "source_delta_t") < 0.1 < u(two, "source_delta_t") < u(half, "source_delta_t")
    assert u(two, "source_delta_t") == pytest.approx(
        math.hypot(u(two, POINTS[IN]), u(two, POINTS[OUT])), rel=1e-3
    )


def test_a_later_offset_takes_the_evidence_away_with_the_amount() -> None:
    matched = offset(IN, f"0.1 K, {EVIDENCE}"), offset(OUT, f"-0.1 K, {EVIDENCE}")
    by_hand = worked_out(*matched, offset(OUT, "-0.1 K"))
    assert u(by_hand, POINTS[OUT]) == pytest.approx(u(worked_out(), POINTS[OUT]))
    undone = worked_out(*matched, offset(IN, ""), offset(OUT, ""))
    assert u(undone, "source_delta_t") == pytest.approx(u(worked_out(), "source_delta_t"))
    assert undone.settings.offset == {}


def test_a_match_wears_off_with_the_distance_from_the_cup() -> None:
    events = offset(IN, f"0 K, {EVIDENCE}"), offset(OUT, f"0 K, {EVIDENCE}")
    near = worked_out(*events, reads=(12.0, 12.0))
    far = worked_out(*events, reads=(52.0, 47.0))
    assert u(near, "source_delta_t") < 0.05
    assert u(far, "source_delta_t") == pytest.approx(
        math.hypot(0.0029 * 40.0, 0.0029 * 35.0, 0.043), rel=0.02
    )


def test_a_scaled_channel_is_matched_where_its_cup_was() -> None:
    found = worked_out(
        offset(IN, f"1 K, {EVIDENCE}"), offset(OUT, f"0 K, {EVIDENCE}"), reads=(5.5, 12.0), scale="2.0"
    )
    assert float(found.points[POINTS[IN]].value[-1]) == pytest.approx(285.15)
    assert u(found, POINTS[IN]) == pytest.approx(math.hypot(0.03, 0.02 / math.sqrt(12.0), 0.2), rel=1e-3)


def test_where_the_reference_states_nothing_nothing_is_promised() -> None:
    unknown = EVIDENCE.replace("shared 0.2 K", "shared not stated")
    found = worked_out(offset(IN, f"0 K, {unknown}"), offset(OUT, f"0 K, {unknown}"))
    assert np.isnan(u(found, "source_delta_t"))
    assert np.isfinite(found.derived["source_delta_t"].value[-1])


@pytest.mark.parametrize(
    "text",
    [
        "0.1 K,", "0,1 K", "0.1 K, matched", f"0.1 K, {EVIDENCE} by me",
        f"0.1 K, {EVIDENCE.replace('0.03 K', '-0.03 K')}",
        f"0.1 K, {EVIDENCE.replace('0.03 K', '0 K')}", f"0.1 K, {EVIDENCE.replace('0.0029', '2.9')}",
        f"0.1 K, {EVIDENCE.replace('0.0029', '1e')}", f"0.1 K, {EVIDENCE.replace('12 degC', '-300 degC')}",
        f"0.1 K, {EVIDENCE.replace('shared 0.2 K', 'shared much')}", "warm",
        "0.1 K, zeroed open to the air: own 0.1 kPa, 2026-01-14T08:12:30Z",
    ],
)  # fmt: skip
def test_evidence_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(CorrectionError):
        parse_correction(text, Quantity.TEMPERATURE)
    with pytest.raises(SettingsError, match=f"The offset of channel '{IN}' cannot be read"):
        settings_over_time([offset(IN, text)], CHANNELS)


def test_a_cup_is_no_evidence_for_a_gauge() -> None:
    with pytest.raises(CorrectionError):
        parse_correction(f"1 kPa, {EVIDENCE}", Quantity.GAUGE_PRESSURE)
