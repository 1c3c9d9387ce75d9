"""The saturation functions: shapes, ranges, both ways round, what they load."""

from __future__ import annotations

import math
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from analysis.saturation import (
    RefusedRefrigerant,
    SaturationCurve,
    UnknownRefrigerant,
    names,
    refrigerant,
)

BY_PRESSURE = (
    "t_dew",
    "t_bubble",
    "rho_dew",
    "rho_bubble",
    "h_dew",
    "h_bubble",
    "dtdp_dew",
    "dtdp_bubble",
    "glide",
)
EVERY = (*BY_PRESSURE, "p_dew", "p_bubble")
STEADY = settings(derandomize=True, deadline=None, max_examples=80)


def span(curve, function):
    """Range of the argument of a function."""
    if function.startswith("p_"):
        line = getattr(curve, function.replace("p_", "t_"))
        return line(curve.p_min), line(curve.p_max)
    return curve.p_min, curve.p_max


def grid(curve, function, count=2001):
    low, high = span(curve, function)
    return np.linspace(low, high, count)


@pytest.mark.parametrize("name", names())
def test_every_function_is_finite_over_the_whole_range(name):
    curve = refrigerant(name)
    for function in EVERY:
        assert np.isfinite(getattr(curve, function)(grid(curve, function))).all(), function


@pytest.mark.parametrize("name", names())
def test_curves_rise_and_fall_as_they_must(name):
    curve = refrigerant(name)
    p = np.geomspace(curve.p_min, curve.p_max, 20_001)
    for function in ("t_dew", "t_bubble", "rho_dew"):
        assert (np.diff(getattr(curve, function)(p)) > 0).all(), function
    assert (np.diff(curve.rho_bubble(p)) < 0).all()
    assert (np.diff(curve.h_bubble(p)) > 0).all()
    for function in ("p_dew", "p_bubble"):
        assert (np.diff(getattr(curve, function)(grid(curve, function, 20_001))) > 0).all(), function
    assert (curve.dtdp_dew(p) > 0).all()
    assert (curve.dtdp_bubble(p) > 0).all()
    assert (curve.rho_dew(p) < curve.rho_bubble(p)).all()
    assert (curve.h_dew(p) > curve.h_bubble(p)).all()


@pytest.mark.parametrize("name", names())
def test_pressure_and_temperature_lead_back_to_each_other(name):
    curve = refrigerant(name)
    p = np.geomspace(curve.p_min, curve.p_max, 5001)
    for t_of_p, p_of_t in ((curve.t_dew, curve.p_dew), (curve.t_bubble, curve.p_bubble)):
        np.testing.assert_allclose(p_of_t(t_of_p(p)), p, rtol=1e-7)
        for end in (curve.p_min, curve.p_max):
            assert p_of_t(t_of_p(end)) == pytest.approx(end, rel=1e-7)
            assert math.isfinite(t_of_p(p_of_t(t_of_p(end))))


@pytest.mark.parametrize("name", names())
def test_the_slope_is_that_of_the_temperature(name):
    curve = refrigerant(name)
    p = np.geomspace(1.01 * curve.p_min, 0.99 * curve.p_max, 500)
    step = 1e-4 * p
    for slope, t in ((curve.dtdp_dew, curve.t_dew), (curve.dtdp_bubble, curve.t_bubble)):
        np.testing.assert_allclose(slope(p), (t(p + step) - t(p - step)) / (2 * step), rtol=2e-5)


@pytest.mark.parametrize("name", names())
def test_range_covers_the_work_of_a_heat_pump(name):
    """From -40 degC to 65 degC, or to 0.95 of the critical pressure where that is lower (R744)."""
    curve = refrigerant(name)
    assert curve.t_dew(curve.p_min) < 233.15
    assert curve.t_bubble(curve.p_max) > (298 if name == "R744" else 338.15)
    assert max(map(max, curve.errors.values())) < 0.1


@pytest.mark.parametrize("name", names())
def test_saturated_liquid_at_0_degc_has_200_kj_per_kg(name):
    curve = refrigerant(name)
    assert curve.h_bubble(curve.p_bubble(273.15)) == pytest.approx(200e3, abs=0.05)


@pytest.mark.parametrize("name", ["R22", "R407C", "R454B", "R123"])
@pytest.mark.parametrize("function", EVERY)
def test_one_value_and_an_array_agree(name, function):
    curve = refrigerant(name)
    low, high = span(curve, function)
    x = np.random.default_rng(7).uniform(0.95 * low, 1.02 * high, 3000)
    together = getattr(curve, function)(x)
    alone = np.array([getattr(curve, function)(float(value)) for value in x])
    assert np.isnan(together).any()
    if function == "glide":  # a small difference of two temperatures, or none at all
        np.testing.assert_allclose(together, alone, atol=1e-9)
    else:
        np.testing.assert_allclose(together, alone, rtol=1e-12)


