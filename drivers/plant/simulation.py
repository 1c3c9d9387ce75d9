"""The simulated machine through time: control, pump, loops, circuit and probes, one row a second."""

from __future__ import annotations

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import NamedTuple

from drivers.plant.circuit import CircuitRates, CircuitState, rates
from drivers.plant.configure import Boundary, Configured, configure, supply_voltage
from drivers.plant.control import ControlCircuit
from drivers.plant.faults import Faults
from drivers.plant.hydraulics import LoopPoint, loop_point
from drivers.plant.liquids import liquid
from drivers.plant.parts import Loop, Machine
from drivers.plant.refrigerants import refrigerant
from drivers.plant.sensors import Dropout, Probe, Sensors, built_probes
from drivers.plant.steady import State, advance, to_state

SUBSTEP = 0.25
ZERO_C = 273.15


class Row(NamedTuple):
    """One second: plant time [s], the true state (SI), true values and indications in the channels' units."""

    t: float
    state: State
    true: dict[str, float]
    readings: dict[str, float]
    chain: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Scenario:
    """What `simulate` runs: a machine at a site, with faults, for a while.

    `changes` are times [s] from which other faults hold. `call_at` is when the thermostat calls.
    `reservoir_source` and `reservoir_load` [K] are what the loops' water exchanges heat with (NaN: the
    entering temperature is held at the boundary's), `t_rest` [K] the standing machine's refrigerant (NaN:
    the coldest surroundings), `t_winding` [K] the pump's winding at the start.
    """

    machine: Machine
    boundary: Boundary
    faults: Faults
    probes: dict[str, Probe]
    call_at: float = 30.0
    reservoir_source: float = math.nan
    reservoir_load: float = math.nan
    dropouts: tuple[Dropout, ...] = ()
    changes: tuple[tuple[float, Faults], ...] = ()
    t_rest: float = math.nan
    t_winding: float = math.nan


