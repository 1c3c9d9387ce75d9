"""Coils, flows and balances against published examples and measured series."""

from __future__ import annotations

import csv
import gzip
import os
import pathlib

import numpy as np
import pytest

from analysis import coil
from analysis.flow_routes import flow_from_timed_container
from analysis.heat_balance import closure
from analysis.liquids import Liquid
from analysis.pressure_drop import PressureDropTable, RatedPoint
from analysis.pressure_drop_law import drop_correction

PSI = 6894.757293168361
GPM = 6.30901964e-5
GALLON = 3.785411784e-3
WATER = Liquid("water")


def kelvin(degf):
    return (np.asarray(degf) + 459.67) * 5 / 9


def test_worked_coil_by_both_routes():
    # Fundamentals of Heat and Mass Transfer, chapter 11, on one example: EWT 70, LWT 80.6, condensing
    # 98 degF, 9 gpm at 500 Btu/h per gpm and degF. LMTD 22.281, effectiveness 0.3786, NTU 0.4757,
    # UA 2140.8 Btu/(h degF).
    entering, leaving, condensing = (float(kelvin(t)) for t in (70.0, 80.6, 98.0))
    mean = coil.coil_lmtd(entering, leaving, condensing)
    assert mean * 9 / 5 == pytest.approx(22.281, abs=0.0005)
    effect = coil.effectiveness(entering, leaving, condensing)
    assert effect == pytest.approx(0.3786, abs=5e-5)
    ntu = coil.ntu_from_effectiveness(effect)
    assert ntu == pytest.approx(0.4757, abs=5e-5)
    capacity_rate = 500.0 * 9
    heat = capacity_rate * 10.6
    assert heat == pytest.approx(47700)
    assert coil.ua_from_lmtd(heat, mean * 9 / 5) == pytest.approx(2140.8, abs=0.05)
    assert ntu * capacity_rate == pytest.approx(2140.8, abs=0.05)
    # With the water's own factor at 75.3 degF, 498.8, UA comes out 0.24 % lower than with 500.
    ours = coil.ua_from_ntu(WATER, 9 * GPM, entering, leaving, condensing)
    assert ours / 0.29307107 * 5 / 9 == pytest.approx(2140.8 * 498.8 / 500, rel=1e-4)


def test_what_fouling_costs():
    # The same coil with 12 ft2: R_f in h ft2 degF/Btu, change of UA, rise of condensing temperature. The
    # allowances themselves are those of federal guide specifications (0.0001 to 0.0005) and TEMA.
    for resistance, change, rise in (
        (1e-4, -0.018, 0.4), (2.5e-4, -0.043, 1.0), (5e-4, -0.082, 2.0), (1e-3, -0.15, 3.9),
        (2e-3, -0.26, 7.8), (3e-3, -0.35, 11.8),
    ):  # fmt: skip
        ua = 1 / (1 / 2140.8 + resistance / 12)
        assert coil.fouling_resistance(ua, 2140.8, 12.0) == pytest.approx(resistance)
        assert ua / 2140.8 - 1 == pytest.approx(change, abs=0.0055)
        hotter = coil.saturation_temperature(ua, 4500.0, float(kelvin(70)) * 9 / 5, 47700.0) - 459.67
        assert hotter - 98.0 == pytest.approx(rise, abs=0.06)


def test_lmtd_and_effectiveness_against_ht():
    # The independent library ht.
    ht = pytest.importorskip("ht", reason="the heat-exchanger library ht is not installed")
    for a, b in ((28.0, 17.4), (5.0, 5.001), (30.0, 0.5), (2.0, 40.0)):
        hot = 400.0
        assert coil.lmtd(a, b) == pytest.approx(ht.LMTD(hot, hot, hot - a, hot - b), rel=1e-9)
    for ntu in (0.05, 0.4757, 1.0, 3.0):
        effect = ht.effectiveness_from_NTU(ntu, 0, subtype="boiler")
        assert coil.effectiveness_from_ntu(ntu) == pytest.approx(effect, rel=1e-12)
        assert coil.ntu_from_effectiveness(effect) == pytest.approx(ntu, rel=1e-9)


#: A maker's quick-start manual, coil pressure-drop table of a size 036: psi by gpm and degF.
SIZE_036 = PressureDropTable(
    flows=(4.5 * GPM, 9.0 * GPM),
    temperatures=tuple(float(kelvin(t)) for t in (30, 50, 70, 90)),
    drops=tuple((low * PSI, high * PSI) for low, high in ((1.6, 5.4), (1.4, 4.4), (1.2, 3.8), (1.0, 3.4))),
)


