"""How fast the simulated plant runs: `python tests/bench/plant.py`. Prints; asserts nothing."""

from __future__ import annotations

import statistics
import time

from CoolProp.CoolProp import PropsSI

from drivers.plant.fault_table import SEVERITY_STEPS
from drivers.plant.faults import SEVERITIES, one_fault
from drivers.plant.machine import solve
from drivers.plant.refrigerants import SUPPORTED, refrigerant
from drivers.plant.simulation import simulate
from drivers.plant.stories import STORIES


def main() -> None:
    for name in SUPPORTED:
        began = time.perf_counter()
        refrigerant(name)
        print(f"tables {name:6s} {1e3 * (time.perf_counter() - began):7.0f} ms")
    # The peer: one call of the library's own high-level interface in the same run.
    began = time.perf_counter()
    for k in range(300):
        PropsSI("H", "P", 6e5 + k, "T", 285.0, "R410A")
    peer = 1e3 * (time.perf_counter() - began) / 300
    for name in ("hall", "bakery"):
        story = STORIES[name]
        solve(story.machine, story.boundary)
        times = []
        for fault in SEVERITIES:
            for severity in SEVERITY_STEPS:
                began = time.perf_counter()
                solve(story.machine, story.boundary, one_fault(fault, severity))
                times.append(1e3 * (time.perf_counter() - began))
        middle, largest = statistics.median(times), max(times)
        print(
            f"steady {name:7s} median {middle:5.1f} ms, largest {largest:5.1f} ms of {len(times)}: "
            f"{middle / peer:.0f} property calls"
        )
        phase = story.phases[1]
        began = time.perf_counter()
        count = sum(1 for _ in simulate(story.scenario(phase), 3600))
        print(f"in time {name:6s} {count / (time.perf_counter() - began):6.0f} times real time, 1 s rows")


if __name__ == "__main__":
    main()
