"""From a machine, its surroundings and its faults to the numbers the circuit's equations need."""

from __future__ import annotations

import math
from dataclasses import dataclass

from drivers.plant.faults import Faults
from drivers.plant.humid_air import moist_air
from drivers.plant.hydraulics import LoopPoint, loop_point
from drivers.plant.liquids import liquid
from drivers.plant.parts import AirCoil, Loop, Machine, Mode, WaterCoil
from drivers.plant.refrigerants import refrigerant
from drivers.plant.zones import CircuitNow, CoilNow

SCALE_RESISTANCE = 2.5
"""Resistance of scale at severity 1, over that of the clean wall with its water film at rated flow."""
ICE_RESISTANCE = 1.75
CHARGE_SPAN = 0.40
"""Under- or overcharge at severity 1, as a share of the right charge."""
GAS_PRESSURE = 6.0e5
"""Non-condensable gas at severity 1: its pressure [Pa] if spread over the empty condenser at 300 K."""
VALVE_LEAK = 0.45
CROSSOVER_AREA = 0.7e-6
"""Leak area [m2] of the reversing valve at severity 1 for a compressor of 1e-3 m3/s; scales with its size."""
RESTRICTION = 8.0
"""Restriction at severity 1: liquid-line resistance over that of the fully open valve."""
VOLTAGE_SAG = 0.25


@dataclass(frozen=True, slots=True)
class Boundary:
    """What the machine meets: entering water or air, flows not solved here, voltage, weather (SI)."""

    mode: Mode
    t_source_in: float
    t_load_in: float
    t_load_wet_bulb: float = 290.0
    load_flow: float = 0.0
    voltage: float = 230.0
    barometer: float = 101325.0
    t_ambient: float = 288.15


@dataclass(slots=True)
class Configured:
    """A machine made ready for its equations, with the water flows found on the way."""

    circuit: CircuitNow
    source: LoopPoint
    load_flow: float
    voltage: float
    source_is_evaporator: bool


def supply_voltage(boundary: Boundary, faults: Faults) -> float:
    """Voltage at the machine [V]: the supply less the sag of a weak line."""
    return boundary.voltage * (1.0 - VOLTAGE_SAG * faults.low_supply_voltage)


def _series(*conductances: float) -> float:
    return 1.0 / sum(1.0 / u for u in conductances)


def _water_coil(
    coil: WaterCoil, loop: Loop, flow: float, t_in: float, boils: bool, scale: float, ice: float, air: float
) -> CoilNow:
    fluid = liquid(loop.liquid, loop.mass_fraction)
    film = coil.water_film(flow) * (1.0 - 0.25 * air)
    clean = _series(coil.ua_water, 1.0 / coil.wall_resistance)
    layer = coil.wall_resistance + (SCALE_RESISTANCE * scale + ICE_RESISTANCE * ice) / clean
    refrigerant_film = coil.ua_boiling if boils else coil.ua_condensing
    cp = fluid.cp(t_in)
    rated = max(coil.flow_rated, 1e-9)
    return CoilNow(
        ua_two_phase=_series(film, 1.0 / layer, refrigerant_film),
        ua_vapour=_series(film, 1.0 / layer, coil.ua_vapour),
        ua_liquid=_series(film, 1.0 / layer, coil.ua_liquid),
        volume=coil.volume,
        heat_capacity=coil.heat_capacity,
        t_in=t_in,
        capacity_rate=flow * fluid.rho(t_in) * cp,
        water_heat_capacity=coil.water_volume * fluid.rho(t_in) * cp,
        capacity_slope=(fluid.cp(t_in + 2.0) - fluid.cp(t_in - 2.0)) / (4.0 * cp),
        stagnant=0.03 / (0.03 + flow / rated) if flow > 0.0 else 1.0,
    )


def _air_coil(coil: AirCoil, flow: float, boundary: Boundary, boils: bool) -> CoilNow:
    air = moist_air(boundary.barometer)
    t = boundary.t_load_in
    w = air.w_of(t, boundary.t_load_wet_bulb)
    m = flow * air.dry_density(t, w)
    cp = 1006.0 + 1860.0 * w
    film = coil.air_film(flow)
    wall = 1.0 / coil.wall_resistance
    inner = _series(wall, coil.ua_boiling if boils else coil.ua_condensing)
    return CoilNow(
        ua_two_phase=_series(film, inner),
        ua_vapour=_series(film, wall, coil.ua_vapour),
        ua_liquid=_series(film, wall, coil.ua_liquid),
        volume=coil.volume,
        heat_capacity=coil.heat_capacity,
        t_in=t,
        capacity_rate=max(m * cp, 1e-3),
        water_heat_capacity=1.0,
        stagnant=0.0,
        air=air,
        w_in=w,
        ua_air=film,
        ua_refrigerant=inner,
        m_air=max(m, 1e-6),
    )


