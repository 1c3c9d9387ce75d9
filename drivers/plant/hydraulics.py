"""Water flow of the simulated loops: pump curve and motor against the circuit's resistance."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from drivers.plant.faults import Faults
from drivers.plant.liquids import Liquid
from drivers.plant.parts import Loop, Pump, WaterCoil


@dataclass(frozen=True, slots=True)
class PumpPoint:
    """Where the pump's motor settles: speed over synchronous speed, current [A]."""

    speed: float
    current: float


def pump_point(pump: Pump, voltage: float, weak_capacitor: float, load: float) -> PumpPoint:
    """Find the speed at which the motor's torque carries the impeller, and the current it then draws.

    Torque of an induction motor ~ V^2 k 2 / (slip/slip_k + slip_k/slip), where a weak capacitor lowers k
    as (C/C_marked)^1.25 (the auxiliary winding no longer gives a round field); load torque ~ `load` s^2.

    Parameters
    ----------
    pump : Pump
    voltage : float [V]
    weak_capacitor : float [-]
        Share of the marked capacitance that is lost.
    load : float [-]
        Hydraulic load over that at the rated point.

    Returns
    -------
    PumpPoint
    """
    ratio = voltage / pump.voltage
    if ratio < 0.2:
        return PumpPoint(0.0, 0.0)
    breakdown = pump.breakdown_torque * ratio**2 * math.pow(1.0 - 0.98 * weak_capacitor, 1.25)
    low, high = 0.02, 0.95  # slip: below the first root the torque is too small to carry the impeller
    slip = high
    for k in range(1, 94):
        trial = 0.02 + 0.01 * k
        torque = 2.0 * breakdown / (trial / pump.breakdown_slip + pump.breakdown_slip / trial)
        if torque >= load * (1.0 - trial) ** 2:
            slip = trial
            break
    low, high = slip - 0.01, slip
    for _ in range(20):
        middle = 0.5 * (low + high)
        torque = 2.0 * breakdown / (middle / pump.breakdown_slip + pump.breakdown_slip / middle)
        if torque >= load * (1.0 - middle) ** 2:
            high = middle
        else:
            low = middle
    slip = high
    rotor = pump.current_rotor * ratio * slip / math.hypot(slip, pump.breakdown_slip)
    return PumpPoint(1.0 - slip, math.hypot(pump.current_magnetising * ratio, rotor))


@dataclass(frozen=True, slots=True)
class LoopPoint:
    """Flow [m3/s] and pressure drops [Pa] of a circuit, with its pump's speed and current."""

    flow: float
    coil_drop: float
    strainer_drop: float
    pipe_drop: float
    pump_speed: float
    pump_current: float


def coil_resistance(coil: WaterCoil, liquid: Liquid, t: float, scale: float, ice: float) -> float:
    """Give the pressure drop [Pa] of the coil at its rated flow and the liquid temperature `t` [K].

    A layer narrows the bore: drop ~ bore^-4.75 at the same flow (turbulent, Blasius); friction ~ mu^0.2.
    """
    narrowing = math.pow(1.0 - 0.13 * scale - 0.22 * ice, -4.75)
    return coil.dp_rated * narrowing * math.pow(liquid.mu(t) / coil.dp_viscosity, 0.2)


def loop_point(
    loop: Loop,
    coil: WaterCoil,
    liquid: Liquid,
    t: float,
    voltage: float,
    faults: Faults,
    running: bool = True,
) -> LoopPoint:
    """Solve the source circuit: the flow at which the pump's head meets every resistance in series.

    Parameters
    ----------
    loop, coil, liquid : circuit, the machine's coil in it, its liquid
    t : float [K]
        Liquid temperature.
    voltage : float [V]
        At the pump.
    faults : Faults
    running : bool
        False: pump off or well valve shut.

    Returns
    -------
    LoopPoint
    """
    k_coil = coil_resistance(coil, liquid, t, faults.scaled_source_coil, faults.iced_source_coil)
    k_coil /= math.pow(coil.flow_rated, coil.dp_exponent)
    k_pipe = loop.pipe_dp / math.pow(loop.flow_rated, 1.8)
    open_area = 1.0 - 0.95 * faults.clogged_strainer
    k_strainer = loop.strainer_dp / loop.flow_rated**2 / open_area**2
    if not running:
        return LoopPoint(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)

    def drop(v: float) -> float:
        return k_coil * math.pow(v, coil.dp_exponent) + k_pipe * math.pow(v, 1.8) + k_strainer * v * v

    if loop.pump is None:
        available = loop.supply_pressure * (1.0 - 0.3 * faults.air_in_loop)
        flow = _root(lambda v: available - drop(v), loop.regulated_flow)
        power = math.pow(flow, 1.8)
        return LoopPoint(
            flow, k_coil * math.pow(flow, coil.dp_exponent), k_strainer * flow**2, k_pipe * power, 0.0, 0.0
        )
    pump = loop.pump
    point = PumpPoint(0.95, 0.0)
    flow = loop.flow_rated
    for _ in range(6):
        # The shaft's load follows the flow: some 60 % of the rated torque remains at closed valve.
        load = 0.6 + 0.4 * min(flow / (loop.flow_rated * max(point.speed, 0.05)), 1.5)
        point = pump_point(pump, voltage, faults.weak_pump_capacitor, load)
        head_0 = pump.head_0 * point.speed**2 * (1.0 - 0.45 * faults.air_in_loop)
        # The pump's curve head_0 - c V^2 against the drops: the surplus falls with V.
        flow = _root(_surplus(head_0, pump.head_curve, drop), 3.0 * loop.flow_rated)
    power = math.pow(flow, 1.8)
    return LoopPoint(
        flow,
        k_coil * math.pow(flow, coil.dp_exponent),
        k_strainer * flow**2,
        k_pipe * power,
        point.speed,
        point.current,
    )


def _surplus(head_0: float, head_curve: float, drop: Callable[[float], float]) -> Callable[[float], float]:
    return lambda v: head_0 - head_curve * v * v - drop(v)


def _root(f: Callable[[float], float], high: float) -> float:
    """Bisect a falling function on [0, high]; `high` itself where the function stays positive."""
    if f(high) >= 0.0:
        return high
    low = 0.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        if f(middle) >= 0.0:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
