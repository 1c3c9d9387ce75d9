"""Write analysis/tables/*.py: saturation curves fitted to the property library.

    python -m tests.generate_tables [NAME ...] [--to FOLDER]

Blends fail in the library at some pressures inside their working range, because its solver starts from an
estimate. Here each line is followed upwards and downwards in small steps, every solution being the starting
point of the next, which converges over the whole line up to 0.98 of the critical pressure; the solution is
the library's own at the pressure asked for, no interpolation.
"""

from __future__ import annotations

import argparse
import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import CoolProp
import CoolProp.CoolProp as CP  # noqa: N817
import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import NDArray

from analysis.chebyshev import Piece, PiecewiseSeries
from analysis.refrigerants import SAFETY_CLASSES, table_module

TABLES = Path(__file__).resolve().parent.parent / "analysis" / "tables"
T_LOWEST = 213.15  # K; -60 degC, or just above the triple point
T_REFERENCE = 273.15  # K; saturated liquid at 0 degC has 200 kJ/kg (IIR)
H_REFERENCE = 200e3  # J/kg
TOP = 0.95  # of the critical pressure
# Where the two pieces meet, as a fraction of the critical pressure. Temperature runs smoothly almost up to
# the end, so its first piece holds the whole working range; density and enthalpy end in a root at the
# critical point and need the second piece earlier.
SPLIT = {"t": 0.88, "rho": 0.55, "h": 0.55}
# Largest error asked of a fit: K; relative density; J/kg. Below and above 0.8 of the critical pressure.
TARGET = {"t": 6e-7, "rho": 1e-7, "h": 1e-2}
INVERSE_TARGET = 2e-8  # of ln p
INVERSE_SPLIT = 0.6
FEWEST, MOST = 8, 40

Array = NDArray[np.float64]

#: Library names that differ from ours; pseudo-pure equations where there is one.
_LIBRARY_NAMES = {"R600a": "IsoButane", "R290": "n-Propane", "R717": "Ammonia", "R744": "CarbonDioxide"}
PSEUDO_PURE = frozenset({"R404A", "R407C", "R410A", "R507A"})


def library_name(name: str) -> str:
    """Return the library's name: its own fluid where there is one, else the predefined mixture."""
    fluid = _LIBRARY_NAMES.get(name, name)
    return fluid if fluid in CoolProp.__fluids__ else f"{name}.mix"


