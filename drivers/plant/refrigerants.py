"""Refrigerant properties of the simulated machine, tabulated once per fluid from CoolProp states."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Any, Final, NamedTuple

import numpy as np
from CoolProp.CoolProp import PQ_INPUTS, PT_INPUTS, AbstractState, iphase_gas, iphase_liquid
from numpy.typing import NDArray

_NAMES: Final = {
    "R22": "R22",
    "R32": "R32",
    "R134a": "R134a",
    "R290": "R290",
    "R407C": "R407C",
    "R410A": "R410A",
    "R454B": "R454B.mix",
}
SUPPORTED: Final = tuple(_NAMES)

_NODES: Final = 500
_P_NODES: Final = 150
_STEP_K: Final = 2.0
_SUPERHEAT_NODES: Final = 76
_SUBCOOLING_NODES: Final = 46
_P_MIN: Final = 0.6e5


class Saturation(NamedTuple):
    """Properties on both saturation lines at one pressure (SI), and the two-phase zones' mean densities."""

    t_dew: float
    t_bubble: float
    h_liquid: float
    h_vapour: float
    rho_liquid: float
    rho_vapour: float
    cp_liquid: float
    cp_vapour: float
    rho_condensing: float
    rho_boiling: float
    dt_dlnp: float


def mean_two_phase_density(
    rho_liquid: NDArray[np.float64], rho_vapour: NDArray[np.float64], x_from: float, x_to: float
) -> NDArray[np.float64]:
    """Give the mean density of a two-phase zone whose quality runs evenly from `x_from` to `x_to`.

    Void fraction with Zivi's slip: alpha = 1 / (1 + (1 - x)/x (rho_v/rho_l)^(2/3)).

    Parameters
    ----------
    rho_liquid, rho_vapour : array, shape (n,) [kg/m3]
    x_from, x_to : float [-]

    Returns
    -------
    array, shape (n,) [kg/m3]
    """
    x = np.linspace(x_from, x_to, 101)[:, None]
    with np.errstate(divide="ignore"):
        void = 1.0 / (1.0 + (1.0 - x) / x * (rho_vapour / rho_liquid) ** (2.0 / 3.0))
    density = void * rho_vapour + (1.0 - void) * rho_liquid
    mean: NDArray[np.float64] = density.mean(axis=0)
    return mean


