"""What happens at the two sites: phases with their faults, each run as one recording."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from drivers.plant.configure import Boundary
from drivers.plant.faults import Faults
from drivers.plant.parts import Machine
from drivers.plant.sensors import Dropout, Probe
from drivers.plant.simulation import Scenario
from drivers.plant.sites import (
    BAKERY_BOUNDARY,
    BAKERY_MACHINE,
    BAKERY_PROBES,
    HALL_BOUNDARY,
    HALL_MACHINE,
    HALL_PROBES,
    ZERO_C,
)


@dataclass(frozen=True, slots=True)
class Phase:
    """One phase of a story.

    `changes` are times [s] from which other faults hold, `dropouts` spans without readings, `t_winding` [K]
    the pump's winding at the start, `warmer_source` [K] added to the source water.
    """

    name: str
    seconds: int
    faults: Faults
    what: str
    dropouts: tuple[Dropout, ...] = ()
    t_winding: float = math.nan
    changes: tuple[tuple[float, Faults], ...] = ()
    warmer_source: float = 0.0


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
            boundary=replace(self.boundary, t_source_in=self.boundary.t_source_in + phase.warmer_source),
            faults=phase.faults,
            probes=self.probes,
            reservoir_source=self.reservoir_source + phase.warmer_source,
            reservoir_load=self.reservoir_load,
            dropouts=phase.dropouts,
            t_winding=phase.t_winding,
            changes=phase.changes,
        )


_WEAK_WATER = Faults(weak_pump_capacitor=0.62, clogged_strainer=0.908, overcharge=0.68)

HALL = Story(
    "hall", HALL_MACHINE, HALL_BOUNDARY, HALL_PROBES, 4.75 + ZERO_C, 29.2 + ZERO_C,
    (
        Phase("as-found", 3600, _WEAK_WATER, "weak pump capacitor, clogged strainer, overcharge"),
        Phase("water-right", 3600, Faults(overcharge=0.68), "water put right, the surplus still in"),
        Phase("as-left", 3600, Faults(), "everything put right"),
    ),
)  # fmt: skip
BAKERY = Story(
    "bakery", BAKERY_MACHINE, BAKERY_BOUNDARY, BAKERY_PROBES, math.nan, math.nan,
    (
        Phase("dead", 900, Faults(control_short=1.0, scaled_source_coil=0.75), "a chafed control lead"),
        Phase("as-found", 3600, Faults(scaled_source_coil=0.75), "running again: scaled coil"),
        Phase("as-left", 3600, Faults(), "coil flushed"),
    ),
)  # fmt: skip
HALL_HEALTHY = replace(
    HALL, name="hall-healthy", phases=(Phase("as-found", 3600, Faults(), "nothing wrong"),)
)
HALL_NIGHT = replace(
    HALL,
    name="hall-night",
    phases=(
        Phase(
            "night",
            8 * 3600,
            _WEAK_WATER,
            "the pump trips on its own heat protector, then the machine on low temperature",
            # 22:00 is t = 0. The probes' link is lost for 40 s at 01:55; the pump is warm from the evening.
            dropouts=(Dropout(14100.0, 14140.0),),
            t_winding=91.4 + ZERO_C,
        ),
    ),
)  # fmt: skip
HALL_VARIANTS = replace(
    HALL,
    name="hall-variants",
    phases=(
        Phase("capacitor-only", 3600, Faults(weak_pump_capacitor=0.62), "only the pump's capacitor is weak"),
        Phase("strainer-only", 3600, Faults(clogged_strainer=0.908), "only the strainer is clogged"),
        Phase("overcharge-only", 3600, Faults(overcharge=0.68), "only too much refrigerant"),
        Phase("undercharge", 3600, Faults(undercharge=0.7), "too little refrigerant"),
        Phase("non-condensables", 3600, Faults(non_condensables=0.5), "air left in the circuit"),
        Phase("hunting", 3600, Faults(valve_hunting=0.8), "the valve hunts"),
        Phase("air-in-loop", 3600, Faults(air_in_loop=0.6), "air in the brine"),
        Phase("swapped-brine", 3600, Faults(swapped=("si", "so")), "healthy; the brine probes exchanged"),
        Phase("wrong-refrigerant", 3600, Faults(declared_refrigerant="R22"), "healthy; R22 written down"),
        Phase("warm-loop", 3600, Faults(), "healthy; brine at 9 °C, no fair pair to 4 °C", warmer_source=5.0),
        Phase(
            "clamp-off", 3600, Faults(), "healthy; the suction clamp falls off after half an hour",
            changes=((1800.0, Faults(probe_off="ts")),),
        ),
    ),
)  # fmt: skip
BAKERY_VARIANTS = replace(
    BAKERY,
    name="bakery-variants",
    phases=(
        Phase("low-well-flow", 3600, Faults(clogged_strainer=0.93), "well flow low, coil clean"),
        Phase("dead-transformer", 900, Faults(failing_transformer=1.0), "the transformer's winding is open"),
        Phase("worn-safety", 900, Faults(open_safety=1.0), "a switch of the safety string does not close"),
    ),
)
STORIES = {
    story.name: story for story in (HALL, HALL_HEALTHY, HALL_NIGHT, HALL_VARIANTS, BAKERY, BAKERY_VARIANTS)
}