@dataclass
class Line:
    """The dew (quality 1) or bubble (quality 0) line of a refrigerant, exact at every pressure."""

    name: str
    quality: int
    states: list[tuple[float, Array]] = field(default_factory=list)  # ln p -> T, densities, compositions

    def __post_init__(self) -> None:
        self.state: Any = CoolProp.AbstractState("HEOS", library_name(self.name))
        self.mixture = library_name(self.name).endswith(".mix")
        if self.mixture:
            self.p_crit = max(c.p for c in self.state.all_critical_points() if c.stable and c.T > T_LOWEST)
            self._follow()
        else:
            self.p_crit = float(self.state.p_critical())

    def _unknowns(self) -> Array:
        s = self.state
        densities = [s.saturated_liquid_keyed_output(CP.iDmolar), s.saturated_vapor_keyed_output(CP.iDmolar)]
        return np.array([s.T(), *densities, *s.mole_fractions_liquid(), *s.mole_fractions_vapor()])

    def _solve(self, u: float) -> Array | None:
        """Solve at ln p = u from the estimate that the nearest solutions give (Lagrange, four points)."""
        near = sorted(self.states, key=lambda known: abs(known[0] - u))[:4]
        if near[0][0] == u:
            near = near[:1]
        guess = np.zeros_like(near[0][1])
        for i, (ui, values) in enumerate(near):
            weight = math.prod((u - uj) / (ui - uj) for j, (uj, _) in enumerate(near) if j != i)
            guess += weight * values
        n = (guess.size - 3) // 2
        estimate = CP.PyGuessesStructure()
        estimate.T, estimate.p = guess[0], math.exp(u)
        estimate.rhomolar_liq, estimate.rhomolar_vap = guess[1], guess[2]
        estimate.rhomolar = guess[1 + self.quality]
        estimate.x, estimate.y = list(guess[3 : 3 + n]), list(guess[3 + n :])
        # The library takes the composition of the blend itself from the estimate, rounding errors and all.
        if self.quality:
            estimate.y = list(self.state.get_mole_fractions())
        else:
            estimate.x = list(self.state.get_mole_fractions())
        try:
            self.state.update_with_guesses(CP.PQ_INPUTS, math.exp(u), self.quality, estimate)
            found = self._unknowns()
            # Once more from the solution itself: the library's iteration sometimes stops a little early.
            estimate.T, estimate.rhomolar_liq, estimate.rhomolar_vap = found[:3]
            estimate.rhomolar = found[1 + self.quality]
            if self.quality:
                estimate.x = list(found[3 : 3 + n])
            else:
                estimate.y = list(found[3 + n :])
            self.state.update_with_guesses(CP.PQ_INPUTS, math.exp(u), self.quality, estimate)
            found = self._unknowns()
        except ValueError:
            return None
        close = abs(found[0] - guess[0]) < 0.05 and abs(self.state.p() / math.exp(u) - 1) < 1e-9
        distinct = found[1] > 1.2 * found[2]  # not the trivial solution
        return found if close and distinct and bool(np.isfinite(found).all()) else None

    def _follow(self) -> None:
        self.state.update(CP.PQ_INPUTS, 2e5, self.quality)
        start = math.log(2e5)
        first = (start, self._unknowns())
        for end in (math.log(2e3), math.log(0.98 * self.p_crit)):
            self.states = [first, *(s for s in self.states if s[0] < start)]
            u, step = start, 0.01
            while abs(end - u) > 1e-12 and step > 1e-6:
                target = u + math.copysign(min(step, abs(end - u)), end - u)
                if (found := self._solve(target)) is None:
                    step /= 2
                    continue
                u, step = target, min(1.3 * step, 0.03)
                self.states.append((u, found))
                if found[0] < T_LOWEST - 10:
                    break
        self.states.sort(key=lambda known: known[0])

    def at(self, p: float) -> tuple[float, float, float]:
        """Return temperature [K], density [kg/m3] and the library's enthalpy [J/kg] at a pressure [Pa]."""
        if not self.mixture:
            self.state.update(CP.PQ_INPUTS, p, self.quality)
        elif self._solve(math.log(p)) is None:
            raise ValueError(f"{self.name}, quality {self.quality}: no solution at {p} Pa")
        found = (self.state.T(), self.state.rhomass(), self.state.hmass())
        if not all(map(math.isfinite, found)):
            raise ValueError(f"{self.name}, quality {self.quality}: no finite solution at {p} Pa")
        return found

    def sample(self, u: Array) -> Array:
        """Return rows of (T, rho, h) at ln p = u."""
        return np.array([self.at(math.exp(float(value))) for value in u])

    def pressure(self, t: float) -> float:
        """Return the pressure [Pa] at a temperature [K], by bisection along the line."""
        low, high = math.log(1.5e3), math.log(0.97 * self.p_crit)
        if self.mixture:
            low = max(low, self.states[0][0])
        else:
            self.state.update(CP.QT_INPUTS, self.quality, t)
            return float(self.state.p())
        for _ in range(60):
            middle = 0.5 * (low + high)
            if self.at(math.exp(middle))[0] < t:
                low = middle
            else:
                high = middle
        return math.exp(0.5 * (low + high))


def nodes(left: float, right: float, degree: int) -> Array:
    """Chebyshev points of the second kind, both ends included so that adjoining pieces meet."""
    s = np.cos(np.pi * np.arange(degree, -1, -1) / degree)
    return 0.5 * (left + right) + 0.5 * (right - left) * s