@dataclass(frozen=True, slots=True)
class Refrigerant:
    """Tables of one refrigerant on an even grid of ln p; see `refrigerant` for how to get one."""

    name: str
    lnp_min: float
    lnp_max: float
    sat_step: float
    sat_rows: list[tuple[float, ...]]
    p_step: float
    vapour_rows: list[list[tuple[float, float, float]]]
    liquid_rows: list[list[float]]

    def saturation(self, lnp: float) -> Saturation:
        """Interpolate both saturation lines at ln(p / Pa); outside the table its edge holds."""
        x = (lnp - self.lnp_min) / self.sat_step
        i = int(x) if x > 0.0 else 0
        last = len(self.sat_rows) - 2
        if i > last:
            i = last
        f = x - i
        if f < 0.0:
            f = 0.0
        elif f > 1.0:
            f = 1.0
        g = 1.0 - f
        return Saturation(
            *[a * g + b * f for a, b in zip(self.sat_rows[i], self.sat_rows[i + 1], strict=True)]
        )

    def lnp_of_dew(self, t_dew: float) -> float:
        """Find ln(p / Pa) at which the dew temperature is `t_dew` [K]."""
        low, high = 0, len(self.sat_rows) - 1
        while high - low > 1:
            middle = (low + high) // 2
            if self.sat_rows[middle][0] > t_dew:
                high = middle
            else:
                low = middle
        a, b = self.sat_rows[low][0], self.sat_rows[high][0]
        return self.lnp_min + self.sat_step * (low + min(1.0, max(0.0, (t_dew - a) / (b - a))))

    def _cell(self, lnp: float) -> tuple[int, float]:
        x = (lnp - self.lnp_min) / self.p_step
        i = min(max(int(x), 0), _P_NODES - 2)
        return i, min(max(x - i, 0.0), 1.0)

    def vapour(self, lnp: float, superheat: float) -> tuple[float, float, float]:
        """Enthalpy [J/kg], entropy [J/(kg K)] and density [kg/m3] at ln p and superheat above dew [K]."""
        i, f = self._cell(lnp)
        x = superheat / _STEP_K
        j = min(max(int(x), 0), _SUPERHEAT_NODES - 2)
        g = x - j
        row0, row1 = self.vapour_rows[i], self.vapour_rows[i + 1]
        w00, w01, w10, w11 = (1.0 - f) * (1.0 - g), (1.0 - f) * g, f * (1.0 - g), f * g
        a, b, c, d = row0[j], row0[j + 1], row1[j], row1[j + 1]
        return (
            a[0] * w00 + b[0] * w01 + c[0] * w10 + d[0] * w11,
            a[1] * w00 + b[1] * w01 + c[1] * w10 + d[1] * w11,
            (a[2] * w00 + b[2] * w01 + c[2] * w10 + d[2] * w11) * math.exp(lnp),
        )

    def superheat_of(self, lnp: float, value: float, column: int) -> float:
        """Find the superheat [K] at which the vapour's enthalpy (column 0) or entropy (1) is `value`."""
        i, f = self._cell(lnp)
        row0, row1 = self.vapour_rows[i], self.vapour_rows[i + 1]
        low, high = 0, _SUPERHEAT_NODES - 1
        while high - low > 1:
            middle = (low + high) // 2
            if row0[middle][column] * (1.0 - f) + row1[middle][column] * f > value:
                high = middle
            else:
                low = middle
        a = row0[low][column] * (1.0 - f) + row1[low][column] * f
        b = row0[low + 1][column] * (1.0 - f) + row1[low + 1][column] * f
        return _STEP_K * (low + (value - a) / (b - a))

    def liquid(self, lnp: float, subcooling: float) -> float:
        """Enthalpy [J/kg] of the liquid at ln p and subcooling below bubble [K]."""
        i, f = self._cell(lnp)
        x = subcooling / _STEP_K
        j = min(max(int(x), 0), _SUBCOOLING_NODES - 2)
        g = x - j
        row0, row1 = self.liquid_rows[i], self.liquid_rows[i + 1]
        return (row0[j] * (1.0 - g) + row0[j + 1] * g) * (1.0 - f) + (
            row1[j] * (1.0 - g) + row1[j + 1] * g
        ) * f


def _saturation_column(state: Any, lnp: NDArray[np.float64], quality: float) -> NDArray[np.float64]:
    """Tabulate T, h, rho on one saturation line; nodes the library cannot solve are bridged by a series."""
    table = np.full((lnp.size, 3), np.nan)
    for k, value in enumerate(lnp):
        try:
            state.update(PQ_INPUTS, math.exp(value), quality)
        except ValueError:
            continue
        table[k] = state.T(), state.hmass(), state.rhomass()
    good = np.isfinite(table[:, 0])
    for column in range(3):
        if not good.all():
            fit = np.polynomial.Chebyshev.fit(lnp[good], table[good, column], 12)
            table[~good, column] = fit(lnp[~good])
    return table


