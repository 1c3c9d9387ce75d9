"""Numbers, arrays and any cutting of arrays give the same result, bit for bit."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from analysis import air, coil, liquid_composition, water
from analysis.elementwise import elementwise
from analysis.liquids import Liquid
from analysis.pressure_drop import PressureDropTable, RatedPoint
from analysis.pressure_drop_law import drop_correction

LOOP, WATER = Liquid("propylene_glycol", mass_fraction=0.25), Liquid("water")
TABLE = PressureDropTable(
    (0.2e-3, 0.4e-3, 0.8e-3), (275.0, 295.0), ((4e3, 14e3, 49e3), (3e3, 10.5e3, 36.75e3))
)
RATED = RatedPoint(0.6e-3, 28.8e3, 275.0, LOOP)

#: Each takes a temperature near 285 K and a number from 4e3 to 45e3.
FORMULAS: dict[str, Callable[..., object]] = {
    "density": lambda t, x: LOOP.density(t),
    "viscosity": lambda t, x: LOOP.viscosity(t),
    "composition": lambda t, x: liquid_composition.mass_fraction_from_density("methanol", 1000 - x / 1e3, t),
    "heat": lambda t, x: water.heat_from_liquid(LOOP, x * 1e-8, t, t - 3),
    "correction": lambda t, x: drop_correction(LOOP, t, WATER, 283.0),
    "table": lambda t, x: TABLE.flow(x, t, u_drop=100.0, liquid=LOOP).q_v,
    "table_u": lambda t, x: TABLE.flow(x, t, u_drop=100.0).u,
    "rated": lambda t, x: RATED.flow(x, t, u_drop=100.0).u,
    "barometer": lambda t, x: air.standard_pressure(x / 10),
    "wet_bulb": lambda t, x: air.wet_bulb(t, 0.001, 95e3),
    "dew_point": lambda t, x: air.dew_point(x / 5e6, 95e3),
    "lmtd": lambda t, x: coil.lmtd(t - 265, 5.0),
    "ua": lambda t, x: coil.ua_from_ntu(WATER, x * 1e-8, t + 3, t + 6, 320.0),
    "ua_at_flow": lambda t, x: coil.ua_at_flow(x, 0.6, t / 285),
}


@pytest.mark.parametrize("name", FORMULAS)
def test_cutting_changes_nothing(name):
    formula = FORMULAS[name]
    random = np.random.default_rng(3)
    t, x = random.uniform(272, 300, 257), random.uniform(4e3, 45e3, 257)
    t[5], x[9] = np.nan, np.nan
    whole = np.asarray(formula(t, x))
    assert np.isfinite(whole).sum() > 200
    for size in (1, 3, 64, 200):
        parts = [np.asarray(formula(t[at : at + size], x[at : at + size])) for at in range(0, t.size, size)]
        assert np.array_equal(np.concatenate(parts), whole, equal_nan=True)
    assert np.array_equal(formula(t[::2], x[::2]), whole[::2], equal_nan=True)
    single = [formula(float(at), float(value)) for at, value in zip(t, x, strict=True)]
    assert np.array_equal(single, whole, equal_nan=True)
    assert all(type(value) is float for value in single)


def test_integers_and_whole_arrays_of_them_are_numbers():
    @elementwise
    def half(value):
        return np.asarray(value) / 2

    assert half(3) == 1.5
    assert half(np.array([1, 2])).tolist() == [0.5, 1.0]
    assert half(np.float32(1.0)) == 0.5


def test_overflow_is_not_infinite():
    @elementwise
    def huge(value):
        return np.exp(np.asarray(value))

    assert np.isnan(huge(1e4))
    assert np.isnan(huge(np.array([1.0, 1e4]))).tolist() == [False, True]
