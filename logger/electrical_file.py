"""ELECTRICAL.toml: what a technician read with a meter, and what it becomes for the analysis."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from analysis.electrical import AcrossReading, ChainPoint, Limits, VoltReading, plate_limits
from analysis.electrical_branches import Branch
from analysis.electrical_circuits import (
    compressor_circuit,
    control_circuit,
    motor_circuit,
)
from analysis.electrical_elimination import CallTried
from analysis.electrical_motors import MotorReadings
from analysis.electrical_safety import Isolation, SecondSupply
from analysis.electrical_short_hunt import AfterRepair
from analysis.electrical_transformer import TransformerReadings
from analysis.electrical_windings import LEAST_INSULATION_OHM, Windings
from analysis.run_capacitor import run_capacitance
from analysis.units import Quantity
from logger.electrical_amounts import amount, ohms, time_of_day, volts_range
from logger.electrical_tables import (
    AfterTable,
    BranchTable,
    CircuitTable,
    ElectricalTable,
    IsolationTable,
    LimitsTable,
    MotorTable,
    TransformerTable,
)
from logger.errors import DamagedInputError
from logger.written_file import read_table

VOLTS_AND_AMPS_U = 0.03
"""Relative expanded uncertainty of a capacitance from volts and amps: 1 % and 2.5 % (common practice)."""
_V, _A, _OHM, _F = Quantity.VOLTAGE, Quantity.CURRENT, Quantity.RESISTANCE, Quantity.CAPACITANCE


@dataclass(frozen=True, slots=True)
class Circuit:
    """One circuit as the analysis takes it."""

    name: str
    points: tuple[ChainPoint, ...]
    readings: tuple[VoltReading, ...]
    across: tuple[AcrossReading, ...]
    call: bool | None
    coil_volts: float


@dataclass(frozen=True, slots=True)
class ElectricalCase:
    """Everything that was typed, as the analysis takes it."""

    title: str
    refrigerant: str
    limits: Limits
    isolation: Isolation | None
    phase_volts: tuple[float, ...]
    circuits: tuple[Circuit, ...]
    transformer: TransformerReadings | None
    loads: tuple[tuple[str, float, float], ...]
    branches: tuple[Branch, ...] | None
    common_earthed: bool | None
    after: AfterRepair | None
    calls: tuple[CallTried, ...]
    motors: tuple[MotorReadings, ...]


def load_electrical(path: Path) -> ElectricalCase:
    """Read a file of electrical readings.

    Raises
    ------
    CommandError
        If it is missing or wrong; one sentence with the key path and what to write.
    """
    try:
        return case_of(read_table(path, ElectricalTable, "file of electrical readings"))
    except ValueError as refused:
        raise DamagedInputError(f"{path}: {refused}") from None


def case_of(table: ElectricalTable) -> ElectricalCase:
    """Turn the typed tables into what the analysis takes.

    Raises
    ------
    ValueError
        With the key path, where a value cannot be understood.
    """
    hunt, transformer = table.short_hunt, table.transformer
    names = [branch.name for branch in hunt.branch] if hunt else []
    for what, listed in (("circuit", [c.name for c in table.circuit]), ("short_hunt.branch", names)):
        for name in listed:
            if listed.count(name) > 1:
                raise ValueError(f"'{what}': '{name}' stands twice; give each a name of its own.")
    if len(table.phase_volts) not in (0, 3):
        raise ValueError("'phase_volts': write three voltages, L1-L2, L2-L3 and L3-L1.")
    leads = amount("short_hunt.meter_leads", hunt.meter_leads, _OHM, 0.0) if hunt else 0.0
    return ElectricalCase(
        title=table.title,
        refrigerant=table.refrigerant,
        limits=limits_of(table.limits),
        isolation=_isolation(table.isolation),
        phase_volts=tuple(amount("phase_volts", text, _V) for text in table.phase_volts),
        circuits=tuple(_circuit(n, c) for n, c in enumerate(table.circuit, start=1)),
        transformer=_transformer(transformer) if transformer else None,
        loads=tuple((x.name, x.sealed_va, x.inrush_va) for x in transformer.loads) if transformer else (),
        branches=tuple(_branch(n, b, leads) for n, b in enumerate(hunt.branch, start=1)) if hunt else None,
        common_earthed=hunt.common_earthed if hunt else None,
        after=_after(hunt.after) if hunt and hunt.after else None,
        calls=tuple(CallTried(c.name, c.branches, c.blew) for c in hunt.call) if hunt else (),
        motors=tuple(_motor(n, m) for n, m in enumerate(table.motor, start=1)),
    )


def limits_of(table: LimitsTable) -> Limits:
    """Turn plate or supply range into limits.

    Raises
    ------
    ValueError
        Where they cannot be understood.
    """
    tap = amount("limits.tap", table.tap, _V)
    if table.plate and table.supply:
        raise ValueError("'limits': give the plate or the supply range, not both.")
    try:
        limits = Limits(tap=tap)
        if table.plate:
            limits = plate_limits(
                *volts_range("limits.plate", table.plate), source=_plate_words(table), tap=tap
            )
        elif table.supply:
            low, high = volts_range("limits.supply", table.supply)
            if not low < high:
                raise ValueError("write a range such as '207-253 V'")
            limits = Limits(supply_low=low, supply_high=high, supply_source=table.source, tap=tap)
    except ValueError as refused:
        raise ValueError(f"'limits': {str(refused).rstrip('.')}.") from None
    if table.pull_in:
        pull_in = amount("limits.pull_in", table.pull_in, _V)
        limits = dataclasses.replace(limits, pull_in=pull_in, pull_in_source=table.pull_in_source)
    return limits


def _plate_words(table: LimitsTable) -> str:
    return f"{table.plate} plate" if table.source == "plate" else f"{table.source}: {table.plate} plate"


def _isolation(table: IsolationTable | None) -> Isolation | None:
    if table is None:
        return None
    supplies = table.second_supplies
    return Isolation(
        table.who,
        table.when,
        table.proven_dead,
        table.meter_proved_before,
        table.meter_proved_after,
        None if supplies is None else tuple(SecondSupply(s.name, s.isolated) for s in supplies),
    )


_KINDS: dict[str, Callable[[CircuitTable], tuple[ChainPoint, ...]]] = {
    "control": lambda table: control_circuit(table.safeties),
    "compressor": lambda _: compressor_circuit(),
    "pump": lambda _: motor_circuit("pump", relay_coil="relay_coil"),
    "fan": lambda _: motor_circuit("fan", relay_coil="relay_coil"),
    "own": lambda table: tuple(
        ChainPoint(p.name, p.side, p.part, role=p.role, closed_by=p.closed_by) for p in table.point
    ),
}


def points_of(table: CircuitTable) -> tuple[ChainPoint, ...]:
    """Give the points of a circuit, in order."""
    return _KINDS[table.kind](table)


def _circuit(number: int, table: CircuitTable) -> Circuit:
    path = f"circuit[{number}]"
    points = points_of(table)
    if not points:
        raise ValueError(f"'{path}.point': a circuit of kind 'own' needs its points, in order.")
    names = [point.name for point in points]
    readings, across = [], []
    for n, r in enumerate(table.reading, start=1):
        at = f"{path}.reading[{n}]"
        _known(f"{at}.point", r.point, names)
        readings.append(
            VoltReading(r.point, amount(f"{at}.volts", r.volts, _V), r.loaded, time_of_day(at, r.time), r.who)
        )
    for n, a in enumerate(table.across, start=1):
        at = f"{path}.across[{n}]"
        _known(f"{at}.point", a.point, names)
        across.append(AcrossReading(a.point, amount(f"{at}.volts", a.volts, _V), a.loaded))
    coil = amount(f"{path}.coil_volts", table.coil_volts, _V)
    return Circuit(table.name, points, tuple(readings), tuple(across), table.call, coil)


def _known(path: str, name: str, names: list[str]) -> None:
    if name not in names:
        raise ValueError(f"'{path}': '{name}' is no point of this circuit; it has {', '.join(names)}.")


def _transformer(table: TransformerTable) -> TransformerReadings:
    if table.va < 0.0:
        raise ValueError("'transformer.va': must be more than zero.")
    return TransformerReadings(
        amount("transformer.primary", table.primary, _V),
        amount("transformer.secondary", table.secondary, _V),
        amount("transformer.lifted", table.lifted, _V),
        table.va or math.nan,
        amount("transformer.fuse", table.fuse, _A),
    )


def _branch(number: int, table: BranchTable, leads: float) -> Branch:
    path = f"short_hunt.branch[{number}]"
    time_of_day(path, table.time)
    return Branch(
        table.name,
        table.load,
        ohms(f"{path}.to_common", table.to_common, leads),
        ohms(f"{path}.to_earth", table.to_earth, leads),
        table.lifted,
        amount(f"{path}.volts", table.volts, _V, 0.0),
        table.repaired,
    )


def _after(table: AfterTable) -> AfterRepair:
    return AfterRepair(
        amount("short_hunt.after.at_rest", table.at_rest, _V),
        amount("short_hunt.after.under_load", table.under_load, _V),
    )


def _motor(number: int, table: MotorTable) -> MotorReadings:
    path, w = f"motor[{number}]", table.windings
    capacitance = amount(f"{path}.capacitor", table.capacitor, _F)
    from_amps = math.isnan(capacitance) and bool(table.capacitor_volts and table.capacitor_amps)
    if from_amps:
        # C = I / (2 pi f V), live, with the clamp round the capacitor's own lead.
        if not table.frequency:
            raise ValueError(f"'{path}.frequency': volts and amps of a capacitor need '50 Hz' or '60 Hz'.")
        capacitance = float(
            run_capacitance(
                amount(f"{path}.capacitor_amps", table.capacitor_amps, _A),
                amount(f"{path}.capacitor_volts", table.capacitor_volts, _V),
                amount(f"{path}.frequency", table.frequency, Quantity.FREQUENCY),
            )
        )
    return MotorReadings(
        name=table.name,
        terminals=amount(f"{path}.terminals", table.terminals, _V),
        terminals_starting=amount(f"{path}.terminals_starting", table.terminals_starting, _V),
        supply_starting=amount(f"{path}.supply_starting", table.supply_starting, _V),
        amps=amount(f"{path}.amps", table.amps, _A),
        rated_amps=amount(f"{path}.rated_amps", table.rated_amps, _A),
        locked_amps=amount(f"{path}.locked_amps", table.locked_amps, _A),
        runs=table.runs,
        capacitance=capacitance,
        capacitance_u=VOLTS_AND_AMPS_U if from_amps else math.nan,
        marked_capacitance=amount(f"{path}.capacitor_marked", table.capacitor_marked, _F),
        start_capacitance=amount(f"{path}.start_capacitor", table.start_capacitor, _F),
        marked_start_capacitance=amount(f"{path}.start_capacitor_marked", table.start_capacitor_marked, _F),
        pressure_ratio=table.pressure_ratio,
        windings=Windings(
            ohms(f"{path}.windings.c_s", w.c_s),
            ohms(f"{path}.windings.c_r", w.c_r),
            ohms(f"{path}.windings.s_r", w.s_r),
            ohms(f"{path}.windings.to_earth", w.to_earth),
            amount(f"{path}.windings.least_to_earth", w.least_to_earth, _OHM, LEAST_INSULATION_OHM),
            w.earth_source if w.least_to_earth else "common practice: 1 Mohm",
            w.shell_hot,
            w.stopped_h,
        ),
    )