@cache
def refrigerant(name: str) -> Refrigerant:
    """Build (once) the property tables of a refrigerant.

    Parameters
    ----------
    name : str
        One of `SUPPORTED`.

    Returns
    -------
    Refrigerant

    Raises
    ------
    ValueError
        If the refrigerant is not one of `SUPPORTED`.

    Notes
    -----
    The equations of state are those of CoolProp; R410A and R407C are its pseudo-pure fluids, R454B its
    predefined mixture. Between nodes the tables are linear; the tests compare them with the library.

    Examples
    --------
    >>> r = refrigerant("R410A")
    >>> round(r.saturation(math.log(6.8332e5)).t_dew - 273.15, 1)
    -4.8
    """
    if name not in _NAMES:
        raise ValueError(
            f"The simulated plant has no refrigerant {name!r}; choose one of {', '.join(SUPPORTED)}."
        )
    state: Any = AbstractState("HEOS", _NAMES[name])
    # The library's search for this blend's critical point fails; its pressure is 5.27 MPa.
    p_max = 0.87 * 5.27e6 if name == "R454B" else 0.95 * state.p_critical()
    lnp = np.linspace(math.log(_P_MIN), math.log(p_max), _NODES)
    coarse = np.linspace(lnp[0], lnp[-1], _P_NODES)
    nodes = np.linspace(lnp[0], lnp[-1], 160) if name == "R454B" else lnp
    liquid = _saturation_column(state, nodes, 0.0)
    vapour = _saturation_column(state, nodes, 1.0)
    if nodes is not lnp:
        liquid = _resample(nodes, liquid, lnp)
        vapour = _resample(nodes, vapour, lnp)
    t_dew = np.interp(coarse, lnp, vapour[:, 0])
    t_bubble = np.interp(coarse, lnp, liquid[:, 0])
    vapour_rows = _single_phase(state, coarse, t_dew, _SUPERHEAT_NODES, iphase_gas, +1.0)
    liquid_rows = _single_phase(state, coarse, t_bubble, _SUBCOOLING_NODES, iphase_liquid, -1.0)
    cp_vapour = np.interp(lnp, coarse, [(row[1][0] - row[0][0]) / _STEP_K for row in vapour_rows])
    cp_liquid = np.interp(lnp, coarse, [(row[0][0] - row[1][0]) / _STEP_K for row in liquid_rows])
    columns = (
        vapour[:, 0],
        liquid[:, 0],
        liquid[:, 1],
        vapour[:, 1],
        liquid[:, 2],
        vapour[:, 2],
        cp_liquid,
        cp_vapour,
        mean_two_phase_density(liquid[:, 2], vapour[:, 2], 0.0, 1.0),
        mean_two_phase_density(liquid[:, 2], vapour[:, 2], 0.2, 1.0),
        np.gradient(vapour[:, 0], lnp),
    )
    return Refrigerant(
        name=name,
        lnp_min=float(lnp[0]),
        lnp_max=float(lnp[-1]),
        sat_step=float(lnp[1] - lnp[0]),
        sat_rows=[tuple(float(c[k]) for c in columns) for k in range(_NODES)],
        p_step=float(coarse[1] - coarse[0]),
        vapour_rows=vapour_rows,
        liquid_rows=[[point[0] for point in row] for row in liquid_rows],
    )


def _resample(
    nodes: NDArray[np.float64], table: NDArray[np.float64], lnp: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Bring a table from few nodes to many by a series in ln p (a blend call is some ten times dearer)."""
    fine = np.full((lnp.size, 3), np.nan)
    for column in range(3):
        fine[:, column] = np.polynomial.Chebyshev.fit(nodes, table[:, column], 16)(lnp)
    return fine


def _single_phase(
    state: Any, lnp: NDArray[np.float64], t_line: NDArray[np.float64], count: int, phase: int, sign: float
) -> list[list[tuple[float, float, float]]]:
    """Tabulate h, s and rho/p beside a saturation line, `count` nodes of `_STEP_K` away from it."""
    state.specify_phase(phase)
    rows: list[list[tuple[float, float, float]]] = []
    for value, t_saturation in zip(lnp, t_line, strict=True):
        p = math.exp(value)
        row: list[tuple[float, float, float]] = []
        for j in range(count):
            t = float(t_saturation) + sign * j * _STEP_K
            try:
                state.update(PT_INPUTS, p, t)
                point = (state.hmass(), state.smass(), state.rhomass() / p)
            except ValueError:
                # Outside the equation's range of temperature: carried on along the last step.
                point = tuple(2.0 * a - b for a, b in zip(row[-1], row[-2], strict=True))  # type: ignore[assignment]
            row.append(point)
        rows.append(row)
    state.unspecify_phase()
    return rows
