"""ASHRAE RP-1043: logs of a 90 ton R134a water-cooled chiller, through import and analysis.

Outside numbers: the log's own saturation temperatures (TRC, TRE) and heats (Cond Tons, Evap Tons), which were
worked out there from the same pressures, flows and water temperatures.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from analysis.rows import Rows
from logger.cli import main
from logger.session import Session
from tests.published.measured import measured

_HEAD = """
title = "chiller"
refrigerant = "R134a"
barometer = "101.325 kPa(a)"
mode = "cooling"
fluid = "water"
[time]
column = "t_s"
elapsed = "s"
"""
COLUMNS = {
    "TCI": ("degF", 'assign = "source_entering_temperature"'),
    "TCO": ("degF", 'assign = "source_leaving_temperature"'),
    "TEI": ("degF", 'assign = "load_entering_temperature"'),
    "TEO": ("degF", 'assign = "load_leaving_temperature"'),
    "FWC": ("gpm", 'assign = "source_flow"'),
    "FWE": ("gpm", 'assign = "load_flow"'),
    "PRE": ("psig", 'assign = "suction_pressure"'),
    "PRC": ("psig", 'assign = "discharge_pressure"'),
    "kW": ("kW", 'assign = "compressor_power"'),
    "TRC": ("degF", 'saturation_of = "discharge_pressure"'),
    "TRE": ("degF", 'saturation_of = "suction_pressure"'),
    "Cond Tons": ("ton", 'heat_of = "source"'),
    "Evap Tons": ("ton", 'heat_of = "load"'),
}


def map_text(**wrong: str) -> str:
    """Write a right map, or one with the units of single columns replaced."""
    units = {name: wrong.get(name.replace(" ", "_"), unit) for name, (unit, _) in COLUMNS.items()}
    return _HEAD + "".join(
        f'[[column]]\nheader = "{name}"\nunit = "{units[name]}"\n{more}\n'
        for name, (_, more) in COLUMNS.items()
    )


def imported(folder: Path, capsys: pytest.CaptureFixture[str], log: str, **wrong: str) -> dict[str, object]:
    path = folder / "map.toml"
    path.write_text(map_text(**wrong))
    out = folder / "session"
    assert main(["import", str(measured(log)), "--map", str(path), "--out", str(out), "--json"]) == 0
    facts: dict[str, object] = json.loads(capsys.readouterr().out)
    return facts


def checks(facts: dict[str, object]) -> dict[str, dict[str, object]]:
    return {check["name"]: check for check in facts["checks"]}  # type: ignore[attr-defined]


@pytest.mark.parametrize("log", ["rp1043_normal.csv.gz", "rp1043_fwc10.csv.gz", "rp1043_rl10.csv.gz"])
def test_log_agrees_with_itself(log: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    facts = imported(tmp_path, capsys, log)
    assert facts["rows"] == 5190 or facts["rows"] > 5000  # type: ignore[operator]
    found = checks(facts)
    # The log works its heats out with 500 Btu/h per gpm and degF (common practice).
    for side in ("source", "load"):
        check = found[f"{side} heat against flow and delta-T"]
        assert check["value"] == pytest.approx(500.0, abs=0.1)
        assert check["agrees"] is True
    for place in ("discharge", "suction"):
        check = found[f"logged saturation at {place} pressure"]
        assert check["value"] * 1.8 < 0.15  # type: ignore[operator]
    standing = found["standing pressure at rest"]
    assert abs(standing["value"]) < 2.0  # type: ignore[arg-type]
    assert "agree within 2 psi" in str(standing["statement"])


@pytest.mark.parametrize(
    ("column", "unit", "names", "hint"),
    [
        ("Cond_Tons", "kW", "source heat against flow and delta-T", "in ton, not kW"),
        ("Evap_Tons", "kW", "load heat against flow and delta-T", "in ton, not kW"),
        ("FWC", "L/s", "source heat against flow and delta-T", "in gpm, not L/s"),
        ("FWE", "m3/h", "load heat against flow and delta-T", "in gpm, not m3/h"),
        ("TCI", "degC", "source heat against flow and delta-T", "mapped wrongly"),
        ("TEO", "degC", "load heat against flow and delta-T", ""),
        ("PRC", "bar(g)", "logged saturation at discharge pressure", ""),
        ("PRC", "psia", "logged saturation at discharge pressure", ""),
        ("PRE", "psia", "standing pressure at rest", "gauge for absolute"),
        ("PRE", "kPa(g)", "logged saturation at suction pressure", ""),
        ("TRE", "degC", "logged saturation at suction pressure", ""),
    ],
)
def test_one_wrongly_mapped_unit_is_caught(
    column: str, unit: str, names: str, hint: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    check = checks(imported(tmp_path, capsys, "rp1043_normal.csv.gz", **{column: unit}))[names]
    assert check["agrees"] is False or (check["agrees"] is None and "cannot say" in str(check["statement"]))
    assert hint in str(check["statement"])


def test_analysis_gives_the_saturation_of_the_log(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    imported(tmp_path, capsys, "rp1043_normal.csv.gz")
    folder = tmp_path / "session"
    assert main(["analyse", str(folder), "--json"]) == 0
    stretches = [s for s in json.loads(capsys.readouterr().out)["stretches"] if s["steady"]]
    assert len(stretches) >= 20  # the log holds 27 set points
    rows = Rows.concatenate(list(Session.open(folder).rows()))
    for symbol, logged in (("condensing_temperature", "TRC"), ("evaporating_temperature", "TRE")):
        own = rows.only(logged)
        off = [
            stretch["derived"][symbol]["value"] - _mean_kelvin(own, stretch["from"], stretch["to"])
            for stretch in stretches
        ]
        assert np.median(np.abs(off)) * 1.8 < 0.15


def _mean_kelvin(rows: Rows, from_s: float, to_s: float) -> float:
    inside = (rows.t_us >= from_s * 1e6) & (rows.t_us <= to_s * 1e6)
    return float((rows.value[inside].mean() - 32.0) / 1.8 + 273.15)