def interpolate(left: float, right: float, values: Array) -> Piece:
    """Return the polynomial through values at the nodes, in rising powers of the scaled argument."""
    degree = values.size - 1
    s = np.cos(np.pi * np.arange(degree, -1, -1) / degree)
    series = np.linalg.solve(chebyshev.chebvander(s, degree), values)
    return left, right, tuple(float(c) for c in chebyshev.cheb2poly(series))


def _piece(left: float, right: float, function: Any, target: float) -> Piece:
    """Fit with as few terms as reach the target at points between the nodes."""
    best: tuple[float, Piece] | None = None
    check = np.linspace(left, right, 101)
    truth = function(check)
    for degree in range(FEWEST, MOST + 1, 2):
        piece = interpolate(left, right, function(nodes(left, right, degree)))
        error = float(np.abs(PiecewiseSeries((piece,), left, right)._over(check) - truth).max())
        if best is None or error < best[0]:
            best = (error, piece)
        if error <= target:
            break
    assert best is not None
    return best[1]


def _fit(ends: tuple[float, float, float], function: Any, target: float) -> tuple[Piece, ...]:
    left, split, right = ends
    return _piece(left, split, function, target), _piece(split, right, function, target)


def _inverse(t_of_u: PiecewiseSeries, ends: tuple[float, float, float]) -> tuple[Piece, ...]:
    """Fit ln p as a function of T to our own T(ln p), so that both ways lead back to each other."""
    slope = t_of_u.derivative()

    def u_of_t(t: Array) -> Array:
        grid = np.linspace(ends[0], ends[2], 2001)
        u = np.interp(t, t_of_u._over(grid), grid)
        for _ in range(6):
            u = np.clip(u - (t_of_u._over(u) - t) / slope._over(u), ends[0], ends[2])
        return u

    t_left, t_split, t_right = (t_of_u._at(end) for end in ends)
    return _fit((t_left, t_split, t_right), u_of_t, INVERSE_TARGET)


def build(name: str) -> dict[str, Any]:
    """Fit every curve of a refrigerant and measure the errors."""
    lines = {"dew": Line(name, 1), "bubble": Line(name, 0)}
    p_crit = lines["dew"].p_crit
    t_triple = 0.0 if lines["dew"].mixture else float(lines["dew"].state.Tmin())
    t_low = max(T_LOWEST, t_triple + 1.0)
    p_min = float(f"{lines['dew'].pressure(t_low):.4g}")
    p_max = TOP * p_crit
    h_offset = H_REFERENCE - lines["bubble"].at(lines["bubble"].pressure(T_REFERENCE))[2]
    pure = not lines["dew"].mixture and name not in PSEUDO_PURE
    table: dict[str, Any] = {"name": name, "source": source(name), "errors": {}, "curves": {}}
    table.update(p_min=p_min, p_max=p_max, p_crit=p_crit, h_offset=h_offset)
    left, right = math.log(p_min), math.log(p_max)
    check = np.concatenate([np.linspace(left, right, 400), nodes(left, right, 301)])
    high = check > math.log(0.8 * p_crit)
    for side, line in lines.items():
        truth = line.sample(check)
        truth[:, 1], truth[:, 2] = np.log(truth[:, 1]), truth[:, 2] + h_offset
        for column, kind in enumerate(("t", "rho", "h")):
            key = f"{kind}_{side}"
            if pure and key == "t_bubble":
                table["curves"][key] = table["curves"]["t_dew"]
            else:

                def exact(u: Array, line: Line = line, column: int = column) -> Array:
                    value = line.sample(u)[:, column]
                    return np.log(value) if column == 1 else value + (h_offset if column == 2 else 0.0)

                ends = (left, math.log(SPLIT[kind] * p_crit), right)
                table["curves"][key] = _fit(ends, exact, TARGET[kind])
            series = PiecewiseSeries(table["curves"][key], left, right)
            error = np.abs(series._over(np.clip(check, left, right)) - truth[:, column])
            table["errors"][key] = (float(error[~high].max()), float(error[high].max()))
        ends = (left, math.log(INVERSE_SPLIT * p_crit), right)
        series = PiecewiseSeries(table["curves"][f"t_{side}"], left, right)
        table["curves"][f"p_{side}"] = (
            table["curves"]["p_dew"] if pure and side == "bubble" else _inverse(series, ends)
        )
    return table


