"""Enthalpy of gas and liquid from the shipped tables, against the property library itself."""

from __future__ import annotations

import importlib
import math
import sys
from pathlib import Path

import numpy as np
import pytest

from analysis.phase_enthalpy import PhaseEnthalpy
from analysis.refrigerants import table_module
from analysis.saturation import names, refrigerant
from analysis.states import SinglePhase
from tests import generate_phase_tables

COMMON = ("R410A", "R290", "R717", "R454B", "R744")


@pytest.mark.parametrize("name", COMMON)
def test_the_tables_are_the_library_s_within_the_stated_error(name: str) -> None:
    fluid = refrigerant(name)
    table, states = PhaseEnthalpy(fluid), SinglePhase(fluid)
    p = np.exp(np.linspace(math.log(fluid.p_min * 1.01), math.log(table.p_max * 0.99), 7))[:, None]
    for away, side, error in ((np.array([0.5, 6.0, 37.0, 95.0]), "gas", table.gas_error),
                              (np.array([0.5, 6.0, 21.0]), "liquid", table.liquid_error)):  # fmt: skip
        t = (fluid.t_dew(p) + away) if side == "gas" else (fluid.t_bubble(p) - away)
        ours = np.asarray(getattr(table, side)(*np.broadcast_arrays(p, t)))
        theirs = np.asarray(getattr(states, side)("enthalpy", p, t))
        both = np.isfinite(ours) & np.isfinite(theirs)
        assert both.sum() > 10
        assert np.abs(ours - theirs)[both].max() <= 1.05 * error


@pytest.mark.parametrize("name", names())
def test_every_refrigerant_has_a_table_and_it_is_good_enough_to_draw(name: str) -> None:
    fluid = refrigerant(name)
    table = PhaseEnthalpy(fluid)
    assert max(table.gas_error, table.liquid_error) < 1300.0  # J/kg; the dome is some 150 kJ/kg wide or more
    p = math.sqrt(fluid.p_min * table.p_max)
    assert table.gas(p, float(fluid.t_dew(p))) == pytest.approx(fluid.h_dew(p), abs=table.gas_error + 1.0)
    assert table.liquid(p, float(fluid.t_bubble(p))) == pytest.approx(
        fluid.h_bubble(p), abs=table.liquid_error + 1.0
    )


def test_what_is_no_gas_or_no_liquid_has_no_enthalpy() -> None:
    fluid = refrigerant("R410A")
    table = PhaseEnthalpy(fluid)
    dew, bubble = float(fluid.t_dew(6e5)), float(fluid.t_bubble(6e5))
    assert math.isnan(table.gas(6e5, dew - 0.1))
    assert math.isnan(table.liquid(6e5, bubble + 0.1))
    assert math.isnan(table.gas(6e5, dew + table.gas_width + 1.0))
    assert math.isnan(table.gas(table.p_max * 1.01, 400.0))
    assert math.isnan(table.gas(math.nan, 300.0))
    assert math.isnan(table.liquid(2e6, math.nan))


def test_a_look_up_does_not_load_the_property_library() -> None:
    import subprocess

    code = (
        "import sys; from analysis.saturation import refrigerant;"
        "from analysis.phase_enthalpy import PhaseEnthalpy;"
        "PhaseEnthalpy(refrigerant('R32')).gas(1e6, 300.0); sys.exit('CoolProp' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False, timeout=60).returncode == 0


@pytest.mark.parametrize("name", ["R410A", "R134a"])
def test_fitting_anew_gives_the_shipped_table(name: str, tmp_path: Path) -> None:
    space: dict[str, object] = {}
    exec(generate_phase_tables.module_text(name), space)
    shipped = importlib.import_module(f"analysis.phase_tables.{table_module(name)}")
    for constant in ("GAS", "LIQUID"):
        assert np.asarray(space[constant]) == pytest.approx(np.asarray(getattr(shipped, constant)), abs=0.1)
    assert space["P_MAX"] == shipped.P_MAX


@pytest.mark.campaign
def test_campaign_all_phase_tables(tmp_path: Path) -> None:
    for name in names():
        test_fitting_anew_gives_the_shipped_table(name, tmp_path)
