"""The simulated machine for other parts' tests: `solve` its steady state, `simulate` it second by second.

Examples
--------
>>> from drivers.plant.machine import STORIES, Faults, simulate, solve
>>> hall = STORIES["hall"]
>>> state = solve(hall.machine, hall.boundary, Faults(clogged_strainer=0.9))
>>> 0.3e-3 < state.source_flow < 0.5e-3
True
>>> row = next(simulate(hall.scenario(hall.phases[0]), seconds=1))
>>> row.t, row.state.running
(1.0, False)
"""

from __future__ import annotations

from drivers.plant.configure import Boundary
from drivers.plant.faults import SEVERITIES, Faults, one_fault
from drivers.plant.parts import Machine
from drivers.plant.sensors import Dropout, Probe
from drivers.plant.simulation import Plant, Row, Scenario, simulate
from drivers.plant.steady import NoSteadyStateError, State, gauge_bubble, solve
from drivers.plant.stories import STORIES, Phase, Story

__all__ = [
    "SEVERITIES",
    "STORIES",
    "Boundary",
    "Dropout",
    "Faults",
    "Machine",
    "NoSteadyStateError",
    "Phase",
    "Plant",
    "Probe",
    "Row",
    "Scenario",
    "State",
    "Story",
    "gauge_bubble",
    "one_fault",
    "simulate",
    "solve",
]