@pytest.mark.parametrize("function", EVERY)
def test_a_value_does_not_depend_on_its_neighbours(function):
    """Bit for bit the same in any cut, any stride, any company."""
    curve = refrigerant("R454B")
    low, high = span(curve, function)
    rng = np.random.default_rng(11)
    x = rng.uniform(0.98 * low, 1.02 * high, 70_011)
    x[::97] = np.nan
    call = getattr(curve, function)
    whole = call(x)
    for pieces in (7, 61, 1013):
        parts = np.concatenate([call(part) for part in np.array_split(x, pieces)])
        assert parts.tobytes() == whole.tobytes()
    order = rng.permutation(x.size)
    assert call(x[order]).tobytes() == whole[order].tobytes()
    assert call(x[::3]).tobytes() == whole[::3].tobytes()
    assert call(x[1:]).tobytes() == whole[1:].tobytes()
    assert call(np.array([x[5]])).tobytes() == whole[5:6].tobytes()
    assert call(np.asfortranarray(x[:20_000].reshape(100, 200))).tobytes() == whole[:20_000].tobytes()


def test_shapes_are_kept_and_the_input_is_left_alone():
    curve = refrigerant("R22")
    x = np.full((3, 0, 2), 5e5)
    assert curve.t_dew(x).shape == (3, 0, 2)
    assert curve.t_dew(np.array(5e5)).shape == ()
    fixed = np.full((2, 3), 5e5)
    fixed.flags.writeable = False
    assert curve.t_dew(fixed).shape == (2, 3)
    assert isinstance(curve.t_dew(5e5), float)
    assert isinstance(curve.t_dew(500_000), float)
    assert type(curve.t_dew(np.float64(5e5))) is float


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf, 0.0, -1.0, 1e-300, 1e300])
@pytest.mark.parametrize("function", EVERY)
def test_what_is_out_of_range_is_not_known(bad, function):
    call = getattr(refrigerant("R410A"), function)
    assert math.isnan(call(bad))
    assert np.isnan(call(np.full(3, bad))).all()


@STEADY
@given(st.sampled_from(names()), st.sampled_from(EVERY), st.floats())
def test_finite_only_for_a_finite_value_in_range(name, function, x):
    curve = refrigerant(name)
    low, high = span(curve, function)
    result = getattr(curve, function)(x)
    if low <= x <= high:
        assert math.isfinite(result)
    elif not low * (1 - 1e-8) <= x <= high * (1 + 1e-8):
        assert math.isnan(result)


@STEADY
@given(
    st.sampled_from(EVERY),
    hnp.arrays(
        np.float64,
        hnp.array_shapes(min_dims=0, max_dims=3, min_side=0, max_side=20),
        elements=st.one_of(st.floats(), st.floats(3e4, 5e6), st.floats(200, 360)),
    ),
)
def test_any_array_gives_its_shape_and_finite_only_in_range(function, x):
    curve = refrigerant("R407C")
    low, high = span(curve, function)
    result = getattr(curve, function)(x)
    assert result.shape == x.shape
    inside = (x >= low) & (x <= high)
    near = (x >= low * (1 - 1e-8)) & (x <= high * (1 + 1e-8))
    assert np.isfinite(result[inside]).all()
    assert np.isnan(result[~near]).all()


def test_names_are_found_however_they_are_written():
    for written in ("R410A", "R-410A", "r410a", "410A", " r 410 a "):
        assert refrigerant(written).name == "R410A"
    assert refrigerant("propane").name == "R290"
    assert refrigerant("CO2").name == "R744"
    assert refrigerant("r1234ze(e)").name == refrigerant("R-1234ze").name == "R1234ze(E)"
    assert all(refrigerant(name).name == name for name in names())


def test_every_refrigerant_satisfies_the_protocol():
    def kelvin(curve: SaturationCurve) -> float:
        return curve.t_dew(1e6)

    assert kelvin(refrigerant("R32")) == pytest.approx(280.0, abs=1.0)
    assert refrigerant("R32").safety_class == "A2L"
    assert "CoolProp" in refrigerant("R32").source


@pytest.mark.parametrize("name", ["", "R", "R99", "R41", "banana", "R410", "R-411A", "R" * 400])
def test_unknown_names_are_refused_with_a_way_out(name):
    with pytest.raises(UnknownRefrigerant, match="cylinder maker's data") as refusal:
        refrigerant(name)
    assert "\n" not in str(refusal.value)


def test_a_near_name_is_offered():
    with pytest.raises(UnknownRefrigerant, match="did you mean R410A"):
        refrigerant("R410")


@pytest.mark.parametrize("name", ["R438A", "r-515b", "453A"])
def test_blends_without_mixing_data_are_refused_by_name(name):
    with pytest.raises(RefusedRefrigerant, match=r"R\d+[AB] cannot .* pressure-temperature table"):
        refrigerant(name)


def test_one_value_loads_neither_numpy_nor_the_property_library():
    code = (
        "import sys; from analysis.saturation import refrigerant, names; names();"
        "r = refrigerant('R410A'); r.t_dew(9.2e5), r.glide(9.2e5), r.p_bubble(300.0), r.h_dew(9.2e5);"
        "print(sorted(m for m in sys.modules if m.split('.')[0] in ('numpy', 'CoolProp', 'scipy')"
        " or m.startswith('analysis.tables.')))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "['analysis.tables.r410a']"
