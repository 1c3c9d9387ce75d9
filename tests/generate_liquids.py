"""Write the liquids' property tables (analysis/liquid_tables) from CoolProp.

Run from the project's folder: ``python -m tests.generate_liquids``. The tables exist because importing
CoolProp takes over a second and holds the interpreter lock, while heat must be worked out live. The mixtures
of CoolProp's incompressible library are themselves polynomials, so that the fit reproduces them to rounding.
"""

from __future__ import annotations

import pathlib
from dataclasses import dataclass

import CoolProp
import numpy as np
from CoolProp import PT_INPUTS, AbstractState, iT_freeze
from numpy.polynomial import chebyshev

SECONDARY_FLUIDS = (
    "CoolProp incompressible library, fit to Properties of Secondary Working Fluids (Secondary "
    "Refrigerants or Coolants, Heat Transfer Fluids) for Indirect Systems, IIR 2010"
)
SEA_WATER = (
    "CoolProp incompressible library, fit to Thermophysical Properties of Seawater, Desalination and "
    "Water Treatment 16 (2010) 354"
)
PRESSURE = 101325.0
ZERO_C = 273.15
FOLDER = pathlib.Path(__file__).parents[1] / "analysis" / "liquid_tables"


@dataclass(frozen=True)
class Recipe:
    """How one liquid is fitted: library name, ranges (degC, mass fraction) and degrees."""

    name: str
    library_name: str
    source: str
    t_max: float
    x_max: float
    t_degree: int
    x_degree: int
    freezes: bool = True


RECIPES = (
    Recipe(
        "water", "Water", "CoolProp, IAPWS-95 with the IAPWS transport formulations", 95.0, 0.0, 10, 0, False
    ),
    Recipe("sea_water", "MITSW", SEA_WATER, 60.0, 0.08, 8, 4, False),
    Recipe("propylene_glycol", "MPG", SECONDARY_FLUIDS, 100.0, 0.6, 3, 5),
    Recipe("ethylene_glycol", "MEG", SECONDARY_FLUIDS, 100.0, 0.6, 3, 5),
    Recipe("methanol", "MMA", SECONDARY_FLUIDS, 40.0, 0.6, 3, 5),
    Recipe("ethanol", "MEA", SECONDARY_FLUIDS, 40.0, 0.6, 3, 5),
    Recipe("sodium_chloride", "MNA", SECONDARY_FLUIDS, 40.0, 0.23, 3, 5),
    Recipe("calcium_chloride", "MCA", SECONDARY_FLUIDS, 40.0, 0.3, 3, 5),
)


def state_of(recipe: Recipe) -> AbstractState:
    """Open the library's state object of one liquid."""
    return AbstractState("HEOS" if recipe.name == "water" else "INCOMP", recipe.library_name)


def properties(recipe: Recipe, state: AbstractState, t: float, x: float) -> tuple[float, float, float, float]:
    """Density, specific heat, ln viscosity and conductivity from the library."""
    if recipe.name != "water":
        state.set_mass_fractions([x])
    state.update(PT_INPUTS, PRESSURE, t)
    return state.rhomass(), state.cpmass(), float(np.log(state.viscosity())), state.conductivity()


def freezing_point(state: AbstractState, x: float) -> float:
    """Freezing point from the library, K."""
    state.set_mass_fractions([x])
    return float(state.keyed_output(iT_freeze))


def nodes(low: float, high: float, count: int) -> np.ndarray:
    """Chebyshev nodes between two limits."""
    return (low + high) / 2 - (high - low) / 2 * np.cos(np.pi * (np.arange(count) + 0.5) / count)


def unit_interval(value: np.ndarray, low: float, high: float) -> np.ndarray:
    """Map a range to -1..1."""
    return np.zeros_like(value) if high == low else (2 * value - low - high) / (high - low)


