"""The water side against printed examples and a measured series."""

from __future__ import annotations

import csv
import gzip
import os
import pathlib

import numpy as np
import pytest

from analysis import water
from analysis.liquids import Liquid

GPM = 6.30901964e-5
BTU_PER_H = 0.29307107
WATER = Liquid("water")


def kelvin(degf):
    return (degf + 459.67) * 5 / 9


def test_manual_example_of_extracted_heat():
    # An enthalpy-of-extraction example printed in a maker's manual: EWT 50 degF, 6 gpm, 36 700 Btu/h with the
    # factor 500: 12.23 degF drop, LWT 37.77 degF.
    drop = 36700 / (water.TRADE_FACTOR_WATER * 6)
    assert (round(drop, 2), round(50 - drop, 2)) == (12.23, 37.77)
    heat = water.heat_from_trade_factor(500.0, 6 * GPM, kelvin(50), kelvin(50 - drop))
    assert heat / BTU_PER_H == pytest.approx(36700, rel=1e-6)
    # With the factor of water at that temperature, 502.3, the leaving water is 0.06 degF warmer.
    t = water.leaving_temperature(WATER, 6 * GPM, kelvin(50), 36700 * BTU_PER_H)
    assert t * 9 / 5 - 459.67 == pytest.approx(37.83, abs=0.01)


def test_chiller_log_factor():
    # ASHRAE RP-1043 no-fault log: tons, gpm and water temperatures; its own factor is 500.0 exactly.
    lab = os.environ.get("EVENRUN_LAB_DATA")
    if not lab:
        pytest.skip("EVENRUN_LAB_DATA does not name the folder of measured series")
    path = pathlib.Path(lab) / "rp1043_normal.csv.gz"
    with gzip.open(path, "rt") as file:
        rows = [row for row in csv.DictReader(file) if float(row["FWC"]) > 50 and float(row["kW"]) > 5]
    for name, flow, entering, leaving in (
        ("Cond Tons", "FWC", "TCI", "TCO"),
        ("Evap Tons", "FWE", "TEO", "TEI"),
    ):
        tons, gpm, cold, warm = (
            np.array([float(r[k]) for r in rows]) for k in (name, flow, entering, leaving)
        )
        change = warm - cold
        clear = np.abs(change) > 4
        factor = tons[clear] * 12000 / (gpm[clear] * change[clear])
        assert np.median(factor) == pytest.approx(500.0, abs=0.1)
        heat = water.heat_from_trade_factor(500.0, gpm[clear] * GPM, kelvin(cold[clear]), kelvin(warm[clear]))
        assert np.median(-heat / BTU_PER_H / 12000 / tons[clear]) == pytest.approx(1.0, abs=2e-4)


def test_trade_factors_beside_the_computed_one():
    # 500 on 30 % propylene glycol over-reports by 6 %, 485 on water under-reports by 3 %.
    over = water.TRADE_FACTOR_WATER / water.heat_factor(
        Liquid("propylene_glycol", mass_fraction=0.30), 283.15
    )
    under = water.TRADE_FACTOR_ANTIFREEZE / water.heat_factor(WATER, 289.0)
    assert (over, under) == (pytest.approx(1.062, abs=0.002), pytest.approx(0.969, abs=0.002))


def test_a_fixed_485_is_wrong_for_glycol():
    # A maker's manual gives 500 for water and 485 for antifreeze. At 10 degC: water 501.6; 25 % propylene
    # glycol 476.7, so that 485 is 2 % wrong; 15 % methanol 486.5.
    assert water.heat_factor(WATER, 283.15) == pytest.approx(501.6, abs=0.05)
    glycol = water.heat_factor(Liquid("propylene_glycol", mass_fraction=0.25), 283.15)
    assert water.TRADE_FACTOR_ANTIFREEZE / glycol == pytest.approx(1.02, abs=0.005)
    methanol = water.heat_factor(Liquid("methanol", mass_fraction=0.15), 283.15)
    assert methanol == pytest.approx(487, abs=1.0)
