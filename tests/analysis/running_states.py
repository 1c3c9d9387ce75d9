"""Random states of running machines from CoolProp alone: nothing of ours decides what is possible."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

from CoolProp.CoolProp import PropsSI

from analysis.evidence import Visit, seen_value
from analysis.saturation import refrigerant

REFRIGERANTS = ("R22", "R134a", "R410A", "R407C", "R32", "R404A", "R507A", "R290")
U_T, U_P_SHARE = 0.3, 0.005
MARGIN = 2.5
"""A declaration counts as impossible where a temperature stands the wrong way by more than this [K], which is
well beyond the readings' uncertainty."""


@dataclass(frozen=True)
class Running:
    """A possible state with true temperatures [K] and pressures [Pa]."""

    name: str
    mode: str
    p_low: float
    p_high: float
    t_suction: float
    t_liquid: float
    t_discharge: float
    cold: tuple[float, float]
    warm: tuple[float, float]


def draw(rng: random.Random) -> Running:
    """Draw what a water-source machine can be: heat flows from warm to cold everywhere."""
    name = rng.choice(REFRIGERANTS)
    mode = rng.choice(("heating", "cooling"))
    cold_in = rng.uniform(272.0, 300.0)
    cold_out = cold_in - rng.uniform(2.0, 9.0)
    t_e = cold_out - rng.uniform(2.0, 12.0)
    warm_in = rng.uniform(max(t_e + 22.0, 285.0), 313.0)
    warm_out = warm_in + rng.uniform(3.0, 9.0)
    t_c = warm_out + rng.uniform(2.0, 12.0)
    p_low = float(PropsSI("P", "T", t_e, "Q", 1, name))
    p_high = float(PropsSI("P", "T", t_c, "Q", 0, name))
    t_suction = min(t_e + rng.uniform(3.0, 14.0), cold_in)
    t_liquid = max(t_c - rng.uniform(1.5, 12.0), warm_in)
    t_discharge = float(PropsSI("T", "P", p_high, "Q", 1, name)) + rng.uniform(12.0, 50.0)
    return Running(
        name, mode, p_low, p_high, t_suction, t_liquid, t_discharge, (cold_in, cold_out), (warm_in, warm_out)
    )


def visit(
    state: Running, declared: str, rng: random.Random, shift: float = 0.0, swapped: bool = False
) -> Visit:
    """Read a state with ordinary errors; ``shift`` is added to both pressures."""

    def t(value: float) -> float:
        return value + max(-2.0, min(2.0, rng.gauss(0.0, 1.0))) * U_T

    heating = state.mode == "heating"
    source, load = (state.cold, state.warm) if heating else (state.warm, state.cold)
    if swapped:
        source = (source[1], source[0])
    readings = {
        "suction_pressure": state.p_low * (1.0 + max(-2.0, min(2.0, rng.gauss(0.0, 1.0))) * U_P_SHARE)
        + shift,
        "discharge_pressure": state.p_high * (1.0 + max(-2.0, min(2.0, rng.gauss(0.0, 1.0))) * U_P_SHARE)
        + shift,
        "suction_temperature": t(state.t_suction),
        "liquid_temperature": t(state.t_liquid),
        "discharge_temperature": t(state.t_discharge),
        "source_entering_temperature": t(source[0]),
        "source_leaving_temperature": t(source[1]),
        "load_entering_temperature": t(load[0]),
        "load_leaving_temperature": t(load[1]),
    }
    values = {
        name: seen_value(name, value, U_P_SHARE * abs(value) if name.endswith("pressure") else U_T)
        for name, value in readings.items()
    }
    return Visit(values, state.mode, declared, refrigerant(declared), barometer_pa=101_325.0)


def impossible(state: Running, declared: str, shift: float = 0.0) -> bool:
    """Say from CoolProp alone whether a declaration contradicts the second law by more than the margin."""
    p_low, p_high = state.p_low + shift, state.p_high + shift
    if p_low < 2e4:
        return False
    t_dew = _t(p_low, 1, declared)
    t_bubble = _t(p_high, 0, declared)
    t_gas = _t(p_high, 1, declared)
    return (
        t_dew > state.cold[0] + MARGIN
        or t_dew > state.t_suction + MARGIN
        or t_bubble < state.warm[0] - MARGIN
        or t_bubble < state.t_liquid - MARGIN
        or t_gas > state.t_discharge + MARGIN
    )


def _t(p: float, q: int, name: str) -> float:
    try:
        return float(PropsSI("T", "P", p, "Q", q, name))
    except ValueError:
        return math.nan  # above the critical point: every comparison is False
