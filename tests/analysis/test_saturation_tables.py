"""The shipped tables against the library: fitted anew, at every node that works, across its holes."""

from __future__ import annotations

import importlib
import json
import math
from datetime import UTC, datetime
from pathlib import Path

import CoolProp
import CoolProp.CoolProp as CP  # noqa: N817
import numpy as np
import pytest

from analysis.chebyshev import PiecewiseSeries
from analysis.refrigerants import SAFETY_CLASSES, table_module
from analysis.saturation import names, refrigerant
from tests import generate_tables

CURVES = {
    "T_DEW": 5e-7,  # K
    "T_BUBBLE": 5e-7,
    "RHO_DEW": 2e-6,  # of ln rho
    "RHO_BUBBLE": 2e-6,
    "H_DEW": 0.15,  # J/kg
    "H_BUBBLE": 0.15,
    "P_DEW": 1e-7,  # of ln p
    "P_BUBBLE": 1e-7,
}
# Where the library's own solver finds nothing at whole degrees Fahrenheit (1 is dew, 0 bubble).
HOLES = {
    ("R407F", 0): (119, 140),
    ("R407H", 0): (123, 140),
    ("R448A", 0): (149, 150),
    ("R449A", 0): (149, 150),
    ("R452A", 0): (137, 146),
    ("R452A", 1): (137, 146),
    ("R452B", 0): (131, 135),
    ("R452B", 1): (141, 147),
    ("R454B", 0): (134, 137),
    ("R454B", 1): (144, 147),
    ("R459A", 0): (140, 140),
    ("R466A", 0): (130, 144),
}


def kelvin(degf):
    return (np.asarray(degf, dtype=float) + 459.67) / 1.8


def direct(name, quality, temperatures):
    """Rows of pressure, density and enthalpy straight from the library, NaN where it fails."""
    state = CoolProp.AbstractState("HEOS", generate_tables.library_name(name))
    found = []
    for t in temperatures:
        try:
            state.update(CP.QT_INPUTS, quality, float(t))
            found.append((state.p(), state.rhomass(), state.hmass()))
        except ValueError:
            found.append((math.nan,) * 3)
    return np.array(found)


def deviations(name, quality, temperatures):
    """Table less library at the nodes that work, and where they lie on the pressure scale.

    Temperature [K], density (relative), enthalpy [J/kg].
    """
    curve = refrigerant(name)
    p, rho, h = direct(name, quality, temperatures).T
    side = "dew" if quality else "bubble"
    error_t = getattr(curve, f"t_{side}")(p) - temperatures
    error_rho = getattr(curve, f"rho_{side}")(p) / rho - 1
    error_h = getattr(curve, f"h_{side}")(p) - (h + curve.h_offset)
    critical = importlib.import_module(f"analysis.tables.{table_module(name)}").P_CRIT
    # Only where the library works and the table reaches; R123 and its like lie low at -40 degF.
    works = np.isfinite(p) & (p >= curve.p_min) & (p <= curve.p_max)
    errors = np.abs([error_t, error_rho, error_h])[:, works]
    return errors, (p / critical)[works], int(np.isnan(p).sum())


def check_against_library(name, step):
    """Compare both lines from -40 to 150 degF."""
    temperatures = kelvin(np.arange(-40, 150.5, step))
    worst = {"name": name, "nodes": 0, "failed": 0, "below": 0.0, "above": 0.0, "rho": 0.0, "h": 0.0}
    for quality in (0, 1):
        error, share, failed = deviations(name, quality, temperatures)
        assert share.size > 0.5 * temperatures.size, "the library must work at most nodes"
        assert np.isfinite(error).all()
        low = error[0, share <= 0.8].max(initial=0.0)
        high = error[0, share > 0.8].max(initial=0.0)
        assert low <= 1e-6
        assert high <= 1e-3
        assert error[1].max() <= 2e-6
        assert error[2].max() <= 0.15
        worst["rho"] = max(worst["rho"], error[1].max())
        worst["h"] = max(worst["h"], error[2].max())
        worst["nodes"] += share.size
        worst["failed"] += failed
        worst["below"], worst["above"] = max(worst["below"], low), max(worst["above"], high)
    return worst


def compare_with_shipped(name):
    """Fit a refrigerant anew and hold it against the shipped module."""
    table = generate_tables.build(name)
    shipped = importlib.import_module(f"analysis.tables.{table_module(name)}")
    assert name == shipped.NAME
    assert table["p_min"] == pytest.approx(shipped.P_MIN, rel=1e-9)
    assert table["p_crit"] == pytest.approx(shipped.P_CRIT, rel=1e-9)
    assert table["h_offset"] == pytest.approx(shipped.H_OFFSET, abs=0.01)
    assert table["source"] == shipped.SOURCE
    for constant, tolerance in CURVES.items():
        ours, fresh = getattr(shipped, constant), table["curves"][constant.lower()]
        low, high = ours[0][0], ours[-1][1]
        assert (fresh[0][0], fresh[-1][1]) == pytest.approx((low, high), rel=1e-9)
        x = np.linspace(low, high, 997)
        difference = PiecewiseSeries(ours, low, high)(x) - PiecewiseSeries(fresh, low, high)(x)
        assert np.abs(difference).max() <= tolerance, constant


