"""The parts a simulated machine is made of: plate data and geometry, all SI."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Mode = Literal["heating", "cooling"]


@dataclass(frozen=True, slots=True)
class Compressor:
    """A positive-displacement compressor at one speed.

    Volumetric efficiency = `volumetric_0` - `volumetric_slope` (ratio - 1); isentropic efficiency, on
    electrical power, = `isentropic_best` - `isentropic_curve` (ratio - `ratio_best`)^2.
    """

    swept_flow: float
    volumetric_0: float = 0.96
    volumetric_slope: float = 0.025
    isentropic_best: float = 0.66
    isentropic_curve: float = 0.004
    ratio_best: float = 3.0
    shell_loss: float = 0.06
    shell_heat_capacity: float = 7000.0
    voltage: float = 230.0
    power_factor: float = 0.93


@dataclass(frozen=True, slots=True)
class WaterCoil:
    """A refrigerant-to-water coil in counterflow, described by conductances [W/K] of the whole surface."""

    ua_water: float
    flow_rated: float
    ua_boiling: float
    ua_condensing: float
    ua_vapour: float
    ua_liquid: float
    wall_resistance: float
    volume: float
    heat_capacity: float
    water_volume: float
    dp_rated: float
    dp_exponent: float = 1.8
    dp_viscosity: float = 5.0e-3

    def water_film(self, flow: float) -> float:
        """Give the water film's conductance [W/K], ~ flow^0.8 over a small conduction floor."""
        return self.ua_water * max(float((max(flow, 0.0) / self.flow_rated) ** 0.8), 0.25)


@dataclass(frozen=True, slots=True)
class AirCoil:
    """A finned coil in cross flow; the film on the air side ~ flow^0.6."""

    ua_air: float
    flow_rated: float
    ua_boiling: float
    ua_condensing: float
    ua_vapour: float
    ua_liquid: float
    wall_resistance: float
    volume: float
    heat_capacity: float

    def air_film(self, flow: float) -> float:
        """Give the air film's conductance [W/K]."""
        return self.ua_air * max(float((max(flow, 0.0) / self.flow_rated) ** 0.6), 0.06)


@dataclass(frozen=True, slots=True)
class ExpansionValve:
    """A thermostatic valve (opening proportional to bulb superheat) or, with `fixed`, an orifice.

    `area` is the flow area at full opening times the discharge coefficient [m2].
    """

    area: float
    static_superheat: float = 2.5
    opening_superheat: float = 6.0
    bulb_time: float = 20.0
    fixed: bool = False


@dataclass(frozen=True, slots=True)
class Pump:
    """A circulator with a permanent-capacitor motor: head = `head_0` s^2 - `head_curve` V^2 at speed s."""

    head_0: float
    head_curve: float
    voltage: float = 230.0
    current_magnetising: float = 0.853
    current_rotor: float = 1.76
    breakdown_slip: float = 0.50
    breakdown_torque: float = 2.1
    winding_k_per_a2: float = 98.55
    winding_time: float = 1500.0
    trip_temperature: float = 403.15
    reset_temperature: float = 355.4


@dataclass(frozen=True, slots=True)
class Loop:
    """A water circuit outside the machine: piping, strainer, and the reservoir its water meets.

    `regulated_flow` > 0 means an open well behind a flow regulator instead of a pump of its own.
    """

    liquid: str
    mass_fraction: float
    pipe_dp: float
    flow_rated: float
    strainer_dp: float
    reservoir_conductance: float
    heat_capacity: float
    pump: Pump | None = None
    regulated_flow: float = 0.0
    supply_pressure: float = 0.0


@dataclass(frozen=True, slots=True)
class Fan:
    """An indoor fan: air flow and current at its rated voltage."""

    flow: float
    current: float
    voltage: float
    power: float


@dataclass(frozen=True, slots=True)
class Control:
    """The control circuit and the machine's own protection."""

    transformer_ratio: float = 25.8 / 230.0
    transformer_resistance: float = 1.1
    fuse: float = 3.0
    coil_current: float = 0.35
    pull_in: float = 20.4
    drop_out: float = 14.0
    start_delay: float = 20.0
    restart_delay: float = 120.0
    high_pressure: float = 42.0e5
    high_pressure_reset: float = 32.0e5
    low_temperature: float = 260.65
    low_temperature_reset: float = 266.15
    low_temperature_delay: float = 20.0
    lock_out_trips: int = 4


@dataclass(frozen=True, slots=True)
class Machine:
    """One simulated machine: its parts, refrigerant and charge."""

    name: str
    refrigerant: str
    charge: float
    compressor: Compressor
    source_coil: WaterCoil
    load_coil: WaterCoil | AirCoil
    valve: ExpansionValve
    source_loop: Loop
    load_loop: Loop | None = None
    fan: Fan | None = None
    control: Control = Control()
    receiver_volume: float = 0.0
    liquid_line_volume: float = 1.5e-4
    suction_volume: float = 1.0e-3
    suction_line_ua: float = 0.8
    frequency: float = 50.0
