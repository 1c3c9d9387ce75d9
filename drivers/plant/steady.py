"""The steady state of the simulated machine."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from drivers.plant.circuit import CircuitRates, CircuitState, rates
from drivers.plant.configure import Boundary, Configured, configure, power_to_current
from drivers.plant.faults import Faults
from drivers.plant.parts import Machine
from drivers.plant.refrigerants import refrigerant
from drivers.plant.zones import CircuitNow


@dataclass(frozen=True, slots=True)
class State:
    """The machine at one moment (SI; pressures absolute; heat into the refrigerant positive).

    `superheat` is 0 where liquid reaches the compressor (the enthalpies tell how much). `t_condensing` is the
    bubble temperature of the refrigerant that condenses; with non-condensable gas the gauge shows more
    (`p_discharge`, `subcooling`). NaN where a quantity does not exist (humidity on a water coil).
    `liquid_at_suction` and `gas_at_liquid` are the mass shares of liquid leaving the evaporator and of gas
    leaving the condenser; `wet` and `flooded` the shares of the coils' surfaces.
    """

    p_suction: float
    p_discharge: float
    t_evaporating: float
    t_evaporator_out: float
    t_condensing: float
    t_suction: float
    t_discharge: float
    t_liquid: float
    superheat: float
    subcooling: float
    m_compressor: float
    m_evaporator: float
    h_suction: float
    h_evaporator_out: float
    h_discharge: float
    h_liquid: float
    q_evaporator: float
    q_condenser: float
    q_line: float
    q_sensible: float
    power: float
    current: float
    source_flow: float
    source_drop: float
    t_source_in: float
    t_source_out: float
    load_flow: float
    t_load_in: float
    t_load_out: float
    w_load_in: float
    w_load_out: float
    t_condensate: float
    pump_current: float
    pump_speed: float
    voltage: float
    valve_opening: float
    wet: float
    flooded: float
    liquid_at_suction: float
    gas_at_liquid: float
    m_evaporator_charge: float
    m_condenser_charge: float
    running: bool


class NoSteadyStateError(RuntimeError):
    """The machine has no steady state here (or none was found); the message says where the search ended."""


def to_state(y: CircuitState, r: CircuitRates, c: Configured, machine: Machine, boundary: Boundary) -> State:
    """Gather a `State` from the circuit's states, rates and the configuration."""
    heating = c.source_is_evaporator
    circuit = c.circuit
    load = circuit.condenser if heating else circuit.evaporator
    return State(
        p_suction=r.p_suction,
        p_discharge=r.p_discharge,
        t_evaporating=r.t_evaporating,
        t_evaporator_out=r.t_evaporator_out,
        t_condensing=r.t_condensing,
        t_suction=r.t_suction,
        t_discharge=r.t_discharge,
        t_liquid=r.t_liquid,
        superheat=max(r.superheat, 0.0),
        subcooling=r.subcooling,
        m_compressor=r.m_compressor,
        m_evaporator=r.m_evaporator,
        h_suction=r.h_suction,
        h_evaporator_out=r.h_evaporator_out,
        h_discharge=r.h_discharge,
        h_liquid=r.h_liquid,
        q_evaporator=r.q_evaporator,
        q_condenser=-r.q_condenser,
        q_line=r.q_line,
        q_sensible=r.q_sensible,
        power=r.power,
        current=power_to_current(r.power, c.voltage, machine.compressor.power_factor),
        source_flow=c.source.flow,
        source_drop=c.source.coil_drop,
        t_source_in=boundary.t_source_in,
        t_source_out=r.t_out_e if heating else r.t_out_c,
        load_flow=c.load_flow,
        t_load_in=boundary.t_load_in,
        t_load_out=r.t_out_c if heating else r.t_out_e,
        w_load_in=load.w_in if load.air is not None else math.nan,
        w_load_out=(load.w_in if heating else r.w_out_e) if load.air is not None else math.nan,
        t_condensate=r.t_surface,
        pump_current=c.source.pump_current,
        pump_speed=c.source.pump_speed,
        voltage=c.voltage,
        valve_opening=r.opening,
        wet=r.wet,
        flooded=r.flooded,
        liquid_at_suction=r.wetness,
        gas_at_liquid=r.flash,
        m_evaporator_charge=y.m_e,
        m_condenser_charge=r.m_c,
        running=circuit.running,
    )


def solve(machine: Machine, boundary: Boundary, faults: Faults | None = None) -> State:
    """Find the steady state: every rate of the circuit is zero.

    Newton's method on (ln p_e, ln p_c, evaporator mass, both waters out); where it does not arrive, the
    circuit is marched through time and Newton tried again from there.

    Parameters
    ----------
    machine : Machine
    boundary : Boundary
    faults : Faults, optional

    Returns
    -------
    State

    Raises
    ------
    NoSteadyStateError
        If the search does not end (a machine that would trip or run dry).
    """
    c = configure(machine, boundary, faults or Faults())
    y, r = steady_state(c.circuit)
    return to_state(y, r, c, machine, boundary)


def gauge_bubble(machine: Machine, s: State) -> float:
    """Bubble temperature [K] at the pressure a gauge shows on the high side (gas included)."""
    return refrigerant(machine.refrigerant).saturation(math.log(s.p_discharge)).t_bubble


