"""Write analysis/phase_tables/*.py: enthalpies of gas and liquid fitted to the property library.

    python -m tests.generate_phase_tables [NAME ...] [--to FOLDER]

Sampled at Chebyshev points of ln p and of the distance from saturation; least squares over the points that
the library answers. The error is measured on a grid between them.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from pathlib import Path

import CoolProp
import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import NDArray

from analysis.phase_enthalpy import HOTTEST_K, scaled
from analysis.refrigerants import SAFETY_CLASSES, table_module
from analysis.saturation import Refrigerant, refrigerant
from analysis.states import SinglePhase

TABLES = Path(__file__).resolve().parent.parent / "analysis" / "phase_tables"
TOP = 0.8  # of the critical pressure; nearer to it the heat capacity has no bound
GAS_WIDTH, LIQUID_WIDTH = 100.0, 40.0  # K
GAS_DEGREES, LIQUID_DEGREES = (9, 8), (7, 4)
POINTS = (28, 22)

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Fit:
    """One side of a refrigerant's table."""

    series: Array
    error: float
    """Largest deviation from the library on a grid between the points [J/kg]."""


def _away(fluid: Refrigerant, states: SinglePhase, gas: bool, p: Array, away: Array) -> Array:
    """Give how far the enthalpy is from saturation, as the library has it [J/kg]."""
    if gas:
        t = np.asarray(fluid.t_dew(p)) + away
        h = np.asarray(states.gas("enthalpy", p, t)) - np.asarray(fluid.h_dew(p))
        return np.where(t <= HOTTEST_K, h, np.nan)
    t = np.asarray(fluid.t_bubble(p)) - away
    h = np.asarray(fluid.h_bubble(p)) - np.asarray(states.liquid("enthalpy", p, t))
    return np.where(t >= float(fluid.t_bubble(fluid.p_min)), h, np.nan)


def fit(name: str, *, gas: bool) -> tuple[Fit, float]:
    """Fit one side; gives it with the highest pressure of the table [Pa]."""
    fluid = refrigerant(name)
    states = SinglePhase(fluid)
    p_max = float(f"{fluid.p_max / 0.95 * TOP:.6g}")
    ends, width = (fluid.p_min, p_max), GAS_WIDTH if gas else LIQUID_WIDTH
    degrees = GAS_DEGREES if gas else LIQUID_DEGREES
    x, y = (np.cos(np.pi * (np.arange(n) + 0.5) / n) for n in POINTS)
    p, away = _grid(x, y, ends, width)
    h = _away(fluid, states, gas, p, away)
    known = np.isfinite(h)
    basis = chebyshev.chebvander2d(*scaled(p[known], away[known], ends, width), degrees)
    found, *_ = np.linalg.lstsq(basis, h[known], rcond=None)
    series = np.round(found, 2).reshape(degrees[0] + 1, degrees[1] + 1)
    p, away = _grid(np.linspace(-1, 1, 41), np.linspace(-1, 1, 33), ends, width)
    deviation = chebyshev.chebval2d(*scaled(p, away, ends, width), series) - _away(
        fluid, states, gas, p, away
    )
    return Fit(series, float(np.nanmax(np.abs(deviation)))), p_max


def _grid(x: Array, y: Array, ends: tuple[float, float], width: float) -> tuple[Array, Array]:
    low, high = np.log(ends[0]), np.log(ends[1])
    p = np.clip(np.exp(low + (x + 1.0) / 2.0 * (high - low)), *ends)
    p, away = np.meshgrid(p, (y + 1.0) / 2.0 * width, indexing="ij")
    return p, away


def module_text(name: str) -> str:
    """Write a refrigerant's tables as the text of a Python module."""
    (gas, p_max), (liquid, _) = fit(name, gas=True), fit(name, gas=False)
    text = [
        f'"""Enthalpy of {name} beside saturation; by tests/generate_phase_tables.py, never by hand."""',
        "",
        f'NAME = "{name}"',
        f'LIBRARY = "CoolProp {CoolProp.__version__}"',
        f"P_MAX = {p_max!r}  # Pa; {TOP} of the critical pressure",
        f"GAS_WIDTH = {GAS_WIDTH!r}  # K of superheat",
        f"LIQUID_WIDTH = {LIQUID_WIDTH!r}  # K of subcooling",
        "# Largest deviation from the library, J/kg.",
        f"GAS_ERROR = {gas.error:.1f}",
        f"LIQUID_ERROR = {liquid.error:.1f}",
        "# Chebyshev series, J/kg: a row for each power of ln p, a column for each of the distance.",
    ]
    for constant, one in (("GAS", gas), ("LIQUID", liquid)):
        rows = [f"    ({', '.join(f'{float(c)!r}' for c in row)})," for row in one.series]
        text += [f"{constant} = (", *rows, ")"]
    return "\n".join(text) + "\n"


def main() -> None:
    """Write the tables asked for, or all."""
    parser = argparse.ArgumentParser(description="Write the tables of single-phase enthalpy.")
    parser.add_argument("names", nargs="*", default=list(SAFETY_CLASSES), metavar="NAME")
    parser.add_argument("--to", type=Path, default=TABLES, metavar="FOLDER")
    arguments = parser.parse_args()
    for name in arguments.names:
        (arguments.to / f"{table_module(name)}.py").write_text(module_text(name), encoding="utf-8")


if __name__ == "__main__":
    main()
