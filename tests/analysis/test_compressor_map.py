"""The compressor map: envelope, units, words."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.compressor_map import CompressorMap, CompressorMapError, superheat_corrected_flow

FLAT = (100.0, *(0.0,) * 9)
ENVELOPE = ((-20.0, 20.0), (10.0, 20.0), (15.0, 60.0), (-5.0, 60.0), (-20.0, 45.0))
MAP = CompressorMap(
    mass_flow=FLAT, power=FLAT, envelope=ENVELOPE, temperature_unit="degC", mass_flow_unit="kg/h"
)


def test_inside_and_outside():
    s = np.array([0.0, -20.0, 10.0, 15.0, -12.5, -19.0, 14.0, -20.1, np.nan]) + 273.15
    d = np.array([40.0, 20.0, 20.0, 60.0, 52.5, 55.0, 30.0, 30.0, 40.0]) + 273.15
    assert MAP.inside(s, d)[:8].tolist() == [1, 1, 1, 1, 1, 0, 0, 0]
    assert np.isnan(MAP.inside(s, d)[8])
    flow = MAP.mass_flow_at(s, d)
    assert np.isfinite(flow).tolist() == [True] * 5 + [False] * 4
    assert flow[0] == pytest.approx(100 / 3600)


def test_words():
    assert MAP.why_not(273.15, 313.15) == ""
    assert "outside the envelope" in MAP.why_not(273.15, 350.0)
    assert "not known" in MAP.why_not(float("nan"), 313.15)


def test_all_ten_terms_in_their_order():
    s, d = 3.0, 40.0
    terms = [1, s, d, s**2, s * d, d**2, s**3, d * s**2, s * d**2, d**3]
    for place, term in enumerate(terms):
        row = [0.0] * 10
        row[place] = 2.0
        one = CompressorMap(power=tuple(row), envelope=ENVELOPE, temperature_unit="degC")
        assert one.power_at(s + 273.15, d + 273.15) == pytest.approx(2.0 * term, rel=1e-9)


def test_a_value_below_zero_is_not_given():
    falling = CompressorMap(power=(-1.0, *(0.0,) * 9), envelope=ENVELOPE, temperature_unit="degC")
    assert np.isnan(falling.power_at(273.15, 313.15))
    assert np.isnan(falling.mass_flow_at(273.15, 313.15))  # no coefficients


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"power": (1.0,) * 9, "envelope": ENVELOPE}, "power needs 10 numbers"),
        ({"mass_flow": (*FLAT[:9], float("nan")), "envelope": ENVELOPE}, "mass_flow needs 10 numbers"),
        ({"envelope": ENVELOPE}, "neither mass_flow nor power"),
        ({"power": FLAT}, "3 or more corners"),
        ({"power": FLAT, "envelope": ENVELOPE[:2]}, "3 or more corners"),
    ],
)
def test_an_incomplete_map_is_refused(fields, says):
    with pytest.raises(CompressorMapError, match=says):
        CompressorMap(**fields)


def test_superheat_correction_needs_densities():
    assert superheat_corrected_flow(0.05, 30.0, 30.0) == 0.05
    for bad in ((np.nan, 30.0, 30.0), (0.05, np.nan, 30.0), (0.05, 30.0, 0.0), (-0.05, 30.0, 30.0)):
        assert np.isnan(superheat_corrected_flow(*bad))
