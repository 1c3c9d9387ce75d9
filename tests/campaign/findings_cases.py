"""Simulated machines that nobody tuned on: a machine, a card, a healthy reference and one visit from a seed.

The plant answers with its physics only; what the verdict sees are readings with the errors of a stated kit.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, replace

from analysis.circumstances import RatedCoil
from analysis.evidence import Seen, Visit, seen_value
from analysis.flow_routes import FlowRoute
from analysis.liquids import Liquid
from analysis.pressure_drop import PressureDropTable
from analysis.saturation import refrigerant
from analysis.unit_card import ORIFICE, VALVE, Band, Performance, UnitCard
from drivers.plant.configure import Boundary
from drivers.plant.faults import Faults, one_fault
from drivers.plant.machine import NoSteadyStateError, State, solve
from drivers.plant.parts import Machine, WaterCoil
from drivers.plant.stories import BAKERY, HALL
from drivers.plant.variants import weighed_in, with_fixed_orifice, with_receiver, with_refrigerant

FAULTS = (
    "weak_pump_capacitor", "clogged_strainer", "scaled_source_coil", "iced_source_coil", "air_in_loop",
    "low_load_flow", "undercharge", "overcharge", "non_condensables", "liquid_line_restriction",
    "valve_starving", "valve_flooding", "compressor_valve_leak", "reversing_valve_leak",
)  # fmt: skip
"""Single faults with a steady signature; hunting, controls and air's wavering need time and have tests of
their own."""
SEVERE = 0.8
_LIQUIDS = {"water": ("water", math.nan), "MPG": ("propylene_glycol", 0.25)}

TRUE_CODES: dict[str, frozenset[str]] = {
    "": frozenset(),
    "weak_pump_capacitor": frozenset({"weak_pump"}),
    "valve_hunting": frozenset({"hunting"}),
}
"""Fault of the plant to the codes that are true of it, where they differ from its own name."""
ALIKE: dict[str, frozenset[str]] = {
    "liquid_line_restriction": frozenset({"valve_starving"}),
    "valve_starving": frozenset({"liquid_line_restriction"}),
    "clogged_strainer": frozenset({"air_in_loop"}),
    "air_in_loop": frozenset({"clogged_strainer"}),
}
"""Pairs that a test shows not to be told apart by steady readings of pressures, temperatures and flows."""


@dataclass(frozen=True, slots=True)
class Case:
    """One visit to one simulated machine."""

    seed: int
    fault: str
    severity: float
    machine: str
    visit: Visit
    card: UnitCard
    reference: Visit | None
    facts: frozenset[str]
    """Codes that are true of the machine's state whatever the cause, such as a flow below its band."""


def true_codes(case: Case) -> frozenset[str]:
    """Give every code that is true of a case."""
    own = TRUE_CODES.get(case.fault, frozenset({case.fault} if case.fault else set()))
    return own | case.facts


def draw(seed: int) -> Case | None:
    """Draw a case; None where the machine has no steady state there (it would trip)."""
    rng = random.Random(seed)
    story = rng.choice((HALL, HALL, BAKERY))
    fault = rng.choice(("", "", *FAULTS))
    boundary = story.boundary
    if fault == "iced_source_coil" and boundary.mode == "heating":
        boundary = replace(boundary, t_source_in=boundary.t_source_in - 5.0)  # ice needs cold water
    machine, boundary = _machine(rng, story.machine, boundary)
    # Severe faults are a third of the cases; the rest lies anywhere from a beginning fault upwards.
    severity = rng.uniform(SEVERE, 0.95) if rng.random() < 0.35 else rng.uniform(0.3, SEVERE)
    if fault == "valve_starving" and machine.valve.fixed:
        fault = "liquid_line_restriction"
    if fault == "valve_flooding" and machine.valve.fixed:
        fault = "overcharge"
    if boundary.mode == "cooling" and fault in (
        "iced_source_coil",
        "weak_pump_capacitor",
        "clogged_strainer",
        "air_in_loop",
    ):
        fault = (
            "scaled_source_coil"  # ice does not grow in a condenser, and a regulated well has no loop pump
        )
    try:
        healthy = solve(machine, boundary)
        then = replace(
            boundary,
            t_source_in=boundary.t_source_in + rng.uniform(-2.0, 2.0),
            t_load_in=boundary.t_load_in + rng.uniform(-1.5, 1.5),
            voltage=boundary.voltage * rng.uniform(0.97, 1.03),
        )
        was = solve(machine, then)
        now = solve(machine, boundary, one_fault(fault, severity) if fault else Faults())
    except (NoSteadyStateError, ValueError):
        return None
    kit = Kit(rng)
    card = _card(machine, boundary, healthy, _performance(machine, boundary))
    reference = kit.visit(machine, then, was) if rng.random() < 0.7 else None
    band = card.band("source_volume_flow", boundary.mode)
    assert band is not None
    facts = {"low_source_flow"} if now.source_flow < band.low else set()
    return Case(
        seed, fault, severity if fault else 0.0, f"{story.name} {machine.refrigerant}",
        kit.visit(machine, boundary, now), card, reference, frozenset(facts),
    )  # fmt: skip


