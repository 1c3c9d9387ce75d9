"""Water and brines of the simulated machine's loops, tabulated from CoolProp."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Any

from CoolProp.CoolProp import PT_INPUTS, AbstractState, iT_freeze


@dataclass(frozen=True, slots=True)
class Liquid:
    """Density, heat capacity and viscosity of a loop's liquid on a grid of 1 K."""

    name: str
    mass_fraction: float
    t_min: float
    t_freeze: float
    rho_table: list[float]
    cp_table: list[float]
    mu_table: list[float]

    def _at(self, table: list[float], t: float) -> float:
        x = min(max(t - self.t_min, 0.0), len(table) - 1.001)
        i = int(x)
        return table[i] + (table[i + 1] - table[i]) * (x - i)

    def rho(self, t: float) -> float:
        """Density [kg/m3] at `t` [K]."""
        return self._at(self.rho_table, t)

    def cp(self, t: float) -> float:
        """Heat capacity [J/(kg K)] at `t` [K]."""
        return self._at(self.cp_table, t)

    def mu(self, t: float) -> float:
        """Dynamic viscosity [Pa s] at `t` [K]."""
        return self._at(self.mu_table, t)


@cache
def liquid(name: str, mass_fraction: float = 0.0) -> Liquid:
    """Tabulate plain water (`"water"`) or a brine (`"MPG"`, `"MEG"`: a CoolProp name with its mass fraction).

    Parameters
    ----------
    name : str
    mass_fraction : float [kg/kg]

    Returns
    -------
    Liquid

    Examples
    --------
    >>> brine = liquid("MPG", 0.25)
    >>> round(brine.cp(275.15)), round(brine.t_freeze - 273.15, 1)
    (3877, -9.8)
    """
    if name == "water":
        state: Any = AbstractState("HEOS", "Water")
        t_freeze = 273.15
        t_min = 273.16
    else:
        state = AbstractState("INCOMP", name)
        state.set_mass_fractions([mass_fraction])
        t_freeze = float(state.keyed_output(iT_freeze))
        t_min = math.ceil(t_freeze) + 0.0
    rho, cp, mu = [], [], []
    for k in range(80):
        t = t_min + k
        state.update(PT_INPUTS, 2.0e5, t)
        rho.append(float(state.rhomass()))
        cp.append(float(state.cpmass()))
        mu.append(float(state.viscosity()))
    return Liquid(name, mass_fraction, t_min, t_freeze, rho, cp, mu)
