"""Random control circuits with one or two faults, read by a noisy meter: no part may be wronged."""

from __future__ import annotations

import random
from collections import Counter

from analysis.electrical import VoltReading, plate_limits
from analysis.electrical_chain import SHORTED_OR_LOADED, ChainVerdict, Outcome
from analysis.electrical_circuits import control_circuit
from analysis.electrical_verdict import judge_chain
from tests.analysis.electrical_bench import OPEN, Bench

POINTS = control_circuit()
NAMES = [p.name for p in POINTS]
PART = {p.name: p.part for p in POINTS}


def circuit(rng: random.Random) -> Bench:
    """Make a circuit with one or two parts open or with resistance, or a short to C."""
    series: dict[str, float] = {}
    shunt: dict[str, float] = {}
    for _ in range(rng.choice((1, 2))):
        name = rng.choice(NAMES[1:])
        if rng.random() < 0.15:
            shunt[rng.choice(NAMES[4:])] = rng.uniform(0.01, 3.0)
        elif rng.random() < 0.5:
            series[name] = OPEN
        else:
            series[name] = rng.uniform(25.0, 200.0) if NAMES.index(name) > 4 else rng.uniform(2.0, 12.0)
    supply = rng.uniform(210.0, 250.0)
    return Bench(series, shunt, supply, 25.8 / supply)


def read(bench: Bench, rng: random.Random) -> list[VoltReading]:
    """Read some points at no load, some under load, some both ways; a meter of 0.4 % and 0.05 V."""

    def seen(volts: float) -> float:
        return max(0.0, volts * (1.0 + rng.gauss(0.0, 0.004)) + rng.gauss(0.0, 0.05))

    rest, load = bench.volts(POINTS, False), bench.volts(POINTS, True)
    found = []
    for name in NAMES:
        which = rng.random()
        if which < 0.4:
            found.append(VoltReading(name, seen(rest[name]), rng.choice((False, None))))
        if 0.3 < which < 0.75:
            found.append(VoltReading(name, seen(load[name]), True))
    return found


def wronged(bench: Bench, found: ChainVerdict) -> list[str]:
    """Say what the verdict claims that is not so."""
    guilty = {PART[name] for name in bench.series} | ({SHORTED_OR_LOADED} if bench.shunt else set())
    faults = []
    if found.loss is not None and found.loss.named and found.loss.named not in guilty:
        faults.append(f"named {found.loss.named}")
    if found.loss is not None and not guilty & set(found.loss.parts):
        faults.append(f"span {found.loss.parts}")
    faults += [
        f"cleared {PART[name]}"
        for name, ohm in bench.series.items()
        if ohm == OPEN and PART[name] in found.cleared
    ]
    if found.outcome is Outcome.CHECK:
        faults.append(f"questioned {found.questions}")
    return faults


def run_trials(count: int, seed: int) -> tuple[Counter[str], list[str]]:
    """Judge random circuits; gives outcomes, and every wrong claim."""
    rng = random.Random(seed)
    outcomes: Counter[str] = Counter()
    wrong: list[str] = []
    for _ in range(count):
        bench = circuit(rng)
        found = judge_chain("control", POINTS, read(bench, rng), plate_limits(230.0), call=True)
        named = "named" if found.loss is not None and found.loss.named else "not named"
        outcomes[f"{found.outcome.value}, {named}"] += 1
        wrong += [f"{fault}: {bench.series} {bench.shunt}" for fault in wronged(bench, found)]
    return outcomes, wrong
