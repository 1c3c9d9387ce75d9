"""The two sites of the demonstration, as data: machines, boundaries, phases with their faults."""

from __future__ import annotations

from dataclasses import dataclass

from drivers.plant.configure import Boundary
from drivers.plant.faults import Faults
from drivers.plant.parts import (
    Compressor,
    Control,
    ExpansionValve,
    Loop,
    Machine,
    Pump,
    WaterCoil,
)
from drivers.plant.sensors import Dropout, Probe
from drivers.plant.simulation import Scenario

ZERO_C = 273.15

HALL_MACHINE = Machine(
    name="community hall, unit 2",
    refrigerant="R410A",
    charge=0.90,
    compressor=Compressor(swept_flow=8.68 / 3600.0),
    source_coil=WaterCoil(
        ua_water=2700.0,
        flow_rated=0.60e-3,
        ua_boiling=6000.0,
        ua_condensing=5000.0,
        ua_vapour=230.0,
        ua_liquid=600.0,
        wall_resistance=6.0e-5,
        volume=1.3e-3,
        heat_capacity=4500.0,
        water_volume=1.8e-3,
        dp_rated=28.8e3,
    ),
    load_coil=WaterCoil(
        ua_water=5000.0,
        flow_rated=0.53e-3,
        ua_boiling=6000.0,
        ua_condensing=5200.0,
        ua_vapour=500.0,
        ua_liquid=700.0,
        wall_resistance=6.0e-5,
        volume=1.2e-3,
        heat_capacity=4500.0,
        water_volume=1.6e-3,
        dp_rated=24.0e3,
    ),
    valve=ExpansionValve(area=1.65e-6),
    source_loop=Loop(
        liquid="MPG",
        mass_fraction=0.25,
        pipe_dp=26.0e3,
        flow_rated=0.60e-3,
        strainer_dp=2.0e3,
        reservoir_conductance=12000.0,
        heat_capacity=1.6e6,
        pump=Pump(head_0=78.0e3, head_curve=21.2e3 / 0.60e-3**2),
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
    control=Control(),
)
HALL_BOUNDARY = Boundary(
    mode="heating", t_source_in=4.0 + ZERO_C, t_load_in=30.0 + ZERO_C, load_flow=0.53e-3, voltage=229.0,
    barometer=94320.0, t_ambient=14.0 + ZERO_C,
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


@dataclass(frozen=True, slots=True)
class Phase:
    """One phase of a story, run as one recording."""

    name: str
    seconds: int
    faults: Faults
    what: str
    dropouts: tuple[Dropout, ...] = ()


@dataclass(frozen=True, slots=True)
class Story:
    """A site with its machine and the phases that can be run there."""

    name: str
    machine: Machine
    boundary: Boundary
    probes: dict[str, Probe]
    reservoir_source: float
    reservoir_load: float
    phases: tuple[Phase, ...]

    def scenario(self, phase: Phase) -> Scenario:
        """Make the scenario of a phase, starting from rest."""
        return Scenario(
            machine=self.machine,
            boundary=self.boundary,
            faults=phase.faults,
            probes=self.probes,
            reservoir_source=self.reservoir_source,
            reservoir_load=self.reservoir_load,
            dropouts=phase.dropouts,
        )


_WEAK_WATER = Faults(weak_pump_capacitor=0.6, clogged_strainer=0.9, overcharge=0.6)

HALL = Story(
    "hall", HALL_MACHINE, HALL_BOUNDARY, HALL_PROBES, 4.75 + ZERO_C, 29.2 + ZERO_C,
    (
        Phase("as-found", 3600, _WEAK_WATER, "weak pump capacitor, clogged strainer, overcharge"),
        Phase("water-right", 3600, Faults(overcharge=0.6), "water put right, the surplus still in"),
        Phase("as-left", 3600, Faults(), "everything put right"),
    ),
)  # fmt: skip
STORIES = {story.name: story for story in (HALL,)}
