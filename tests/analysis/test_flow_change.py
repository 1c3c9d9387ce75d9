"""A change of flow is seen once, whatever the cutting; noise, drift and dropouts are none."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from analysis.flow_change import FLOWS, REACH, FlowWatch
from analysis.verdict import Judge, State

Floats = NDArray[np.float64]


def changes(values: Floats, name: str = "source_flow", channel: str = "meter/q") -> list[int]:
    return np.flatnonzero(FlowWatch().extend({name: (channel, values)}, values.size)).tolist()


def flow(*levels: tuple[float, int], noise: float = 0.0, seed: int = 0) -> Floats:
    held = np.concatenate([np.full(rows, level) for level, rows in levels])
    return held * (1.0 + noise * np.random.default_rng(seed).standard_normal(held.size))


@pytest.mark.parametrize(("to", "seen"), [(7.2e-4, True), (4.8e-4, True), (6.3e-4, False), (0.0, True)])
def test_a_fifth_is_a_change_and_a_twentieth_is_none(to: float, seen: bool) -> None:
    found = changes(flow((6e-4, 200), (to, 200), noise=0.005))
    assert bool(found) is seen
    if seen:
        assert len(found) == 1
        assert 200 <= found[0] < 212


def test_the_pump_that_starts_and_stops_is_a_change() -> None:
    assert len(changes(flow((0.0, 200), (6e-4, 300), (0.0, 300)))) == 2


@pytest.mark.parametrize("noise", [0.01, 0.05, 0.2])
def test_noise_is_no_change(noise: float) -> None:
    assert changes(flow((6e-4, 20_000), noise=noise, seed=3)) == []


def test_a_slow_clogging_is_a_drift_and_no_change() -> None:
    assert changes(6e-4 * np.linspace(1.0, 0.5, 1800)) == []


def test_nothing_is_said_across_a_dropout() -> None:
    before, after = flow((6e-4, 200)), flow((3e-4, 200))
    assert changes(np.concatenate([before, np.full(5, np.nan), after])) == []
    assert changes(np.concatenate([after[:10], before])) == []  # too little was known


def test_another_channel_begins_without_a_past() -> None:
    watch = FlowWatch()
    watch.extend({"source_flow": ("one/q", flow((6e-4, 200)))}, 200)
    assert not watch.extend({"source_flow": ("other/q", flow((3e-4, 200)))}, 200).any()


def test_a_pressure_drop_follows_the_flow_by_its_power() -> None:
    tenth = 28_800.0 * 1.12**1.8
    assert len(changes(flow((28_800.0, 200), (tenth, 200)), "source_pressure_drop")) == 1
    assert changes(flow((28_800.0, 200), (28_800.0 * 1.08**1.8, 200)), "source_pressure_drop") == []


anything = st.one_of(
    st.floats(0.0, 2e-3), st.sampled_from([0.0, 6e-4, 3e-4, np.nan, np.inf, -np.inf, 1e300, -1e-3])
)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(anything, st.integers(1, 120)), min_size=1, max_size=6),
    st.lists(st.integers(1, 200), max_size=8),
    st.sampled_from(list(FLOWS)),
)
def test_any_cutting_finds_the_same(parts: list[tuple[float, int]], cuts: list[int], name: str) -> None:
    values = np.concatenate([np.full(rows, level) for level, rows in parts])
    whole = FlowWatch().extend({name: ("a/q", values)}, values.size)
    watch, found, begin = FlowWatch(), [], 0
    for rows in [*cuts, values.size]:
        chunk = values[begin : begin + rows]
        found.append(watch.extend({name: ("a/q", chunk)}, chunk.size))
        begin += rows
    assert np.concatenate(found).tolist() == whole.tolist()
    assert not whole[: REACH - 1].any()


def test_the_machine_settles_anew_although_nothing_else_moves() -> None:
    n = 2400
    still = {"suction_temperature": np.full(n, 280.0)}
    fresh = {"suction_temperature": np.ones(n, bool)}
    rests = {"suction_temperature": ("suction_temperature",)}

    def judged(values: Floats) -> list[int]:
        flows = {"source_flow": ("meter/q", values)}
        judgement = Judge().extend(0, still, fresh, rests, np.ones(n, bool), frozenset(), False, flows=flows)
        return judgement.overall.state.tolist()

    same, other = judged(flow((6e-4, n))), judged(flow((6e-4, 1200), (4e-4, 1200)))
    assert set(same[1000:]) == {int(State.STEADY)}
    assert other[1190] == int(State.STEADY)
    assert set(other[1205:1800]) == {int(State.SETTLING)}
    assert set(other[1203 + 720 + 1 :]) == {int(State.STEADY)}
