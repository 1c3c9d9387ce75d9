"""A visit with plain gauges: superheat from three entries, looks and repeats, heat without gauges."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.circumstances import Circumstances, RatedCoil
from analysis.liquids import Liquid
from analysis.saturation import refrigerant
from analysis.typed_channels import Instruments, TypedError, TypedRow, typed_row
from analysis.typed_heat import NOT_READ, Valued, electric_power, heat_statement, hose_mass
from analysis.typed_visit import LiveValue, Look, barometer_effect, looks, work_out

HALL = Circumstances(refrigerant("R410A"), mode="heating")
P_HALL = 94_320.0
BRINE = Liquid("propylene_glycol", mass_fraction=0.25)


def suction(t_s: float, bar: float = 5.2) -> TypedRow:
    return typed_row(t_s, "suction_pressure", f"{bar} bar(g)")


def line(t_s: float, celsius: float = -2.4) -> TypedRow:
    return typed_row(t_s, "suction_temperature", f"{celsius} degC")


def test_three_entries_give_superheat() -> None:
    # Our scenario A, the typed visit: 5.2 bar(g) = -8.0 degC, suction -2.4: superheat 5.6 +- 1.3 K.
    found = work_out([suction(0.0), line(60.0)], 60.0, HALL, barometer_pa=P_HALL)
    gap = found.gap("superheat")
    assert gap is not None
    assert gap.value == pytest.approx(5.6, abs=0.05)
    assert 2.0 * gap.u == pytest.approx(1.3, abs=0.05)
    evaporating = found.gap("evaporating_temperature")
    assert evaporating is not None
    assert evaporating.value - 273.15 == pytest.approx(-8.0, abs=0.05)
    assert found.gap("subcooling") is None
    assert found.missing["subcooling"] == ("liquid_pressure or discharge_pressure", "liquid_temperature")
    assert suction(0.0).channel.source.startswith("assumed: gauge of class 1.0")
    assert "± 1.0 K" in line(0.0).channel.source


def test_stated_instruments_replace_assumed_ones() -> None:
    better = Instruments(gauge_class=0.5, clamp_k=0.5, gauge_stated=True, clamp_stated=True)
    rows = [typed_row(0.0, "suction_pressure", "5.2 bar(g)", better),
            typed_row(0.0, "suction_temperature", "-2.4 degC", better)]  # fmt: skip
    gap = work_out(rows, 0.0, HALL, barometer_pa=P_HALL).gap("superheat")
    assert gap is not None
    assert 2.0 * gap.u == pytest.approx(0.63, abs=0.02)  # 0.08 bar at 4.8 K/bar beside 0.5 K
    assert rows[0].channel.source.startswith("stated")
    for wrong in ({"gauge_class": 0.0}, {"clamp_k": 99.0}):
        with pytest.raises(TypedError):
            Instruments(**wrong)


@pytest.mark.parametrize(
    ("rows", "look"),
    [
        ([suction(0.0)], Look.SINGLE),
        ([suction(0.0), suction(360.0)], Look.REPEATS),  # six minutes apart
        ([suction(0.0), suction(360.0, 5.3)], Look.REPEATS),
        ([suction(0.0), suction(360.0, 5.36)], Look.REPEATS),
        ([suction(0.0), suction(360.0, 5.5)], Look.SINGLE),
        ([suction(0.0), suction(240.0)], Look.SINGLE),
        ([suction(0.0), suction(300.0)], Look.REPEATS),
        ([suction(0.0), suction(1300.0)], Look.SINGLE),  # the first no longer counts as present
        ([suction(0.0), suction(180.0, 6.0), suction(360.0)], Look.SINGLE),  # one between disagrees
        ([suction(0.0), suction(180.0), suction(360.0)], Look.REPEATS),
        ([suction(0.0), line(360.0)], Look.SINGLE),
        ([suction(0.0), typed_row(360.0, "suction_pressure", "75.5 psig")], Look.REPEATS),
        ([suction(0.0), typed_row(360.0, "suction_pressure", "6.15 bar(a)")], Look.SINGLE),
    ],
)
def test_looks(rows: list[TypedRow], look: Look) -> None:
    assert looks(rows)[-1] is look


def test_a_change_of_the_machine_ends_what_repeats() -> None:
    rows = [suction(0.0), suction(360.0)]
    assert looks(rows, changed_s=100.0)[-1] is Look.SINGLE


def test_a_gap_takes_the_weaker_state_and_ages() -> None:
    rows = [suction(0.0), line(30.0), suction(360.0), line(100.0)]
    rows.sort(key=lambda row: row.t_s)
    found = work_out(rows, 361.0, HALL, barometer_pa=P_HALL)
    gap = found.gap("superheat")
    assert gap is not None
    assert (gap.look, gap.words) == (Look.SINGLE, "single look")
    assert gap.judged
    both = [suction(0.0), line(0.0), suction(360.0), line(360.0)]
    repeats = work_out(both, 361.0, HALL, barometer_pa=P_HALL).gap("superheat")
    assert repeats is not None
    assert repeats.words == "repeats"
    old = work_out(both, 360.0 + 1260.0, HALL, barometer_pa=P_HALL).gap("superheat")
    assert old is not None
    assert old.words == "typed 21:00 ago: not judged"
    assert not old.judged


def test_typed_and_live_each_keep_their_own_hold() -> None:
    live = {"suction_temperature": LiveValue(270.75, 0.25, age_s=1.0, hold_s=3.0)}
    found = work_out([suction(0.0)], 600.0, HALL, barometer_pa=P_HALL, live=live)
    gap = found.gap("superheat")
    assert gap is not None
    assert gap.words == "single look, partly live"
    assert gap.value == pytest.approx(5.6, abs=0.05)
    silent = {"suction_temperature": LiveValue(270.75, 0.25, age_s=4.0, hold_s=3.0)}
    assert work_out([suction(0.0)], 600.0, HALL, barometer_pa=P_HALL, live=silent).gap("superheat") is None
    # A silent probe leaves the typed row to stand for its own 20 min; a live one stands before it.
    stands = work_out([suction(0.0), line(0.0)], 600.0, HALL, barometer_pa=P_HALL, live=silent)
    assert stands.present["suction_temperature"].look is Look.SINGLE
    other = {"suction_temperature": LiveValue(275.0, 0.25, 1.0, 3.0)}
    mixed = work_out([suction(0.0), line(0.0)], 600.0, HALL, barometer_pa=P_HALL, live=other)
    assert mixed.present["suction_temperature"].look is Look.LIVE
    assert "another value" in mixed.present["suction_temperature"].disagrees


def test_no_refrigerant_no_superheat() -> None:
    found = work_out([suction(0.0), line(0.0)], 0.0, Circumstances())
    assert found.gap("superheat") is None
    assert "refrigerant" in found.missing["superheat"]


def test_the_halls_whole_typed_visit() -> None:
    # Our scenario A: 24.5 bar(g), liquid 30.7, brine 4.0 / -2.3, 10 kPa: as the logged as-found.
    known = Circumstances(refrigerant("R410A"), BRINE, None, RatedCoil(0.6e-3, 28.8e3), "heating")
    typed = {"suction_pressure": "5.2 bar(g)", "suction_temperature": "-2.4 degC",
             "discharge_pressure": "24.5 bar(g)", "liquid_temperature": "30.7 degC",
             "source_entering_temperature": "4.0 degC", "source_leaving_temperature": "-2.3 degC",
             "source_pressure_drop": "10 kPa"}  # fmt: skip
    rows = [typed_row(60.0 * i, name, text) for i, (name, text) in enumerate(typed.items())]
    found = work_out(rows, 600.0, known, barometer_pa=P_HALL)
    logged = {"superheat": 5.8, "subcooling": 11.5, "source_delta_t": 6.4, "evaporating_approach": 5.8,
              "heat_from_source": 8400.0, "freeze_margin": 1.6}  # fmt: skip
    for symbol, value in logged.items():
        gap = found.gap(symbol)
        assert gap is not None, symbol
        assert abs(gap.value - value) <= 2.0 * gap.u, symbol
        assert gap.words == "single look"


def test_barometer_effect_is_stated() -> None:
    # From sea level to 300 m: 3.5 kPa at 4.8 K/bar.
    rows = [suction(0.0), line(0.0)]
    effect = barometer_effect(work_out(rows, 0.0, HALL), rows, HALL)
    assert effect == pytest.approx(0.17, abs=0.02)


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("suction_pressure", "5.2", "has no unit"),
        ("suction_pressure", "5.2 psi", "write psig or psia"),
        ("suction_pressure", "5.2 degC", "suction pressure: "),
        ("suction_pressure", "-1.4 bar(g)", "outside of"),
        ("suction_pressure", "520 bar(g)", "type it again"),
        ("suction_temperature", "240 degC", "−60 to 200 °C"),
        ("suction_temperature", "warm", "is not a number"),
        ("source_pressure_drop", "-3 kPa", "outside of"),
    ],
)
def test_impossible_entries_are_asked_again(name: str, text: str, words: str) -> None:
    with pytest.raises(TypedError, match=words):
        typed_row(0.0, name, text)


def test_hoses() -> None:
    # A hose of 1.5 m and 5 mm bore holds 29.5 cm3; R410A liquid at 30 degC has 1033 kg/m3 (memory).
    assert 1e3 * hose_mass(refrigerant("R410A"), 303.15) == pytest.approx(29.45e-6 * 1033e3, rel=0.01)


def heat(**changed: object):  # type: ignore[no-untyped-def]
    typed: dict[str, object] = {
        "liquid": BRINE, "flow": Valued(0.6e-3, 0.009e-3), "entering": Valued(277.15, 0.1),
        "leaving": Valued(273.25, 0.1), "power": Valued(2960.0, 90.0), "mode": "heating", "rated": 9300.0,
        "flow_band": (0.55e-3, 0.65e-3),
    }  # fmt: skip
    return heat_statement(**(typed | changed))  # type: ignore[arg-type]


def test_heat_without_gauges() -> None:
    # Our scenario A as left: 9.3 kW from the brine, 2.96 kW taken up, 12.1 kW to the floor.
    found = heat()
    assert found.source_heat.value == pytest.approx(9300.0, abs=100.0)
    assert abs(found.other_heat.value - 12_100.0) < 2.0 * found.other_heat.u
    assert (found.grade, found.worth_hooking_up) == ("enough", False)
    assert "not worth its refrigerant" in found.statement


@pytest.mark.parametrize(
    ("changed", "grade", "worth"),
    [
        ({"flow": Valued(0.33e-3, 0.005e-3), "leaving": Valued(270.75, 0.1)}, "water first", False),
        ({"leaving": Valued(274.85, 0.1)}, "too little", True),
        ({"leaving": Valued(274.85, 0.1), "flow_band": (math.nan, math.nan)}, "too little", None),
        ({"leaving": Valued(271.15, 0.1)}, "too much", False),
        ({"leaving": Valued(273.8, 0.5), "entering": Valued(277.15, 0.5)}, "cannot say", None),
        ({"leaving": Valued(277.1, 0.2)}, "cannot say", None),
        ({"rated": math.nan}, "cannot say", None),
        ({"flow": NOT_READ}, "cannot say", None),
        ({"mode": ""}, "cannot say", None),
        ({"liquid": None}, "cannot say", None),
        ({"power": NOT_READ}, "enough", False),
    ],
)
def test_grades(changed: dict[str, object], grade: str, worth: bool | None) -> None:
    found = heat(**changed)
    assert (found.grade, found.worth_hooking_up) == (grade, worth), found.statement
    if "flow" in changed and grade == "cannot say":
        assert found.missing == ("source flow",)


def test_volts_times_amps() -> None:
    power = electric_power(Valued(230.0, 1.0), Valued(14.3, 0.15))
    assert power.value == pytest.approx(2960.0, rel=0.01)
    # The assumed power factor, 0.90 +- 0.10, rules: 11 %.
    assert 2.0 * power.u / power.value == pytest.approx(0.114, abs=0.01)
    assert electric_power(Valued(230.0, 1.0), Valued(14.3, 0.15), Valued(0.9, 0.01)).u < power.u / 3.0


entries = st.tuples(st.floats(0.0, 3000.0), st.floats(3.0, 9.0), st.booleans())


@settings(derandomize=True, deadline=None, max_examples=100)
@given(st.lists(entries, min_size=1, max_size=12))
def test_rows_that_repeat_always_have_a_partner(typed: list[tuple[float, float, bool]]) -> None:
    rows = [suction(t, round(p, 2)) if first else line(t, round(p, 2)) for t, p, first in sorted(typed)]
    for row, look in zip(rows, looks(rows), strict=True):
        partners = [
            other
            for other in rows
            if other.point == row.point
            and 300.0 <= row.t_s - other.t_s <= 1200.0
            and abs(other.value - row.value) <= (0.16 if row.point == "suction_pressure" else 1.0) + 1e-6
        ]
        assert look is Look.SINGLE or partners
