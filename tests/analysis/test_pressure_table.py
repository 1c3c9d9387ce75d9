"""Pressure-temperature tables: read, interpolated, refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.pressure_table import PressureTableError, pressure_table
from analysis.saturation import SaturationCurve, refrigerant

PSI = 6894.757293168361
ATMOSPHERE = 101_325.0
STEADY = settings(derandomize=True, deadline=None, max_examples=150)


def text_of(name, step=5.0, digits=1, *, low=-40.0, high=140.0, separator=",", unit="psig"):
    """Print a table as a maker would, from our own curves."""
    curve = refrigerant(name)
    lines = [separator.join(("temperature [degF]", f"dew_pressure [{unit}]", f"bubble_pressure [{unit}]"))]
    base = ATMOSPHERE if unit == "psig" else 0.0
    for degf in np.arange(low, high + 0.1, step):
        t = (degf + 459.67) / 1.8
        figures = [(p - base) / PSI for p in (curve.p_dew(t), curve.p_bubble(t))]
        lines.append(separator.join([f"{degf:.0f}", *(f"{figure:.{digits}f}" for figure in figures)]))
    return "\n".join(lines)


def read(text, **more):
    return pressure_table(text, name="blend", source="the maker's leaflet", **more)


def edited(text, line, replacement):
    lines = text.splitlines()
    lines[line - 1] = replacement
    return "\n".join(lines)


@pytest.mark.parametrize("name", ["R407C", "R448A", "R22", "R410A"])
def test_a_printed_table_gives_back_the_curve(name):
    """Within what rounding to 0.1 psi and straight pieces between rows 5 degF apart can do."""
    table, curve = read(text_of(name)), refrigerant(name)
    p = np.geomspace(table.p_min, table.p_max, 500)[1:-1]
    rounding = 0.06 * PSI * curve.dtdp_dew(p) + 0.02
    assert (np.abs(table.t_dew(p) - curve.t_dew(p)) <= rounding).all()
    assert (np.abs(table.t_bubble(p) - curve.t_bubble(p)) <= rounding).all()
    np.testing.assert_allclose(table.p_dew(table.t_dew(p)), p, rtol=1e-9)
    np.testing.assert_allclose(table.p_bubble(table.t_bubble(p)), p, rtol=1e-9)
    t = table.t_dew(p)
    assert (np.diff(t) > 0).all()


def test_it_serves_wherever_a_refrigerant_does():
    def superheat(curve: SaturationCurve) -> float:
        return 285.0 - curve.t_dew(6e5)

    table = read(text_of("R407C"), safety_class="A1")
    assert superheat(table) == pytest.approx(superheat(refrigerant("R407C")), abs=0.1)
    assert table.glide(6e5) == pytest.approx(refrigerant("R407C").glide(6e5), abs=0.2)
    assert math.isnan(table.rho_dew(6e5))
    assert np.isnan(table.h_bubble(np.full(3, 6e5))).all()
    assert table.safety_class == "A1"
    assert not table.single


def test_slope_is_that_of_its_own_curve():
    table = read(text_of("R407C"))
    p = 6.05e5
    assert table.dtdp_dew(p) == pytest.approx((table.t_dew(p + 10) - table.t_dew(p - 10)) / 20, rel=1e-4)


def test_layouts_units_separators_and_order():
    plain = read(text_of("R22", unit="psia"))
    gauge = read(text_of("R22", digits=3))
    assert gauge.t_dew(5e5) == pytest.approx(plain.t_dew(5e5), abs=0.05)
    semicolon = text_of("R22", separator=";").replace(".", ",")
    assert read("\ufeff# from the leaflet\n\n" + semicolon).t_dew(5e5) == read(text_of("R22")).t_dew(5e5)
    backwards = text_of("R22").splitlines()
    assert read("\n".join([backwards[0], *backwards[:0:-1]])).t_dew(5e5) == read(text_of("R22")).t_dew(5e5)
    curve = refrigerant("R407C")
    rows = [
        f"{p};{curve.t_dew(p * 1e5) - 273.15:.2f};{curve.t_bubble(p * 1e5) - 273.15:.2f}"
        for p in range(2, 30)
    ]
    other = read("\n".join(["pressure [bar(a)];dew temperature [°C];bubble temperature [°C]", *rows]))
    assert other.t_bubble(8e5) == pytest.approx(curve.t_bubble(8e5), abs=0.01)
    single = read(
        "\n".join(["pressure [bar(a)];temperature [°C]", *(row.rpartition(";")[0] for row in rows)])
    )
    assert single.single
    assert single.glide(8e5) == 0.0


def test_gauge_pressures_stand_above_the_stated_atmosphere():
    sea, hill = read(text_of("R22")), read(text_of("R22"), atmosphere=84_300.0)
    assert hill.t_dew(5e5 - ATMOSPHERE + 84_300.0) == pytest.approx(sea.t_dew(5e5), abs=0.02)


GOOD = text_of("R407C", 10.0)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "empty"),
        ("# only a remark\n\n", "empty"),
        (GOOD.replace(" [degF]", ""), "Line 1: .*no unit"),
        (GOOD.replace("psig", "psi"), "Line 1: .*gauge or absolute"),
        (GOOD.replace("degF", "furlong"), "Line 1, column temperature"),
        (GOOD.replace("dew_pressure", "dew"), "Line 1"),
        (GOOD.replace("bubble_pressure", "dew_pressure"), "Line 1: the columns must be"),
        ("\n".join(GOOD.splitlines()[:4]), "Only 3 rows"),
        (edited(GOOD, 5, "-10,12.1"), "Line 5: 2 figures"),
        (edited(GOOD, 5, "-10,n/a,24"), "Line 5: .*no number"),
        (edited(GOOD, 5, "-10,nan,24"), "Line 5: "),
        (edited(GOOD, 5, "-10,-15,24"), "Line 5: .*below absolute zero"),
        (edited(GOOD, 5, '-10,"12,24'), "Line 5"),
        (edited(GOOD, 5, GOOD.splitlines()[3]), "Line 5: dew .*rise together"),
        (edited(GOOD, 9, "30,53.0,66.3"), "Line 9: dew figures lie .* K off"),
        (
            GOOD.replace("dew_", "x_").replace("bubble_", "dew_").replace("x_", "bubble_"),
            "Line 2: dew and bubble",
        ),
        (text_of("R407C", 10.0, low=-10.0).replace("psig", "psia"), "gauge or absolute"),
        (text_of("R407C", 10.0, unit="psia").replace("psia", "psig"), "gauge or absolute"),
    ],
)
def test_what_cannot_be_believed_is_refused_in_one_sentence(text, says):
    with pytest.raises(PressureTableError, match=says) as refusal:
        read(text)
    assert "\n" not in str(refusal.value)


@STEADY
@given(st.one_of(st.text(), st.text(alphabet='0123456789.,;-\n temprau[]dgFpsi_\t"'), st.just(GOOD)))
def test_any_text_is_read_or_refused(text):
    try:
        table = read(text)
    except PressureTableError:
        return
    assert math.isfinite(table.t_dew(table.p_min))


@STEADY
@given(st.floats())
def test_finite_only_in_range(x):
    table = read(GOOD)
    for call, low, high in (
        (table.t_dew, table.p_min, table.p_max),
        (table.p_bubble, table.t_bubble(table.p_min), table.t_bubble(table.p_max)),
    ):
        alone, together = call(x), call(np.array([x, x]))
        assert together.tobytes() == np.array([alone, alone]).tobytes() or math.isnan(alone)
        assert not math.isinf(alone)
        if low <= x <= high:
            assert math.isfinite(alone)
        if not math.isfinite(x):
            assert math.isnan(alone)
