"""The scale of a lane in the trends: round figures, never one alone."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from analysis.measure import Quantity
from logger.desktop.lanes import Range
from logger.desktop.present import Present


@given(
    low=st.floats(-80.0, 400.0),
    span=st.floats(1e-3, 1e3),
    count=st.integers(1, 8),
)
def test_a_scale_has_at_least_two_figures_and_all_lie_within(low: float, span: float, count: int) -> None:
    scale = Range(low, low + span)
    found = scale.figures(Quantity.TEMPERATURE_DIFFERENCE, Present(), count)
    assert len(found) >= 2
    assert all(scale.low - 1e-6 * span <= value <= scale.high + 1e-6 * span for value, _ in found)
    assert len({text for _, text in found}) == len(found)
