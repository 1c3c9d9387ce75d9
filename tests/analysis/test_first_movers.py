"""Which point moved first: bands from the quiet time before, noise and dropouts that are no movement."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.first_movers import first_movers

N, STOP = 900, 880
T_US = np.arange(N) * 1_000_000


def quiet(seed: int, level: float, sigma: float) -> np.ndarray:
    return level + np.random.default_rng(seed).normal(0.0, sigma, N)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(lags=st.lists(st.integers(0, 60), min_size=3, max_size=3), seed=st.integers(0, 1000))
def test_steps_are_ordered_by_when_they_came(lags: list[int], seed: int) -> None:
    names = ("pump_current", "source_leaving_temperature", "suction_pressure")
    columns = {
        "pump_current": quiet(seed, 1.16, 0.004),
        "source_leaving_temperature": quiet(seed + 1, 271.0, 0.03),
        "suction_pressure": quiet(seed + 2, 6.1e5, 400.0),
        "load_leaving_temperature": quiet(seed + 3, 308.0, 0.03),
    }
    for name, lag, change in zip(names, lags, (-1.16, -3.0, -8e4), strict=True):
        columns[name][STOP - 70 + lag :] += change
    found = first_movers(T_US, columns, STOP)
    assert {mover.point for mover in found} == set(names)
    told = {mover.point: mover.lag_s for mover in found}
    assert told == {name: float(lag - min(lags)) for name, lag in zip(names, lags, strict=True)}


def test_noise_a_dropout_and_what_came_back_are_no_movers() -> None:
    columns = {
        "suction_temperature": quiet(1, 271.0, 0.3),
        "liquid_temperature": quiet(2, 304.0, 0.03),
        "supply_voltage": quiet(3, 229.0, 0.5),
    }
    columns["liquid_temperature"][STOP - 40 : STOP] = np.nan
    columns["supply_voltage"][STOP - 60 : STOP - 50] -= 40.0
    assert first_movers(T_US, columns, STOP) == []


def test_without_a_quiet_time_before_nothing_is_said() -> None:
    current = quiet(1, 1.16, 0.004)
    current[100:] = 0.0
    assert first_movers(T_US[:150], {"pump_current": current[:150]}, 130) == []