def configure(
    machine: Machine, boundary: Boundary, faults: Faults, *, source_flow: float | None = None,
    load_flow: float | None = None, source_point: LoopPoint | None = None,
) -> Configured:  # fmt: skip
    """Work out flows, conductances and fault effects for one moment.

    Parameters
    ----------
    machine, boundary, faults
    source_flow, load_flow : float or None [m3/s]
        Flows imposed by the march through time (a pump running down); None: solved, or the boundary's.
    source_point : LoopPoint, optional
        The source circuit already solved.

    Returns
    -------
    Configured

    Raises
    ------
    ValueError
        If the severities contradict each other (under- and overcharge together).
    """
    if faults.undercharge > 0.0 and faults.overcharge > 0.0:
        raise ValueError("A machine cannot be under- and overcharged at once; set one of the two to 0.")
    voltage = supply_voltage(boundary, faults)
    source_fluid = liquid(machine.source_loop.liquid, machine.source_loop.mass_fraction)
    source = source_point or loop_point(
        machine.source_loop, machine.source_coil, source_fluid, boundary.t_source_in, voltage, faults
    )
    q_source = source.flow if source_flow is None else source_flow
    heating = boundary.mode == "heating"
    source_coil = _water_coil(
        machine.source_coil, machine.source_loop, q_source, boundary.t_source_in, heating,
        faults.scaled_source_coil, faults.iced_source_coil, faults.air_in_loop,
    )  # fmt: skip
    q_load = boundary.load_flow if load_flow is None else load_flow
    if isinstance(machine.load_coil, WaterCoil):
        assert machine.load_loop is not None, "a water load coil needs its loop"
        if load_flow is None:
            q_load = (boundary.load_flow or machine.load_loop.flow_rated) * (
                1.0 - 0.75 * faults.low_load_flow
            )
        load_coil = _water_coil(
            machine.load_coil, machine.load_loop, q_load, boundary.t_load_in, not heating, 0.0, 0.0, 0.0
        )
    else:
        assert machine.fan is not None, "an air coil needs its fan"
        if load_flow is None:
            q_load = (boundary.load_flow or machine.fan.flow) * (1.0 - 0.70 * faults.low_load_flow)
        load_coil = _air_coil(machine.load_coil, q_load, boundary, not heating)
    valve = machine.valve
    condenser = load_coil if heating else source_coil
    circuit = CircuitNow(
        refrigerant=refrigerant(machine.refrigerant),
        compressor=machine.compressor,
        valve=valve,
        evaporator=source_coil if heating else load_coil,
        condenser=condenser,
        charge=machine.charge * (1.0 + CHARGE_SPAN * (faults.overcharge - faults.undercharge)),
        receiver_volume=machine.receiver_volume,
        liquid_line_volume=machine.liquid_line_volume,
        suction_volume=machine.suction_volume,
        suction_line_ua=machine.suction_line_ua,
        t_ambient=boundary.t_ambient,
        voltage_ratio=voltage / machine.compressor.voltage,
        valve_leak=VALVE_LEAK * faults.compressor_valve_leak,
        crossover_leak=CROSSOVER_AREA * machine.compressor.swept_flow / 1e-3 * faults.reversing_valve_leak,
        restriction=RESTRICTION * faults.liquid_line_restriction**2 / valve.area**2,
        valve_capacity=1.0 - 0.75 * faults.valve_starving,
        valve_shift=1.1 * faults.valve_flooding,
        valve_gain=1.0 + 1.5 * faults.valve_hunting,
        front_share=0.3 * (1.0 - faults.valve_hunting) ** 2,
        front_time=9.0 * (1.0 + faults.valve_hunting),
        gas_moles=GAS_PRESSURE * faults.non_condensables * condenser.volume / (8.314 * 300.0),
        condensing_derate=1.0 - 0.2 * faults.non_condensables,
    )
    return Configured(circuit, source, q_load, voltage, heating)


def power_to_current(power: float, voltage: float, power_factor: float) -> float:
    """Motor current [A] at one voltage; NaN where there is no voltage to speak of."""
    return power / (voltage * power_factor) if voltage > 10.0 else math.nan