def test_exponents_of_a_table():
    # Between its two flows: 1.75 at 30 degF, 1.66 at 70 degF; not 2.
    assert SIZE_036.exponents[:, 0] == pytest.approx([1.755, 1.652, 1.663, 1.766], abs=0.001)
    assert SIZE_036.doubts() == ()


def test_table_gives_its_own_figures_back():
    for t, row in zip(SIZE_036.temperatures, SIZE_036.drops, strict=True):
        for q_v, drop in zip(SIZE_036.flows, row, strict=True):
            assert SIZE_036.flow(drop, t, u_drop=100.0).q_v == pytest.approx(q_v, rel=1e-9)
            assert SIZE_036.drop(q_v, t) == pytest.approx(drop, rel=1e-9)


def test_ignoring_temperature_looks_like_scale():
    # 9 gpm reads 5.4 psi at 30 degF and 3.4 at 90: 59 % more. The table knows; the law of viscosity alone
    # would explain 20 % from 34 to 90 degF: maker's tables move more than the law, so the table goes first.
    cold, warm = (SIZE_036.drop(9 * GPM, float(kelvin(t))) for t in (30, 90))
    assert cold / warm == pytest.approx(1.59, abs=0.005)
    law = drop_correction(WATER, float(kelvin(34)), WATER, float(kelvin(90)))
    assert 1.15 < law < 1.25


def test_one_rated_point():
    # 9 gpm at 3.2 psi: 2 psi is 6.9 gpm (n = 2: 7.1; n = 1.75: 6.9), 1 psi 4.7 (5.0; 4.6).
    for exponent, at_two, at_one in ((1.8, 6.9, 4.7), (2.0, 7.1, 5.0), (1.75, 6.9, 4.6)):
        rated = RatedPoint(9 * GPM, 3.2 * PSI, 288.7, exponent=exponent)
        flows = rated.flow(np.array([2.0, 1.0]) * PSI, 288.7, u_drop=0.05 * PSI).q_v / GPM
        assert flows == pytest.approx([at_two, at_one], abs=0.06)


def test_two_gauges_are_useless_and_it_says_so():
    # Two 100 psi gauges of 1 % each on a drop of 3.2 psi: sqrt(2) / 3.2 / 1.8 = 25 %.
    rated = RatedPoint(9 * GPM, 3.2 * PSI, 288.7)
    flow = rated.flow(3.2 * PSI, 288.7, u_drop=2**0.5 * PSI)
    assert flow.u / flow.q_v == pytest.approx(0.25, abs=0.005)
    assert any("25 % only" in note and "one gauge" in note for note in flow.notes)


def test_antifreeze_raises_the_drop():
    # 20 % propylene glycol at 50 degF: viscosity 2.2 times water, drop 17 to 19 % more.
    loop = Liquid("propylene_glycol", mass_fraction=0.20)
    assert loop.viscosity(283.15) / WATER.viscosity(283.15) == pytest.approx(2.2, abs=0.01)
    assert 1.17 < drop_correction(loop, 283.15, WATER, 283.15) < 1.19


def test_timed_container():
    # 5 gal in 38 s are 7.89 gpm; +-1 s and +-0.1 gal are 3.3 %.
    flow = flow_from_timed_container([5 * GALLON], [38.0], u_volume=0.1 * GALLON, u_time=1.0)
    assert flow.q_v / GPM == pytest.approx(7.89, abs=0.005)
    assert flow.u / flow.q_v == pytest.approx(0.033, abs=0.0005)


def test_closure_of_the_chiller_log():
    # ASHRAE RP-1043 without fault: (condenser - evaporator - power) / condenser has a median of -5.6 %, 5 to
    # 95 % -12.6 to -1.0 %; the log's own column "Heat Balance%" carries the other sign.
    lab = os.environ.get("EVENRUN_LAB_DATA")
    if not lab:
        pytest.skip("EVENRUN_LAB_DATA does not name the folder of measured series")
    with gzip.open(pathlib.Path(lab) / "rp1043_normal.csv.gz", "rt") as file:
        rows = [row for row in csv.DictReader(file) if float(row["kW"]) > 5 and float(row["Cond Tons"]) > 5]
    condenser, evaporator, kilowatts, own = (
        np.array([float(row[name]) for row in rows])
        for name in ("Cond Tons", "Evap Tons", "kW", "Heat Balance%")
    )
    ours = 100 * closure(condenser * 3516.85, evaporator * 3516.85, kilowatts * 1e3)
    assert np.nanmedian(ours) == pytest.approx(-5.6, abs=0.2)
    assert np.nanpercentile(ours, [5, 95]) == pytest.approx([-12.6, -1.0], abs=0.4)
    assert np.nanmedian(ours + own) == pytest.approx(0.0, abs=0.1)