def first_guess(c: CircuitNow) -> CircuitState:
    """Guess a running state from the entering temperatures."""
    ref = c.refrigerant
    t_e = c.evaporator.t_in - (11.0 if c.evaporator.air is None else 18.0)
    t_c = c.condenser.t_in + 12.0
    lnp_e, lnp_c = ref.lnp_of_dew(t_e), ref.lnp_of_dew(t_c)
    e = ref.saturation(lnp_e)
    m_e = c.evaporator.volume * (0.8 * e.rho_boiling + 0.2 * e.rho_vapour)
    return CircuitState(
        lnp_e,
        lnp_c,
        m_e,
        c.evaporator.t_in - 4.0,
        c.condenser.t_in + 5.0,
        t_c + 35.0,
        t_e + 6.0,
        0.8,
    )


_UNKNOWNS = 5
_STEPS = (1e-5, 1e-5, 1e-6, 1e-4, 1e-4)
_LIMITS = (0.12, 0.08, 0.06, 3.0, 3.0)


def _with(y: CircuitState, x: np.ndarray[tuple[int], np.dtype[np.float64]]) -> CircuitState:
    return CircuitState(
        float(x[0]), float(x[1]), float(x[2]), float(x[3]), float(x[4]), y.t_shell, y.t_bulb, y.front
    )


def _residual(y: CircuitState, c: CircuitNow) -> tuple[list[float], CircuitRates]:
    """Heat and mass balances in comparable size: about 1 for a kilowatt."""
    r = rates(y, c)
    d = r.rates
    return [
        d.lnp_e * 100.0,
        d.lnp_c * 100.0,
        d.m_e / (c.compressor.swept_flow * 20.0),
        d.t_water_e * c.evaporator.water_heat_capacity / 1000.0,
        d.t_water_c * c.condenser.water_heat_capacity / 1000.0,
    ], r


def _newton(y: CircuitState, c: CircuitNow, rounds: int = 40) -> tuple[CircuitState, CircuitRates] | None:
    ref = c.refrigerant
    f, r = _residual(y, c)
    norm = math.sqrt(sum(v * v for v in f))
    for _ in range(rounds):
        if norm < 1e-7:
            return y, r
        jacobian = np.empty((_UNKNOWNS, _UNKNOWNS))
        for j in range(_UNKNOWNS):
            x = list(y)
            x[j] += _STEPS[j]
            g, _r = _residual(CircuitState(*x), c)
            jacobian[:, j] = [(b - a) / _STEPS[j] for a, b in zip(f, g, strict=True)]
        # An air coil holds no water: its two unknowns stand still.
        for j, coil in ((3, c.evaporator), (4, c.condenser)):
            if coil.air is not None:
                jacobian[j, :] = 0.0
                jacobian[:, j] = 0.0
                jacobian[j, j] = 1.0
        try:
            step = np.linalg.solve(jacobian, -np.array(f))
        except np.linalg.LinAlgError:
            return None
        shrink = max(1.0, *(abs(float(step[j])) / _LIMITS[j] for j in range(_UNKNOWNS)))
        step /= shrink
        for cut in range(9):
            trial = _with(y, np.array(y[:_UNKNOWNS]) + step * 0.5**cut)
            if not (ref.lnp_min < trial.lnp_e < trial.lnp_c < ref.lnp_max and 0.0 < trial.m_e < c.charge):
                continue
            g, r_new = _residual(trial, c)
            new = math.sqrt(sum(v * v for v in g))
            # A kink may need one step uphill; the last, smallest one is taken as it is.
            if new < norm or cut == 8:
                y, f, r, norm = trial, g, r_new, new
                break
        else:
            return None
    return (y, r) if norm < 1e-5 else None


def steady_state(c: CircuitNow) -> tuple[CircuitState, CircuitRates]:
    """Solve all rates to zero; see `solve`."""
    c.steady = True
    y = first_guess(c)
    gain = c.valve_gain
    if gain > 1.0:
        # A steep valve leaves Newton no way in from afar: it is approached from the gentle one's equilibrium.
        c.valve_gain = 1.0
        gentle = _newton(y, c)
        y = gentle[0] if gentle is not None else y
        c.valve_gain = math.sqrt(gain)
        middle = _newton(y, c)
        y = middle[0] if middle is not None else y
        c.valve_gain = gain
    found = _newton(y, c)
    span = 0
    while found is None and span < 6:
        # Far from the answer the balances have kinks; time itself leads there.
        y = march(y, c, 150.0, 0.25)
        found = _newton(y, c)
        span += 1
    c.steady = False
    if found is None:
        raise NoSteadyStateError(
            f"No steady state found; the search ended at {math.exp(y.lnp_e) / 1e5:.2f} and "
            f"{math.exp(y.lnp_c) / 1e5:.2f} bar absolute. Lower the severities or mend the boundary."
        )
    y, r = found
    y = y._replace(t_shell=r.t_discharge, t_bulb=r.t_evaporator_out, front=r.fill)
    return y, r


def march(y: CircuitState, c: CircuitNow, seconds: float, step: float) -> CircuitState:
    """Carry the circuit through time by explicit steps (its fastest time constant is above 1 s)."""
    for _ in range(max(1, round(seconds / step))):
        y = advance(y, rates(y, c).rates, step, c)
    return y


def advance(y: CircuitState, d: CircuitState, step: float, c: CircuitNow) -> CircuitState:
    """One explicit step, kept inside the tables and the charge."""
    ref = c.refrigerant
    return CircuitState(
        min(max(y.lnp_e + d.lnp_e * step, ref.lnp_min), ref.lnp_max),
        min(max(y.lnp_c + d.lnp_c * step, ref.lnp_min), ref.lnp_max),
        min(max(y.m_e + d.m_e * step, 0.002), 0.98 * c.charge),
        y.t_water_e + d.t_water_e * step,
        y.t_water_c + d.t_water_c * step,
        y.t_shell + d.t_shell * step,
        y.t_bulb + d.t_bulb * step,
        y.front + d.front * step,
    )