@pytest.mark.parametrize("name", ["R22", "R407C", "R454B"])
def test_fitting_anew_gives_the_shipped_curves(name):
    compare_with_shipped(name)


@pytest.mark.parametrize("name", ["R22", "R32", "R134a", "R290", "R404A", "R407C", "R410A", "R454B", "R744"])
def test_curves_are_the_library_s_where_it_works(name):
    check_against_library(name, 5.0)


@pytest.mark.parametrize(("name", "quality"), HOLES, ids=str)
def test_holes_of_the_library_are_bridged(name, quality):
    """Inside a hole, held against a polynomial through the library's own nodes on both sides."""
    first, last = HOLES[name, quality]
    curve = refrigerant(name)
    p_of_t = curve.p_dew if quality else curve.p_bubble
    t_end = (curve.t_dew if quality else curve.t_bubble)(curve.p_max)
    around = kelvin(np.arange(first - 25, last + 15, 0.5))
    around = around[around < t_end]
    p = direct(name, quality, around)[:, 0]
    works = np.isfinite(p)
    inside = kelvin(np.arange(first, last + 0.01, 0.25))
    assert works.sum() > 20
    bridge = np.polynomial.Chebyshev.fit(1 / around[works], np.log(p[works]), 8)
    ours = p_of_t(inside)
    assert np.isfinite(ours).all()
    assert (np.diff(ours) > 0).all()
    # 1e-5 of the pressure is some 0.3 mK; the polynomial itself is no better near the end of the range.
    np.testing.assert_allclose(np.log(ours), bridge(1 / inside), atol=1e-5)


@pytest.mark.parametrize("name", ["R22", "R32", "R134a", "R290", "R600a", "R717", "R744", "R1234yf", "R12"])
def test_a_pure_refrigerant_obeys_clapeyron(name):
    """dT/dp = T (v'' - v') / (h'' - h'): a law of nature that ties five of the curves together."""
    curve = refrigerant(name)
    p = np.geomspace(curve.p_min, curve.p_max, 400)[5:-5]
    volumes = 1 / curve.rho_dew(p) - 1 / curve.rho_bubble(p)
    slope = curve.t_dew(p) * volumes / (curve.h_dew(p) - curve.h_bubble(p))
    np.testing.assert_allclose(curve.dtdp_dew(p), slope, rtol=2e-5)


@pytest.mark.parametrize("name", names())
def test_a_table_states_its_source_and_error(name):
    module = importlib.import_module(f"analysis.tables.{table_module(name)}")
    assert module.LIBRARY.startswith("CoolProp ")
    assert "Helmholtz" in module.SOURCE
    for key in ("t_dew", "t_bubble"):
        below, above = module.ERRORS[key]
        assert below <= 1e-6
        assert above <= 1e-3
    assert 0 < module.P_MIN < module.P_MAX < module.P_CRIT


def test_every_table_has_a_name_and_every_name_a_table():
    files = {path.stem for path in generate_tables.TABLES.glob("r*.py")}
    assert files == {table_module(name) for name in SAFETY_CLASSES}


def test_the_module_text_is_a_module():
    """What the generator writes is what is shipped: the same text when written from the shipped numbers."""
    shipped = importlib.import_module("analysis.tables.r454b")
    table = {
        "name": shipped.NAME,
        "source": shipped.SOURCE,
        "p_min": shipped.P_MIN,
        "p_max": shipped.P_MAX,
        "p_crit": shipped.P_CRIT,
        "h_offset": shipped.H_OFFSET,
        "errors": shipped.ERRORS,
        "curves": {constant.lower(): getattr(shipped, constant) for constant in CURVES},
    }
    written = generate_tables.module_text(table).splitlines()
    kept = (generate_tables.TABLES / "r454b.py").read_text(encoding="utf-8").splitlines()
    assert [line for line in written if "LIBRARY" not in line] == [
        line for line in kept if "LIBRARY" not in line
    ]


@pytest.mark.campaign
def test_campaign_all_tables():
    """Every refrigerant fitted anew and compared at every degree Fahrenheit; writes a dated result."""
    rows = []
    for name in names():
        compare_with_shipped(name)
        rows.append(check_against_library(name, 1.0))
    folder = Path(__file__).resolve().parent.parent / "campaign" / "results"
    folder.mkdir(exist_ok=True)
    now = datetime.now(UTC)
    result = {"date": now.isoformat(), "library": f"CoolProp {CoolProp.__version__}", "refrigerants": rows}
    (folder / f"saturation-{now:%Y-%m-%d}.json").write_text(json.dumps(result, indent=1), encoding="utf-8")
    assert sum(row["nodes"] for row in rows) > 13_000
