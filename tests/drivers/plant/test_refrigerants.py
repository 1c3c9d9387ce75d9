from __future__ import annotations

import math
from itertools import pairwise

import pytest
from CoolProp.CoolProp import HAPropsSI, PropsSI
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.plant.humid_air import moist_air
from drivers.plant.liquids import liquid
from drivers.plant.refrigerants import SUPPORTED, refrigerant

PURE = tuple(name for name in SUPPORTED if name != "R454B")


@pytest.mark.parametrize("name", PURE)
@settings(derandomize=True, deadline=None, max_examples=40)
@given(p=st.floats(2.5e5, 28e5), x=st.floats(0.5, 30.0))
def test_tables_follow_the_library(name: str, p: float, x: float) -> None:
    ref = refrigerant(name)
    lnp = math.log(p)
    s = ref.saturation(lnp)
    assert s.t_dew == pytest.approx(PropsSI("T", "P", p, "Q", 1, name), abs=1e-3)
    assert s.t_bubble == pytest.approx(PropsSI("T", "P", p, "Q", 0, name), abs=1e-3)
    h, entropy, rho = ref.vapour(lnp, x)
    assert h == pytest.approx(PropsSI("H", "P", p, "T", s.t_dew + x, name), abs=150.0)
    assert entropy == pytest.approx(PropsSI("S", "P", p, "T", s.t_dew + x, name), abs=0.6)
    assert rho == pytest.approx(PropsSI("D", "P", p, "T", s.t_dew + x, name), rel=1e-3)
    assert ref.liquid(lnp, x) == pytest.approx(PropsSI("H", "P", p, "T", s.t_bubble - x, name), abs=150.0)
    assert ref.superheat_of(lnp, h, 0) == pytest.approx(x, abs=1e-6)
    assert ref.superheat_of(lnp, entropy, 1) == pytest.approx(x, abs=1e-6)


@pytest.mark.parametrize("name", SUPPORTED)
def test_saturation_rises_with_pressure_everywhere_even_across_the_librarys_holes(name: str) -> None:
    ref = refrigerant(name)
    rows = ref.sat_rows
    for a, b in pairwise(rows):
        assert b[0] > a[0]
        assert b[1] > a[1]
        assert b[0] >= b[1] - 0.2  # R410A's pseudo-pure lines lie within 0.2 K of each other
    assert ref.lnp_of_dew(ref.saturation(13.5).t_dew) == pytest.approx(13.5, abs=1e-4)


def test_an_unknown_refrigerant_is_refused_with_the_choice() -> None:
    with pytest.raises(ValueError, match="R410A"):
        refrigerant("R999")


def test_liquids_and_air_follow_the_library() -> None:
    brine, water = liquid("MPG", 0.25), liquid("water")
    for t in (270.0, 276.3, 290.0):
        assert brine.cp(t) == pytest.approx(PropsSI("C", "T", t, "P", 2e5, "INCOMP::MPG[0.25]"), rel=1e-5)
        assert brine.mu(t) == pytest.approx(PropsSI("V", "T", t, "P", 2e5, "INCOMP::MPG[0.25]"), rel=2e-3)
    assert water.rho(303.15) == pytest.approx(PropsSI("D", "T", 303.15, "P", 2e5, "Water"), rel=1e-6)
    air = moist_air(94320.0)
    w = air.w_of(298.15, 291.15)
    assert w == pytest.approx(HAPropsSI("W", "T", 298.15, "B", 291.15, "P", 94320.0), rel=1e-9)
    assert air.wet_bulb(298.15, w) == pytest.approx(291.15, abs=0.1)
    assert air.t_of(air.h(290.0, 0.008), 0.008) == pytest.approx(290.0, abs=1e-6)