def source(name: str) -> str:
    """Name the equation of state by the library's own reference keys."""
    fluid = library_name(name)
    if not fluid.endswith(".mix"):
        kind = "pseudo-pure" if name in PSEUDO_PURE else "pure"
        return f"Helmholtz energy equation of state ({kind}): {CP.get_BibTeXKey(fluid, 'EOS')}"
    parts = CoolProp.AbstractState("HEOS", fluid).fluid_names()
    keys = ", ".join(f"{part}: {CP.get_BibTeXKey(part, 'EOS')}" for part in parts)
    return f"multi-fluid Helmholtz energy model, predefined composition; {keys}"


def module_text(table: dict[str, Any]) -> str:
    """Write a table as the text of a Python module."""
    errors = table["errors"]
    text = [
        f'"""Saturation curves of {table["name"]}, written by tests/generate_tables.py, never by hand."""',
        "",
        f'NAME = "{table["name"]}"',
        f'SOURCE = "{table["source"]}"',
        f'LIBRARY = "CoolProp {CoolProp.__version__}"',
        f"P_MIN = {table['p_min']!r}  # Pa",
        f"P_MAX = {table['p_max']!r}  # Pa; {TOP} of the critical pressure",
        f"P_CRIT = {table['p_crit']!r}  # Pa",
        "# Saturated liquid at 273.15 K has 200 kJ/kg; this much [J/kg] was added to the library's enthalpy.",
        f"H_OFFSET = {table['h_offset']!r}",
        "# Largest deviation from the library below and above 0.8 of the critical pressure:",
        "# K for temperature, relative for density, J/kg for enthalpy.",
        "ERRORS = {",
        *(f'    "{key}": ({low:.2g}, {high:.2g}),' for key, (low, high) in errors.items()),
        "}",
        "# Pieces: lower end, upper end, coefficients in rising powers of the scaled argument.",
        "# The argument is ln p (P_DEW and P_BUBBLE: T); the value is T, ln p, ln rho or h, in SI units.",
    ]
    written: dict[int, str] = {}
    for key in ("t_dew", "t_bubble", "p_dew", "p_bubble", "rho_dew", "rho_bubble", "h_dew", "h_bubble"):
        pieces = table["curves"][key]
        constant = key.upper()
        if id(pieces) in written:
            text.append(f"{constant} = {written[id(pieces)]}")
            continue
        written[id(pieces)] = constant
        text.append(f"{constant} = (")
        for piece_left, piece_right, coefficients in pieces:
            text += ["    (", f"        {piece_left!r},", f"        {piece_right!r},", "        ("]
            text += [f"            {c!r}," for c in coefficients]
            text += ["        ),", "    ),"]
        text.append(")")
    return "\n".join(text) + "\n"


def main() -> None:
    """Write the tables asked for, or all."""
    parser = argparse.ArgumentParser(description="Write the saturation tables.")
    parser.add_argument("names", nargs="*", default=list(SAFETY_CLASSES), metavar="NAME")
    parser.add_argument("--to", type=Path, default=TABLES, metavar="FOLDER")
    arguments = parser.parse_args()
    for name in arguments.names:
        table = build(name)
        (arguments.to / f"{table_module(name)}.py").write_text(module_text(table), encoding="utf-8")
        counts = {key: [len(c) for _, _, c in pieces] for key, pieces in table["curves"].items()}
        print(name, {key: f"{low:.1e}/{high:.1e}" for key, (low, high) in table["errors"].items()}, counts)


if __name__ == "__main__":
    main()
