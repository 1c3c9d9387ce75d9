"""The refrigerant circuit as four states beside the saturation dome: for teaching, and to see what cannot be.

1 suction line, 2 discharge line, 3 liquid line, 4 evaporator inlet. The first three are measured by pressure
and temperature. The fourth lies at the suction pressure with the liquid's enthalpy, since a valve neither
takes heat nor work (assumed, common practice); nothing is measured there. A state that a reading does not
give has no value, and says why.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analysis.elementwise import FloatOrArray
from analysis.phase_enthalpy import PhaseEnthalpy
from analysis.saturation import SaturationCurve

TWO_PHASE = {
    "suction": "not above its dew temperature: it may carry liquid",
    "discharge": "not above its dew temperature: it may carry liquid",
    "liquid": "not below its bubble temperature: it may carry gas",
}


@dataclass(frozen=True, slots=True)
class Measured:
    """A pressure or a temperature with its standard uncertainty, SI; NaN where it is not known."""

    value: float = math.nan
    u: float = math.nan
    lack: str = ""
    """Why it is not known, such as ``suction line not fitted``."""


@dataclass(frozen=True, slots=True)
class Corner:
    """One state of the circuit."""

    number: int
    name: str
    p: float
    """Absolute pressure [Pa]."""
    t: float
    """Temperature [K]; NaN at the evaporator inlet, which lies between bubble and dew line."""
    h: float
    """Specific enthalpy [J/kg]."""
    u: float
    """Its standard uncertainty [J/kg]; NaN where an instrument promises nothing."""
    assumed: str = ""
    lack: str = ""

    @property
    def known(self) -> bool:
        """Whether it can be drawn."""
        return math.isfinite(self.h) and math.isfinite(self.p)


@dataclass(frozen=True, slots=True)
class Cycle:
    """The four states."""

    corners: tuple[Corner, Corner, Corner, Corner]

    def rise(self, begin: int, end: int) -> tuple[float, float]:
        """Give the enthalpy of one state less that of another, and its standard uncertainty [J/kg].

        The uncertainties are added in squares; what both states share makes them smaller, so this is no
        less than the true one.
        """
        one, other = self.corners[begin - 1], self.corners[end - 1]
        return other.h - one.h, math.hypot(one.u, other.u)

    @property
    def impossible(self) -> str:
        """Say what cannot be in a running machine; empty where nothing contradicts."""
        suction, discharge, liquid, _ = self.corners
        if discharge.known and suction.known and discharge.h <= suction.h:
            return "the discharge gas holds no more heat than the suction gas"
        if liquid.known and suction.known and liquid.h >= suction.h:
            return "the liquid holds more heat than the suction gas"
        return ""


def cycle_of(
    curve: SaturationCurve, enthalpy: PhaseEnthalpy, *, suction: tuple[Measured, Measured],
    discharge: tuple[Measured, Measured], liquid: tuple[Measured, Measured],
) -> Cycle:  # fmt: skip
    """Work the four states out.

    Parameters
    ----------
    curve, enthalpy
        Saturation and single-phase enthalpy of the declared refrigerant.
    suction, discharge, liquid
        Absolute pressure [Pa] and temperature [K] of each line. Where the liquid line has no pressure of its
        own, the discharge pressure stands for it.

    Examples
    --------
    >>> from analysis.saturation import refrigerant
    >>> r410a = refrigerant("R410A")
    >>> hall = cycle_of(r410a, PhaseEnthalpy(r410a), suction=(Measured(609.3e3), Measured(270.75)),
    ...     discharge=(Measured(2553.3e3), Measured(358.15)), liquid=(Measured(2553.3e3), Measured(303.75)))
    >>> [round(corner.h / 1e3) for corner in hall.corners]
    [425, 484, 249, 249]
    """
    gas, fluid = enthalpy.gas, enthalpy.liquid
    one = _corner(1, "suction", suction, gas, enthalpy.gas_error, curve.t_dew, 1.0)
    two = _corner(2, "discharge", discharge, gas, enthalpy.gas_error, curve.t_dew, 1.0)
    three = _corner(3, "liquid", liquid, fluid, enthalpy.liquid_error, curve.t_bubble, -1.0)
    lack = "" if three.known else "needs the state of the liquid"
    lack = lack if math.isfinite(suction[0].value) else suction[0].lack or "needs the suction pressure"
    four = Corner(
        4, "evaporator inlet", suction[0].value if not lack else math.nan, math.nan,
        three.h if not lack else math.nan, three.u if not lack else math.nan,
        "as the liquid: the valve takes neither heat nor work", lack,
    )  # fmt: skip
    return Cycle((one, two, three, four))


def _corner(
    number: int, name: str, line: tuple[Measured, Measured], enthalpy: Callable[[float, float], FloatOrArray],
    error: float, saturated: Callable[[float], float], side: float,
) -> Corner:  # fmt: skip
    p, t = line
    if not (math.isfinite(p.value) and math.isfinite(t.value)):
        return Corner(number, name, p.value, t.value, math.nan, math.nan, lack=p.lack or t.lack)
    h = float(enthalpy(p.value, t.value))
    if not math.isfinite(h):
        away = side * (t.value - float(saturated(p.value)))
        lack = TWO_PHASE[name] if away < 0.0 else "outside the refrigerant's tables"
        return Corner(number, name, p.value, t.value, math.nan, math.nan, lack=lack)
    # The function's own slope on the side away from saturation (GUM 5.1.3), and the table's deviation taken
    # as a rectangle.
    by_t = _slope(lambda step: enthalpy(p.value, t.value + step), h, side * 0.5) * t.u
    by_p = _slope(lambda step: enthalpy(p.value + step, t.value), h, -side * 0.005 * p.value) * p.u
    u = math.sqrt(by_t**2 + by_p**2 + error**2 / 3.0)
    return Corner(number, name, p.value, t.value, h, u)


def _slope(at: Callable[[float], FloatOrArray], here: float, step: float) -> float:
    """Give how much a function changes per step; the other way where one side is out of range."""
    ways = (abs(float(at(way)) - here) / abs(step) for way in (step, -step))
    return next((slope for slope in ways if math.isfinite(slope)), math.nan)


def isotherm(
    curve: SaturationCurve, enthalpy: PhaseEnthalpy, t: float, p_low: float, p_high: float, count: int = 24
) -> tuple[tuple[float, float], ...]:
    """Give points (enthalpy [J/kg], pressure [Pa]) of one temperature, from the liquid through to the gas.

    Parameters
    ----------
    t
        Temperature [K].
    p_low, p_high
        Range of absolute pressure [Pa].
    count
        How many points a side has.
    """
    p_bubble, p_dew = float(curve.p_bubble(t)), float(curve.p_dew(t))
    points: list[tuple[float, float]] = []
    if math.isfinite(p_bubble) and p_bubble < p_high:
        p = np.exp(np.linspace(math.log(p_high), math.log(max(p_bubble, p_low)), count))
        points += zip(np.asarray(enthalpy.liquid(p, np.full(count, t))).tolist(), p.tolist(), strict=True)
        points.append((float(curve.h_bubble(p_bubble)), p_bubble))
    begin = p_high
    if math.isfinite(p_dew):
        points.append((float(curve.h_dew(p_dew)), p_dew))
        begin = min(p_dew, p_high)
    p = np.exp(np.linspace(math.log(begin), math.log(p_low), count))
    points += zip(np.asarray(enthalpy.gas(p, np.full(count, t))).tolist(), p.tolist(), strict=True)
    return tuple((h, p) for h, p in points if math.isfinite(h) and p_low <= p <= p_high)