def fitted(recipe: Recipe) -> dict[str, object]:
    """Fit one liquid; return the table's names and values."""
    state = state_of(recipe)
    x_values = nodes(0.0, recipe.x_max, 17) if recipe.x_max else np.array([0.0])
    freezing: list[float] = []
    largest_freezing = 0.0
    t_min = ZERO_C + 0.01
    if recipe.freezes:
        t_freeze = np.array([freezing_point(state, x) for x in x_values])
        mapped = unit_interval(x_values, 0.0, recipe.x_max)
        series = chebyshev.chebfit(mapped, t_freeze, recipe.x_degree)
        largest_freezing = float(np.max(np.abs(chebyshev.chebval(mapped, series) - t_freeze)))
        freezing = [float(c) for c in series]
        t_min = float(np.floor(min(t_freeze))) - 1.0
    t_max = ZERO_C + recipe.t_max
    points: list[tuple[float, float]] = []
    for x in x_values:
        low = max(t_min, freezing_point(state, x) + 1e-3) if recipe.freezes else t_min
        points += [(t, x) for t in nodes(low, t_max, 25)]
    sampled = np.array([properties(recipe, state, t, x) for t, x in points])
    t_mapped = unit_interval(np.array([t for t, _ in points]), t_min, t_max)
    x_mapped = unit_interval(np.array([x for _, x in points]), 0.0, recipe.x_max)
    design = chebyshev.chebvander2d(t_mapped, x_mapped, [recipe.t_degree, recipe.x_degree])
    table: dict[str, object] = {
        "SOURCE": recipe.source,
        "LIBRARY": f"CoolProp {CoolProp.__version__}, {recipe.library_name}, at {PRESSURE:.0f} Pa",
        "T_MIN": t_min,
        "T_MAX": t_max,
        "MASS_FRACTION_MAX": recipe.x_max,
        "FREEZING_POINT": freezing,
    }
    errors: dict[str, float] = {"freezing_point": largest_freezing}
    names = ("density", "specific_heat", "ln_viscosity", "conductivity")
    for column, name in enumerate(names):
        target = sampled[:, column]
        coefficients, *_ = np.linalg.lstsq(design, target, rcond=None)
        errors[name] = float(np.max(np.abs(design @ coefficients - target)))
        shaped = coefficients.reshape(recipe.t_degree + 1, recipe.x_degree + 1)
        table[name.upper()] = [[float(c) for c in row] for row in shaped]
    table["LARGEST_ERROR"] = {name: float(f"{error:.2g}") for name, error in errors.items()}
    return table


def rounded(value: float) -> str:
    """Write a coefficient with the digits that matter."""
    return f"{value:.13g}"


def without_noise(rows: list[list[float]]) -> list[list[float]]:
    """Set coefficients that are only rounding to zero, so that a new fit writes the same file."""
    floor = 1e-11 * max(abs(c) for row in rows for c in row)
    return [[c if abs(c) > floor else 0.0 for c in row] for row in rows]


def written(name: str, value: object) -> str:
    """Write one assignment of a table module."""
    if isinstance(value, list) and value and isinstance(value[0], list):
        rows = ""
        for row in without_noise(value):
            rows += f"    ({', '.join(map(rounded, row))}{',' if len(row) == 1 else ''}),\n"
        return f"{name} = (\n{rows})\n"
    if isinstance(value, list):
        inside = "".join(f"    {rounded(c)},\n" for c in value)
        return f"{name}: tuple[float, ...] = (\n{inside})\n" if value else f"{name}: tuple[float, ...] = ()\n"
    if isinstance(value, str):
        words = value.split(" ")
        lines, line = [], ""
        for word in words:
            if len(line) + len(word) > 85:
                lines.append(line)
                line = ""
            line += word + " "
        lines.append(line.rstrip())
        return f"{name} = (\n" + "".join(f'    "{part}"\n' for part in lines) + ")\n"
    if isinstance(value, dict):
        return f"{name} = {{\n" + "".join(f'    "{key}": {item!r},\n' for key, item in value.items()) + "}\n"
    return f"{name} = {value!r}\n"


def module_text(recipe: Recipe, table: dict[str, object]) -> str:
    """Write out a table module."""
    title = recipe.name.replace("_", " ").capitalize()
    head = (
        f'"""{title}: property table, written by tests/generate_liquids.py; do not edit.\n\n'
        "Chebyshev series: rows along temperature (T_MIN to T_MAX, K), columns along mass fraction (0 to\n"
        "MASS_FRACTION_MAX). SI units; viscosity as its natural logarithm (Pa s). LARGEST_ERROR is against\n"
        'the library at the fitted points.\n"""\n\n'
    )
    return head + "".join(written(name, value) for name, value in table.items())


def main() -> None:
    """Write all tables and say how well each fits."""
    for recipe in RECIPES:
        table = fitted(recipe)
        (FOLDER / f"{recipe.name}.py").write_text(module_text(recipe, table), encoding="utf-8")
        print(recipe.name, table["LARGEST_ERROR"])


if __name__ == "__main__":
    main()