def _machine(rng: random.Random, machine: Machine, boundary: Boundary) -> tuple[Machine, Boundary]:
    """Vary size, coils, refrigerant, metering and what the machine meets."""

    def coil(one: WaterCoil) -> WaterCoil:
        return replace(
            one,
            ua_water=one.ua_water * rng.uniform(0.85, 1.25),
            ua_condensing=one.ua_condensing * rng.uniform(0.9, 1.2),
        )

    machine = replace(machine, source_coil=coil(machine.source_coil))
    boundary = replace(
        boundary,
        t_source_in=boundary.t_source_in + rng.uniform(-1.5, 6.0),
        t_load_in=boundary.t_load_in + rng.uniform(-3.0, 4.0),
    )
    try:
        name = rng.choice(("R410A", "R410A", "R134a", "R22", "R407C"))
        if name != machine.refrigerant:
            machine = with_refrigerant(machine, name, boundary)
        else:
            machine = weighed_in(machine, boundary, rng.uniform(4.5, 7.0))
        if rng.random() < 0.15:
            machine = with_fixed_orifice(machine, boundary)
        elif rng.random() < 0.1:
            machine = with_receiver(machine, 0.4e-3)
    except (NoSteadyStateError, ValueError):
        pass
    return machine, boundary


def _performance(machine: Machine, boundary: Boundary) -> tuple[Performance, ...]:
    """Write the performance table from the healthy machine at three entering temperatures."""
    entering = tuple(boundary.t_source_in + shift for shift in (-4.0, 0.0, 4.0))
    try:
        states = [solve(machine, replace(boundary, t_source_in=t)) for t in entering]
    except NoSteadyStateError:
        return ()
    heating = boundary.mode == "heating"
    # Either side of the machine, as a maker would measure it there.
    capacity = tuple(abs(s.q_condenser if heating else s.q_evaporator) for s in states)
    power = tuple(s.power for s in states)
    table = Performance(
        boundary.mode,
        states[1].source_flow,
        boundary.t_load_in,
        entering,
        capacity,
        power,
        (),
        "maker's table",
    )
    return (table,)


def _card(machine: Machine, boundary: Boundary, s: State, performance: tuple[Performance, ...]) -> UnitCard:
    """Write the card as a maker would: bands about the healthy state, tables of the healthy coil."""
    heating = boundary.mode == "heating"
    change = abs(s.t_source_in - s.t_source_out)
    load = abs(s.t_load_out - s.t_load_in)
    fluid = _liquid(machine)
    flows = tuple(s.source_flow * share for share in (0.35, 0.5, 0.7, 0.85, 1.0, 1.15, 1.3))
    drops = tuple(s.source_drop * share**1.8 for share in (0.35, 0.5, 0.7, 0.85, 1.0, 1.15, 1.3))

    def band(symbol: str, low: float, high: float) -> Band:
        return Band(symbol, low, high, mode=boundary.mode, source="maker's table")

    saturated = refrigerant(machine.refrigerant)
    bubble = float(saturated.t_bubble(s.p_discharge))
    dew = float(saturated.t_dew(s.p_suction))
    cold_out, warm_out = (s.t_source_out, s.t_load_out) if heating else (s.t_load_out, s.t_source_out)
    warm_in = s.t_load_in if heating else s.t_source_in
    bands = [
        band("source_volume_flow", 0.9 * s.source_flow, 1.15 * s.source_flow),
        band("source_change", change - 1.2, change + 1.2),
        band("load_change", 0.8 * load, 1.25 * load),
        band("superheat", max(s.superheat - 2.5, 1.5), s.superheat + 3.0),
        band("subcooling", max(s.subcooling - 2.5, 1.5), s.subcooling + 2.5),
        band("evaporating_approach", cold_out - dew - 2.0, cold_out - dew + 2.0),
        band("condensing_approach", bubble - warm_out - 2.5, bubble - warm_out + 2.5),
        band("liquid_approach", s.t_liquid - warm_in - 2.0, s.t_liquid - warm_in + 3.0),
    ]
    if s.pump_current > 0.05:
        bands.append(band("pump_current", 0.92 * s.pump_current, 1.08 * s.pump_current))
    if isinstance(machine.load_coil, WaterCoil):
        bands.append(band("load_flow", 0.9 * s.load_flow, 1.1 * s.load_flow))
    metering = ORIFICE if machine.valve.fixed else VALVE
    return UnitCard(
        title=machine.name,
        kind="water to water" if isinstance(machine.load_coil, WaterCoil) else "water to air",
        refrigerant=machine.refrigerant, charge=machine.charge,
        metering={"heating": metering, "cooling": metering}, receiver=machine.receiver_volume > 0.0,
        loop="closed pressurised", source_liquid=fluid,
        load_liquid=Liquid("water") if isinstance(machine.load_coil, WaterCoil) else None,
        water_regulating_valve=False, variable_speed_pump=False, variable_speed_compressor=False, circuits=1,
        pump_capacitor=math.nan, cut_out=None, bands=tuple(bands),
        drops=PressureDropTable(flows, (boundary.t_source_in,), (drops,), fluid, source="maker's table"),
        performance=performance, supply=230.0,
    )  # fmt: skip


