"""The sheet of expected values: the same limits as the verdict's, and nothing beyond a table's end."""

from __future__ import annotations

import dataclasses
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.expected import Asked, Expected, expected_values
from analysis.finding_levels import level_of, unlike
from analysis.finding_values import with_values
from analysis.saturation import refrigerant
from analysis.stated_performance import stated_at
from analysis.unit_card import Performance
from tests.analysis.hall import phase, read_card

HALL = read_card()
T4, FLOOR, FLOW = 277.15, 303.15, 0.60e-3


def sheet(entering: float = T4, **changed: float) -> dict[str, Expected]:
    asked = dataclasses.replace(Asked("heating", entering, FLOOR, barometer_pa=94_320.0), **changed)
    return {line.symbol: line for line in expected_values(HALL, asked)}


def test_the_hall_at_four_degrees_is_what_the_healthy_hall_shows() -> None:
    lines = sheet()
    healthy = with_values(phase("as-left"), HALL)
    for symbol in ("source_volume_flow", "source_change", "source_leaving_temperature", "superheat",
                   "subcooling", "evaporating_temperature", "condensing_temperature", "load_change",
                   "load_flow", "source_pressure_drop"):  # fmt: skip
        seen, line = healthy.values[symbol], lines[symbol]
        assert line.low <= seen.value <= line.high, symbol
    for symbol in ("suction_pressure", "discharge_pressure"):
        assert lines[symbol].low <= healthy.values[symbol].value - 94_320.0 <= lines[symbol].high
    for symbol in ("heat_moved", "heat_to_load", "compressor_power", "cop"):
        seen, line = healthy.values[symbol], lines[symbol]
        assert abs(seen.value - line.value) <= 2.0 * math.hypot(line.u, seen.u), symbol


def test_the_hall_as_found_lies_outside_where_it_was_ill() -> None:
    ill, lines = with_values(phase("as-found"), HALL), sheet()
    for symbol in ("source_volume_flow", "source_change", "source_pressure_drop", "subcooling"):
        assert not lines[symbol].low <= ill.values[symbol].value <= lines[symbol].high, symbol


def test_figures_of_the_table_are_read_between_its_columns() -> None:
    stated, reason = stated_at(HALL, "heating", 275.15, load_entering=FLOOR, flow=FLOW)
    assert stated is not None
    assert reason == ""
    assert (stated.capacity, stated.power) == pytest.approx((11_550.0, 2_930.0))
    assert stated.moved("heating") == pytest.approx(11_550.0 - 0.95 * 2_930.0)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"source_entering": 283.15}, "source water in 10.0 °C, the table is for 0.0 °C to 8.0 °C"),
        ({"load_entering": 313.15}, "load water in 40.0 °C, the table is for 30.0 °C"),
        ({"flow": 0.30e-3}, "source flow 0.30 L/s, the table is for 0.60 L/s"),
    ],
)
def test_nothing_is_read_beyond_the_table(changed: dict[str, float], words: str) -> None:
    lines = sheet(**changed)
    for symbol in ("heat_moved", "heat_to_load", "compressor_power", "cop"):
        assert not lines[symbol].known
        assert words in lines[symbol].note
    assert lines["superheat"].known  # a band is no table


def test_between_tables_of_two_flows_and_loads() -> None:
    one = HALL.performance[0]
    more = [
        dataclasses.replace(one, flow=flow, load_entering=load, capacity=tuple(k * x for x in one.capacity))
        for flow, load, k in ((0.4e-3, 303.15, 0.9), (0.6e-3, 313.15, 0.8), (0.4e-3, 313.15, 0.7))
    ]
    card = dataclasses.replace(HALL, performance=(one, *more))
    stated, _ = stated_at(card, "heating", T4, load_entering=308.15, flow=0.5e-3)
    assert stated is not None
    assert stated.capacity == pytest.approx(12_200.0 * 0.85)
    assert stated_at(card, "heating", T4, flow=FLOW)[1].endswith("give --load-ewt")
    assert stated_at(card, "heating", T4, load_entering=FLOOR)[1].endswith("give --flow")


def test_a_table_with_one_column_serves_there_alone() -> None:
    single = Performance("heating", FLOW, FLOOR, (T4,), (12_200.0,), (2_960.0,), (), "unit table")
    card = dataclasses.replace(HALL, performance=(single,))
    assert stated_at(card, "heating", T4, load_entering=FLOOR)[0] is not None
    assert stated_at(card, "heating", T4 + 1.0, load_entering=FLOOR)[0] is None


@settings(derandomize=True, deadline=None, max_examples=40)
@given(st.floats(264.5, 300.0), st.floats(280.0, 325.0), st.floats(1e-4, 2e-3))
def test_every_line_says_something_or_why_not_and_never_a_crossed_range(
    entering: float, load: float, flow: float
) -> None:
    for mode in ("heating", "cooling"):
        for line in expected_values(HALL, Asked(mode, entering, load, flow)):
            assert line.source if line.known else line.note, line
            assert not line.low > line.high, line
            assert not math.isinf(line.value)
            assert not math.isinf(line.low)
            assert math.isfinite(line.u) or not math.isfinite(line.value) or "cut_out" in line.symbol


def test_a_band_is_the_one_that_findings_use() -> None:
    visit = phase("as-left")
    for symbol, line in sheet().items():
        level = level_of(symbol, visit, HALL, None) if symbol in ("superheat", "pump_current") else None
        if level is not None:
            assert (line.low, line.high, line.source) == (level.low, level.high, level.source)


def test_a_healthy_reference_goes_before_the_card_where_it_was_taken_alike() -> None:
    healthy = with_values(phase("as-left"), HALL)
    asked = Asked("heating", T4 + 1.0, FLOOR)
    line = next(x for x in expected_values(HALL, asked, healthy) if x.symbol == "superheat")
    own = healthy.values["superheat"].value
    assert line.source == "reference: this machine's own value"
    assert (line.low, line.high) == pytest.approx((own - 1.2, own + 1.2))
    warm = Asked("heating", T4 + 4.0, FLOOR)
    line = next(x for x in expected_values(HALL, warm, healthy) if x.symbol == "superheat")
    assert line.source == "card: commissioning sheet"


def test_why_a_reference_does_not_serve() -> None:
    visit, warm = phase("as-left"), phase("as-left", source_entering_temperature="9 degC")
    assert unlike(visit, visit) == ()
    assert unlike(visit, warm) == ("its source water in differs by more than 3 K (5.4 °F)",)
    assert unlike(visit, dataclasses.replace(visit, steady=False)) == ("it had not settled",)


def test_a_machine_without_a_pressure_table_has_no_pressures() -> None:
    card = dataclasses.replace(HALL, refrigerant="R438A")
    lines = {line.symbol: line for line in expected_values(card, Asked("heating", T4, FLOOR))}
    assert not lines["suction_pressure"].known
    assert "no pressure table for R438A" in lines["suction_pressure"].note
    assert lines["evaporating_temperature"].known


def test_pressures_are_those_of_the_saturation_line() -> None:
    lines = sheet()
    dew = float(refrigerant("R410A").p_dew(lines["evaporating_temperature"].low))
    assert lines["suction_pressure"].low == pytest.approx(dew - 94_320.0)


def test_a_cut_out_below_freezing_is_shouted() -> None:
    assert HALL.cut_out is not None
    card = dataclasses.replace(HALL, cut_out=dataclasses.replace(HALL.cut_out, setting=260.0))
    lines = {line.symbol: line for line in expected_values(card, Asked("heating", T4, FLOOR))}
    assert "BELOW FREEZING" in lines["low_temperature_cut_out"].note