class Plant:
    """The marching simulation; `step` carries it one second further and gives a `Row`."""

    def __init__(self, scenario: Scenario, seed: int = 1) -> None:
        self._s = scenario
        self._rng = random.Random(seed)  # noqa: S311 - noise of a simulated probe
        probes = built_probes(scenario.probes, seed)
        self._sensors = Sensors(probes, random.Random(seed + 7919), scenario.dropouts)  # noqa: S311
        self._machine = scenario.machine
        self._faults = scenario.faults
        self._boundary = scenario.boundary
        self._control = ControlCircuit(scenario.machine.control, scenario.boundary.mode == "cooling")
        self._second = 0
        self._source_flow = 0.0
        self._load_flow = 0.0
        winding = scenario.t_winding
        self._winding = scenario.boundary.t_ambient if math.isnan(winding) else winding
        self._protector_closed = True
        self._voltage_wander = 0.0
        self._bubbles = 0.0
        self._loop_cache: tuple[tuple[object, ...], LoopPoint] | None = None
        self._full: LoopPoint | None = None
        self._last: CircuitRates | None = None
        self._y = self._at_rest()

    def _at_rest(self) -> CircuitState:
        """Give a machine that has stood: one pressure, set by the colder coil, which holds the liquid."""
        s = self._s
        rest = s.t_rest
        t_water = s.boundary.t_source_in, s.boundary.t_load_in
        if math.isnan(rest):
            rest = min(*t_water, s.boundary.t_ambient)
        ref = refrigerant(self._machine.refrigerant)
        lnp = ref.lnp_of_dew(rest)
        k = ref.saturation(lnp)
        boils_source = s.boundary.mode == "heating"
        quiet = self._machine.load_coil if boils_source else self._machine.source_coil
        charge = configure(self._machine, s.boundary, s.faults).circuit.charge
        # What is not gas in the condenser and the lines lies in the colder coil, part of it in the oil.
        gas = k.rho_vapour * (quiet.volume + self._machine.suction_volume)
        m_e = charge - gas - self._machine.liquid_line_volume * k.rho_liquid
        e_in, c_in = t_water if boils_source else t_water[::-1]
        return CircuitState(lnp, lnp, m_e, e_in, c_in, s.boundary.t_ambient, rest, 1.0)

    def step(self) -> Row:
        """Carry the plant one second further."""
        self._second += 1
        t = float(self._second)
        s = self._s
        for start, faults in s.changes:
            if start == t:
                self._faults, self._loop_cache = faults, None
        call = t >= s.call_at
        self._voltage_wander += -0.02 * self._voltage_wander + self._rng.gauss(0.0, 0.08)
        self._bubbles += -0.2 * self._bubbles + self._rng.gauss(0.0, 0.35)
        boundary = replace(self._boundary, voltage=s.boundary.voltage + self._voltage_wander)
        supply = supply_voltage(boundary, self._faults)
        c = self._flows(boundary, supply, call)
        r = self._last or rates(self._y, c.circuit)
        p_gauge = r.p_discharge - boundary.barometer
        self._control.step(1.0, call, supply, p_gauge, r.t_evaporating, self._faults)
        c.circuit.running = self._control.contactor
        for _ in range(round(1.0 / SUBSTEP)):
            r = rates(self._y, c.circuit)
            self._y = advance(self._y, r.rates, SUBSTEP, c.circuit)
        self._last = r
        self._loops(r, c)
        state = to_state(self._y, r, c, self._machine, boundary)
        true = self._true(state, r, boundary, c, call)
        ambient = boundary.t_ambient - ZERO_C
        readings = self._sensors.read(t, 1.0, true, ambient, self._faults)
        return Row(t, state, true, readings, self._control.chain)

    def _flows(self, boundary: Boundary, supply: float, call: bool) -> Configured:
        """Bring pump and load flow on or off, each over its own time, and configure the circuit for them."""
        machine, faults = self._machine, self._faults
        control_alive = self._control.fuse_whole
        loop = machine.source_loop
        runs = call and control_alive and (loop.pump is None or self._protector_closed)
        key = (round(boundary.t_source_in * 5), round(supply * 2), runs)
        if self._loop_cache is None or self._loop_cache[0] != key:
            fluid = liquid(loop.liquid, loop.mass_fraction)
            point = loop_point(loop, machine.source_coil, fluid, boundary.t_source_in, supply, faults, runs)
            self._loop_cache = (key, point)
            if runs:
                self._full = point
        point = self._loop_cache[1]
        target = point.flow * (1.0 + 0.12 * faults.air_in_loop * self._bubbles)
        self._source_flow += (max(target, 0.0) - self._source_flow) * 0.45
        if not runs and self._source_flow < 1e-7:
            self._source_flow = 0.0
        if loop.pump is not None:
            heat = loop.pump.winding_k_per_a2 * point.pump_current**2
            self._winding += (boundary.t_source_in + heat - self._winding) / loop.pump.winding_time
            if self._winding > loop.pump.trip_temperature:
                self._protector_closed = False
            elif self._winding < loop.pump.reset_temperature:
                self._protector_closed = True
        rated = boundary.load_flow or (machine.fan.flow if machine.fan else 0.0)
        share = 0.75 if machine.fan is None else 0.70
        wanted = rated * (1.0 - share * faults.low_load_flow) if call and control_alive else 0.0
        self._load_flow += (wanted - self._load_flow) * 0.3
        c = configure(
            machine, boundary, faults, source_flow=self._source_flow, load_flow=max(self._load_flow, 1e-6),
            source_point=point,
        )  # fmt: skip
        exponent = machine.source_coil.dp_exponent
        drop = 0.0
        if self._full is not None and self._full.flow > 0.0:
            drop = self._full.coil_drop * (self._source_flow / self._full.flow) ** exponent
        c.source = replace(point, flow=self._source_flow, coil_drop=drop)
        return c

    def _loops(self, r: CircuitRates, c: Configured) -> None:
        """Let the loops' water follow the heat taken from or given to it."""
        heating = c.source_is_evaporator
        to_source = -r.q_evaporator if heating else r.q_condenser
        to_load = r.q_condenser if heating else -r.q_evaporator
        t_source = _loop_water(
            self._boundary.t_source_in, self._machine.source_loop, self._s.reservoir_source, to_source
        )
        t_load = self._boundary.t_load_in
        if self._machine.load_loop is not None:
            t_load = _loop_water(t_load, self._machine.load_loop, self._s.reservoir_load, to_load)
        self._boundary = replace(self._boundary, t_source_in=t_source, t_load_in=t_load)

    def _true(self, s: State, r: CircuitRates, b: Boundary, c: Configured, call: bool) -> dict[str, float]:
        """Give the true values in the channels' units, as ideal probes would see them."""
        air = c.circuit.evaporator.air or c.circuit.condenser.air
        return_wet = supply_wet = math.nan
        if air is not None:
            return_wet = b.t_load_wet_bulb - ZERO_C
            supply_wet = air.wet_bulb(s.t_load_out, s.w_load_out) - ZERO_C
        p_d, p_s = (s.p_discharge - b.barometer) / 1e5, (s.p_suction - b.barometer) / 1e5
        fan = self._machine.fan
        on_air = fan is not None and call and self._control.fuse_whole
        return {
            "ps": p_s,
            "pd": p_d,
            "pl": p_d,
            "ts": s.t_suction - ZERO_C,
            "td": s.t_discharge - ZERO_C,
            "tl": s.t_liquid - ZERO_C,
            "si": s.t_source_in - ZERO_C,
            "so": s.t_source_out - ZERO_C,
            "li": s.t_load_in - ZERO_C,
            "lo": s.t_load_out - ZERO_C,
            "dp": s.source_drop / 1e3,
            "lf": s.load_flow * 1e3,
            "ra": s.t_load_in - ZERO_C if air is not None else math.nan,
            "rw": return_wet,
            "sa": s.t_load_out - ZERO_C if air is not None else math.nan,
            "sw": supply_wet,
            "pw": s.power,
            "ca": s.current if s.running else 0.0,
            "pa": s.pump_current,
            "fa": fan.current * s.voltage / fan.voltage if fan is not None and on_air else 0.0,
            "vs": s.voltage,
            "vc": dict(self._control.chain)["control_voltage"],
            "ta": b.t_ambient - ZERO_C,
        }


def _loop_water(t: float, loop: Loop, reservoir: float, heat: float) -> float:
    if math.isnan(reservoir):
        return t
    return t + (loop.reservoir_conductance * (reservoir - t) + heat) / loop.heat_capacity


def simulate(scenario: Scenario, seconds: int, seed: int = 1) -> Iterator[Row]:
    """Run a scenario from rest, one `Row` per second of plant time.

    Parameters
    ----------
    scenario : Scenario
    seconds : int [s]
    seed : int
        The same seed gives the same rows, bit for bit.

    Yields
    ------
    Row
    """
    plant = Plant(scenario, seed)
    for _ in range(seconds):
        yield plant.step()
