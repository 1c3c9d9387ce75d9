"""Gauge zeroing: which zero is believed, and what is done with it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.correction import GaugeZero, correction_text, parse_correction
from analysis.finding_acts import Safe
from analysis.measure import Channel, Specification
from analysis.still_mean import Series
from analysis.units import Quantity
from analysis.zeroing import ACTS, Zero, ZeroLack, zero_gauges

T = np.arange(0.0, 31.0)
GAUGE = Channel(
    "g/ps",
    Quantity.GAUGE_PRESSURE,
    "psig",
    resolution=0.1,
    uncertainty=Specification(of_span=0.01, span=500.0),
)
ABSOLUTE = Channel(
    "g/pa", Quantity.ABSOLUTE_PRESSURE, "kPa(a)", resolution=0.1, uncertainty=Specification(fixed=4.0)
)


def zero(channel: Channel, value: float | np.ndarray, barometer_pa: float = math.nan) -> Zero:
    (found,) = zero_gauges([Series(channel, T, value + np.zeros(T.size))], 30.0, barometer_pa)
    return found


def test_a_vented_gauge_is_brought_to_zero() -> None:
    found = zero(GAUGE, 9000.0)
    assert found.lack is None
    assert found.offset == -9000.0
    assert found.limit == pytest.approx(3.0 * 2.5 * 6894.757, rel=1e-5)
    kept = parse_correction(
        correction_text(found.correction("2026-01-14T08:00:00Z"), GAUGE.quantity), GAUGE.quantity
    )
    assert kept.offset == pytest.approx(-9000.0)
    assert kept.match is None
    assert isinstance(kept.evidence, GaugeZero)


def test_what_is_no_zero_is_not_taken_for_one() -> None:
    assert zero(GAUGE, 8e5).lack is ZeroLack.PRESSURE
    assert zero(GAUGE, 9000.0 - 900.0 * T).lack is ZeroLack.MOVES
    (few,) = zero_gauges([Series(GAUGE, T[:5], np.zeros(5))], 30.0)
    assert few.lack is ZeroLack.FEW_READINGS
    (none,) = zero_gauges([Series(GAUGE, T[:0], T[:0])], 30.0)
    assert none.lack is ZeroLack.FEW_READINGS


def test_an_absolute_sensor_is_held_against_the_declared_barometer() -> None:
    assert zero(ABSOLUTE, 97_000.0).lack is ZeroLack.NO_BAROMETER
    found = zero(ABSOLUTE, 97_000.0, 94_320.0)
    assert found.lack is None
    assert found.offset == pytest.approx(-2680.0)
    assert found.u > 1000.0
    fine = Channel("g/pa", Quantity.ABSOLUTE_PRESSURE, "kPa(a)", uncertainty=Specification(fixed=0.2))
    assert zero(fine, 94_500.0, 94_320.0).lack is ZeroLack.NO_GAIN


def test_where_nothing_is_stated_an_ordinary_gauge_is_assumed() -> None:
    plain = Channel("g/x", Quantity.PRESSURE_DIFFERENCE, "kPa")
    assert zero(plain, 1500.0).lack is None
    assert zero(plain, 2500.0).lack is ZeroLack.PRESSURE


def test_the_act_has_its_one_safe_condition() -> None:
    assert [act.safe for act in ACTS] == [Safe.RELIEVED]
