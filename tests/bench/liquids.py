"""Heat of a liquid side, worked out live: ours against the property library, in one run.

Run with ``python -m tests.bench.liquids``. Prints ratios; nothing is asserted, because a time says more about
the machine than about the code.
"""

from __future__ import annotations

import subprocess
import sys
import time

import CoolProp
import numpy as np

from analysis.liquids import Liquid
from analysis.water import heat_from_liquid

ROWS = 86_400  # a day of one row per second


def best_of(runs: int, work) -> float:
    """Shortest of some runs, s."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def with_library(t: np.ndarray) -> np.ndarray:
    state = CoolProp.AbstractState("INCOMP", "MPG")
    state.set_mass_fractions([0.25])
    heat = np.empty_like(t)
    for row, value in enumerate(t):
        state.update(CoolProp.PT_INPUTS, 101325.0, value)
        heat[row] = state.rhomass() * state.cpmass() * 0.6e-3 * 3.9
    return heat


def import_time(module: str) -> float:
    code = f"import numpy, time; s = time.perf_counter(); import {module}; print(time.perf_counter() - s)"
    return min(float(subprocess.check_output([sys.executable, "-c", code])) for _ in range(3))


def main() -> None:
    t = np.random.default_rng(1).uniform(270.0, 300.0, ROWS)
    loop = Liquid("propylene_glycol", mass_fraction=0.25)
    ours = best_of(5, lambda: heat_from_liquid(loop, 0.6e-3, t + 1.95, t - 1.95))
    theirs = best_of(2, lambda: with_library(t))
    one = best_of(200, lambda: heat_from_liquid(loop, 0.6e-3, 277.15, 273.25))
    difference = np.nanmax(np.abs(heat_from_liquid(loop, 0.6e-3, t + 1.95, t - 1.95) / with_library(t) - 1))
    ratio = theirs / ours
    print(
        f"{ROWS} rows: ours {1e3 * ours:.1f} ms, library row by row {1e3 * theirs:.1f} ms, ratio {ratio:.0f}"
    )
    print(f"one row: {1e6 * one:.0f} us; largest relative difference {difference:.1e}")
    print(f"import: ours {import_time('analysis.water'):.3f} s, library {import_time('CoolProp'):.3f} s")


if __name__ == "__main__":
    main()