def _liquid(machine: Machine) -> Liquid:
    loop = machine.source_loop
    if loop.liquid == "water":
        return Liquid("water")
    return Liquid("propylene_glycol", mass_fraction=loop.mass_fraction)


class Kit:
    """One technician's instruments: fixed errors for the whole case, drawn from what is promised."""

    def __init__(self, rng: random.Random) -> None:
        self.rng = rng
        good = rng.random() < 0.6
        self.u_t = 0.2 if good else 0.4
        self.u_p = (4e3, 0.003) if good else (8e3, 0.006)
        self.u_q = 0.02 if good else 0.03
        self.meter = rng.random() < 0.5
        self.errors: dict[str, float] = {}

    def read(self, symbol: str, true: float, u: float) -> Seen:
        if symbol not in self.errors:
            self.errors[symbol] = self.rng.gauss(0.0, 1.0)
        return seen_value(symbol, true + u * self.errors[symbol], u)

    def visit(self, machine: Machine, boundary: Boundary, s: State) -> Visit:
        fixed, relative = self.u_p

        def p(value: float) -> float:
            return math.hypot(fixed, relative * value)

        t = self.u_t
        true: list[tuple[str, float, float]] = [
            ("suction_pressure", s.p_suction, p(s.p_suction)),
            ("discharge_pressure", s.p_discharge, p(s.p_discharge)),
            ("suction_temperature", s.t_suction, t),
            ("discharge_temperature", s.t_discharge, 2 * t),
            ("liquid_temperature", s.t_liquid, t),
            ("source_entering_temperature", s.t_source_in, t / 2),
            ("source_leaving_temperature", s.t_source_out, t / 2),
            ("source_pressure_drop", s.source_drop, math.hypot(300.0, 0.01 * s.source_drop)),
            ("compressor_power", s.power, 0.01 * s.power),
            ("supply_voltage", s.voltage, 0.01 * s.voltage),
        ]
        if self.meter:
            true.append(("source_flow", s.source_flow, self.u_q * s.source_flow))
        if s.pump_current > 0.05:
            true.append(("pump_current", s.pump_current, 0.015 * s.pump_current))
        if isinstance(machine.load_coil, WaterCoil):
            true += [
                ("load_entering_temperature", s.t_load_in, t / 2),
                ("load_leaving_temperature", s.t_load_out, t / 2),
                ("load_flow", s.load_flow, self.u_q * s.load_flow),
            ]
        else:
            true += [("return_air_temperature", s.t_load_in, t), ("supply_air_temperature", s.t_load_out, t)]
        values = {symbol: self.read(symbol, value, u) for symbol, value, u in true}
        return Visit(
            values=values, mode=boundary.mode, refrigerant=machine.refrigerant,
            curve=refrigerant(machine.refrigerant),
            source_liquid=_liquid(machine), load_liquid=Liquid("water"),
            source_coil=RatedCoil(machine.source_coil.flow_rated, machine.source_coil.dp_rated),
            barometer_pa=boundary.barometer, barometer_declared=True,
            flow_route=FlowRoute.METER if self.meter else None,
            metering=ORIFICE if machine.valve.fixed else VALVE, receiver=machine.receiver_volume > 0.0,
        )  # fmt: skip
