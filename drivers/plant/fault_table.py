"""Print what each fault does to the plant's machines: `python -m drivers.plant.fault_table`.

The table is worked out from the model at the moment it is printed; only the reasons are written text.
"""

from __future__ import annotations

import sys

from drivers.plant.configure import Boundary
from drivers.plant.fault_reasons import REASONS
from drivers.plant.faults import one_fault
from drivers.plant.parts import Machine
from drivers.plant.steady import NoSteadyStateError, State, gauge_bubble, solve
from drivers.plant.stories import STORIES

SEVERITY_STEPS = (0.3, 0.6, 0.9)
ELECTRICAL = ("control_short", "failing_transformer", "open_safety")
"""Faults of the control circuit: the refrigerant circuit does not see them until the machine stops."""

COLUMNS = (
    ("source flow", "L/s"),
    ("coil drop", "kPa"),
    ("source change", "K"),
    ("evaporating", "°C"),
    ("superheat", "K"),
    ("high side, bubble", "°C"),
    ("subcooling", "K"),
    ("discharge", "°C"),
    ("load change", "K"),
    ("heat moved", "kW"),
    ("power", "kW"),
    ("pump", "A"),
)


def row(machine: Machine, s: State) -> list[float]:
    """Give the numbers of one line, in the units of `COLUMNS`."""
    return [
        s.source_flow * 1e3,
        s.source_drop / 1e3,
        abs(s.t_source_in - s.t_source_out),
        s.t_evaporating - 273.15,
        s.superheat,
        gauge_bubble(machine, s) - 273.15,
        s.subcooling,
        s.t_discharge - 273.15,
        abs(s.t_load_out - s.t_load_in),
        s.q_evaporator / 1e3,
        s.power / 1e3,
        s.pump_current,
    ]


def fault_table(title: str, machine: Machine, boundary: Boundary) -> str:
    """Write one machine's table as Markdown.

    Parameters
    ----------
    title : str
    machine : Machine
    boundary : Boundary

    Returns
    -------
    str
        A line for the healthy machine, then per fault three severities, then the reason.
    """
    heads = [f"{name} [{unit}]" for name, unit in COLUMNS]
    lines = [
        f"## {title}",
        "",
        "| fault | severity | " + " | ".join(heads) + " |",
        "|---" * (len(heads) + 2) + "|",
    ]
    healthy = row(machine, solve(machine, boundary))
    lines.append("| none | 0 | " + " | ".join(f"{v:.2f}" for v in healthy) + " |")
    for name in REASONS:
        if name in ELECTRICAL:
            continue
        for severity in SEVERITY_STEPS:
            try:
                s = solve(machine, boundary, one_fault(name, severity))
                cells = [f"{v:.2f}" for v in row(machine, s)]
            except NoSteadyStateError:
                cells = ["no steady state: the machine trips"] + [""] * (len(heads) - 1)
            lines.append(f"| {name} | {severity} | " + " | ".join(cells) + " |")
    return "\n".join(lines) + "\n"


def main() -> int:
    """Print both machines' tables and the reasons."""
    hall, bakery = STORIES["hall"], STORIES["bakery"]
    out = [
        fault_table("Water to water, heating, closed glycol loop", hall.machine, hall.boundary),
        fault_table("Water to air, cooling, open well water", bakery.machine, bakery.boundary),
        "## Why",
        "",
        *(f"- **{name.replace('_', ' ')}**: {reason}" for name, reason in REASONS.items()),
        "",
    ]
    sys.stdout.write("\n".join(out))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
