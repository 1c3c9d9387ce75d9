"""Scales, tables, thermistors and live-zero signals."""

from __future__ import annotations

import math

import pytest

from analysis.measure import Quality
from analysis.units import Quantity
from drivers.scaling import Beta, Conversion, Curve, Divider, LiveZero, Piecewise, SteinhartHart

CELSIUS = (Quantity.TEMPERATURE, "degC")


def converted(curve: Curve, sent: float, unit: str = "degC") -> float | None:
    return Conversion(Quantity.TEMPERATURE, unit, curve=curve)(sent)[0]


@pytest.mark.parametrize(
    ("resistance", "celsius"), [(32650.0, 0.0), (10000.0, 25.0), (3603.0, 50.0), (1752.0, 70.0)]
)
def test_a_usual_thermistor_by_three_parameters(resistance: float, celsius: float) -> None:
    """The usual 10 kohm probe: table and parameters are common practice, from memory, no source."""
    curve = SteinhartHart(a=1.129241e-3, b=2.341077e-4, c=8.775468e-8)
    assert converted(curve, resistance) == pytest.approx(celsius, abs=0.05)
    assert converted(curve, resistance, "degF") == pytest.approx(celsius * 1.8 + 32, abs=0.1)


def test_beta_agrees_with_its_own_definition() -> None:
    """B = ln(R1/R2) / (1/T1 - 1/T2), IEC 60539-1 (definition from memory)."""
    curve = Beta(beta=3950.0, r0=10000.0)
    t1, t2 = 273.15, 323.15
    r1, r2 = (10000.0 * math.exp(3950.0 * (1 / t - 1 / 298.15)) for t in (t1, t2))
    assert math.log(r1 / r2) / (1 / t1 - 1 / t2) == pytest.approx(3950.0)
    assert converted(curve, r1) == pytest.approx(0.0, abs=1e-9)
    assert converted(curve, r2) == pytest.approx(50.0, abs=1e-9)


@pytest.mark.parametrize("sent", [0.0, 1.0, -0.1, 1.5])
def test_an_open_or_shorted_thermistor_is_no_temperature(sent: float) -> None:
    curve = Beta(beta=3950.0, r0=10000.0, divider=Divider(series=10000.0))
    assert Conversion(*CELSIUS, curve=curve)(sent) == (None, Quality.INVALID)


def test_the_other_leg_of_the_divider() -> None:
    low, high = (Divider(series=4700.0, sensor_to_ground=leg) for leg in (True, False))
    assert low.resistance(0.7) == pytest.approx(high.resistance(0.3))


@pytest.mark.parametrize(
    ("milliamps", "bar"), [(4.0, 0.0), (12.0, 17.5), (20.0, 35.0), (3.7, -0.65625), (20.9, 36.96875)]
)
def test_live_zero(milliamps: float, bar: float) -> None:
    convert = Conversion(Quantity.GAUGE_PRESSURE, "bar(g)", curve=LiveZero(low=0.0, high=35.0))
    assert convert(milliamps)[0] == pytest.approx(bar)


@pytest.mark.parametrize("milliamps", [0.0, 3.59, 21.01, 25.0])
def test_a_broken_wire_is_not_zero_pressure(milliamps: float) -> None:
    """Fault signals at or below 3.6 mA and at or above 21 mA: NAMUR recommendation NE 43 (from memory)."""
    convert = Conversion(Quantity.GAUGE_PRESSURE, "bar(g)", curve=LiveZero(low=0.0, high=35.0))
    assert convert(milliamps) == (None, Quality.INVALID)


def test_piecewise_ends_where_its_table_ends() -> None:
    convert = Conversion(*CELSIUS, curve=Piecewise(points=((0.0, 10.0), (1.0, 20.0), (3.0, 0.0))))
    assert [convert(x)[0] for x in (0.0, 0.5, 1.0, 2.0, 3.0)] == [10.0, 15.0, 20.0, 10.0, 0.0]
    assert convert(-0.01)[0] is None
    assert convert(3.01)[0] is None


@pytest.mark.parametrize("points", [((0.0, 1.0),), ((0.0, 1.0), (0.0, 2.0)), ((0.0, math.nan), (1.0, 2.0))])
def test_a_table_must_rise(points: tuple[tuple[float, float], ...]) -> None:
    with pytest.raises(ValueError, match="points"):
        Piecewise(points=points)


def test_order_sentinel_scale_range() -> None:
    convert = Conversion(*CELSIUS, scale=0.1, offset=-40.0, sentinels=(65535.0, "n/a"), valid=(-40.0, 125.0))
    assert convert(65535.0) == (None, Quality.NOT_KNOWN)
    assert convert(650.0) == (25.0, Quality.OK)
    assert convert(1700.0) == (130.0, Quality.OUT_OF_RANGE)
    assert convert(math.nan) == (None, Quality.NOT_KNOWN)
    assert convert(math.inf) == (None, Quality.INVALID)
    assert convert.is_sentinel(" N/A ")
