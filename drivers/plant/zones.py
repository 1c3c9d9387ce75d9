"""What the circuit's equations are given: coils and circuit as they are now, and their small functions."""

from __future__ import annotations

import math
from dataclasses import dataclass

from drivers.plant.humid_air import MoistAir
from drivers.plant.parts import Compressor, ExpansionValve
from drivers.plant.refrigerants import Refrigerant


@dataclass(slots=True)
class CoilNow:
    """A coil as it is now: conductances [W/K] with fluid film, wall, scale and ice already in series."""

    ua_two_phase: float
    ua_vapour: float
    ua_liquid: float
    volume: float
    heat_capacity: float
    t_in: float
    capacity_rate: float
    water_heat_capacity: float
    stagnant: float
    capacity_slope: float = 0.0
    air: MoistAir | None = None
    w_in: float = 0.0
    ua_air: float = 0.0
    ua_refrigerant: float = 0.0
    m_air: float = 0.0


@dataclass(slots=True)
class CircuitNow:
    """Everything the rates depend on besides the state itself.

    Liquid let into the evaporator wets its walls partly at once (`front_share`), the rest as it travels along
    (`front_time` [s]); the later it does, the sooner the valve overshoots.
    """

    refrigerant: Refrigerant
    compressor: Compressor
    valve: ExpansionValve
    evaporator: CoilNow
    condenser: CoilNow
    charge: float
    receiver_volume: float
    liquid_line_volume: float
    suction_volume: float
    suction_line_ua: float
    t_ambient: float
    running: bool = True
    voltage_ratio: float = 1.0
    valve_leak: float = 0.0
    crossover_leak: float = 0.0
    restriction: float = 0.0
    valve_capacity: float = 1.0
    valve_shift: float = 0.0
    valve_gain: float = 1.0
    front_share: float = 0.3
    front_time: float = 9.0
    gas_moles: float = 0.0
    condensing_derate: float = 1.0
    steady: bool = False


def water_heat(coil: CoilNow, t_out: float) -> float:
    """Heat [W] the water gives up between its entry and `t_out` [K]; c_p at the mean temperature."""
    rise = t_out - coil.t_in
    return -coil.capacity_rate * rise * (1.0 + 0.5 * coil.capacity_slope * rise)


def log_mean(d1: float, d2: float) -> float:
    """Give the logarithmic mean of two differences, kept finite when one of them vanishes or changes sign."""
    s = d1 + d2
    if s == 0.0:
        return 0.0
    a, b = d1 / s, d2 / s
    if a < 0.02:
        a, b = 0.02, 0.98
    elif b < 0.02:
        a, b = 0.98, 0.02
    if abs(a - b) < 1e-4:
        return 0.5 * s
    return s * (a - b) / math.log(a / b)


def positive_part(x: float, width: float) -> float:
    """Give x where it is positive, else 0, with a rounded corner of half-width `width` for the solver's sake.

    Outside the corner it is exact, so that no liquid leaves a dry evaporator and no gas a flooded condenser.

    Examples
    --------
    >>> positive_part(0.5, 0.02), positive_part(-0.5, 0.02), positive_part(0.0, 0.02)
    (0.5, 0.0, 0.005)
    """
    if x <= -width:
        return 0.0
    if x >= width:
        return x
    return (x + width) * (x + width) / (4.0 * width)
