"""The two sites of the demonstration: machines, entering conditions and probes, as data."""

from __future__ import annotations

from drivers.plant.configure import Boundary
from drivers.plant.parts import (
    AirCoil,
    Compressor,
    Control,
    ExpansionValve,
    Fan,
    Loop,
    Machine,
    Pump,
    WaterCoil,
)
from drivers.plant.sensors import Probe

ZERO_C = 273.15

HALL_MACHINE = Machine(
    name="community hall, unit 2",
    refrigerant="R410A",
    charge=1.03,
    compressor=Compressor(swept_flow=8.68 / 3600.0),
    source_coil=WaterCoil(
        ua_water=2070.0,
        flow_rated=0.60e-3,
        ua_boiling=36000.0,
        ua_condensing=7000.0,
        ua_vapour=230.0,
        ua_liquid=600.0,
        wall_resistance=3.0e-5,
        volume=1.3e-3,
        heat_capacity=7500.0,
        water_volume=1.7e-3,
        dp_rated=28.8e3,
        dp_viscosity=4.59e-3,
    ),
    load_coil=WaterCoil(
        ua_water=5000.0,
        flow_rated=0.53e-3,
        ua_boiling=6000.0,
        ua_condensing=7200.0,
        ua_vapour=500.0,
        ua_liquid=680.0,
        wall_resistance=6.0e-5,
        volume=1.7e-3,
        heat_capacity=4500.0,
        water_volume=1.6e-3,
        dp_rated=24.0e3,
    ),
    valve=ExpansionValve(area=1.62e-6),
    source_loop=Loop(
        liquid="MPG",
        mass_fraction=0.25,
        pipe_dp=26.0e3,
        flow_rated=0.60e-3,
        strainer_dp=2.0e3,
        reservoir_conductance=12000.0,
        heat_capacity=1.6e6,
        pump=Pump(head_0=101.0e3, head_curve=24.2e3 / 0.60e-3**2),
    ),
    load_loop=Loop(
        liquid="water",
        mass_fraction=0.0,
        pipe_dp=30.0e3,
        flow_rated=0.53e-3,
        strainer_dp=1.0e3,
        reservoir_conductance=15000.0,
        heat_capacity=2.0e6,
    ),
    control=Control(restart_delay=840.0, low_temperature_delay=6.0),
)
HALL_BOUNDARY = Boundary(
    mode="heating", t_source_in=4.0 + ZERO_C, t_load_in=30.0 + ZERO_C, load_flow=0.53e-3, voltage=229.0,
    barometer=94320.0, t_ambient=14.0 + ZERO_C,
)  # fmt: skip

BAKERY_MACHINE = Machine(
    name="lakeside bakery",
    refrigerant="R410A",
    charge=1.26,
    compressor=Compressor(
        swept_flow=1.40e-3,
        isentropic_best=0.56,
        ratio_best=2.4,
        isentropic_curve=0.02,
        shell_heat_capacity=6000.0,
    ),
    source_coil=WaterCoil(
        ua_water=2600.0,
        flow_rated=3.785e-4,
        ua_boiling=4000.0,
        ua_condensing=2600.0,
        ua_vapour=350.0,
        ua_liquid=300.0,
        wall_resistance=8.0e-5,
        volume=1.9e-3,
        heat_capacity=4500.0,
        water_volume=1.5e-3,
        dp_rated=16.5e3,
        dp_viscosity=1.16e-3,
    ),
    load_coil=AirCoil(
        ua_air=980.0,
        flow_rated=0.50,
        ua_boiling=3400.0,
        ua_condensing=1900.0,
        ua_vapour=160.0,
        ua_liquid=250.0,
        wall_resistance=2.0e-5,
        volume=2.2e-3,
        heat_capacity=4000.0,
    ),
    valve=ExpansionValve(area=2.1e-6, static_superheat=4.0),
    source_loop=Loop(
        liquid="water",
        mass_fraction=0.0,
        pipe_dp=60.0e3,
        flow_rated=3.785e-4,
        strainer_dp=3.0e3,
        reservoir_conductance=0.0,
        heat_capacity=1.0,
        regulated_flow=3.785e-4,
        supply_pressure=200.0e3,
    ),
    fan=Fan(flow=0.50, current=2.4, voltage=230.0, power=370.0),
    control=Control(low_temperature=270.15, low_temperature_reset=276.15, low_temperature_delay=30.0),
    suction_line_ua=0.6,
    frequency=60.0,
)
BAKERY_BOUNDARY = Boundary(
    mode="cooling", t_source_in=14.44 + ZERO_C, t_load_in=24.44 + ZERO_C, t_load_wet_bulb=16.6 + ZERO_C,
    voltage=230.0, barometer=99146.0, t_ambient=26.0 + ZERO_C,
)  # fmt: skip

HALL_PROBES = {
    "ps": Probe(lag=0.5, noise=0.004),
    "pd": Probe(lag=0.5, noise=0.012),
    "ts": Probe(lag=8.0, noise=0.03, clamp=0.01),
    "td": Probe(lag=10.0, noise=0.08, clamp=0.01),
    "tl": Probe(lag=8.0, noise=0.03, clamp=0.01),
    "si": Probe(lag=6.0, noise=0.02),
    "so": Probe(lag=6.0, noise=0.02),
    "li": Probe(lag=6.0, noise=0.02),
    "lo": Probe(lag=6.0, noise=0.02),
    "dp": Probe(lag=0.5, noise=0.06),
    "lf": Probe(lag=2.0, noise=0.002),
    "pw": Probe(noise=4.0),
    "pa": Probe(noise=0.004),
    "vs": Probe(noise=0.1),
    "vc": Probe(noise=0.03),
    "ta": Probe(lag=60.0, noise=0.02),
}

_AIR_PROBES = {
    "ra": Probe(lag=12.0, noise=0.03),
    "rw": Probe(lag=25.0, noise=0.05),
    "sa": Probe(lag=12.0, noise=0.04),
    "sw": Probe(lag=25.0, noise=0.05),
    "ca": Probe(noise=0.03),
    "fa": Probe(noise=0.005),
}
BAKERY_PROBES = {k: v for k, v in HALL_PROBES.items() if k not in ("li", "lo", "lf", "pa")} | _AIR_PROBES
