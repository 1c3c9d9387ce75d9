"""Electrical readings typed one at a time: which values there are to enter, and a table with one more in it.

The table is the one that ``evenrun electrical`` reads from a file, so whatever is typed on a screen is worked
out by the same rules and can be kept as such a file.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import msgspec

from analysis.electrical_branches import USUAL_BRANCHES
from analysis.finding_acts import Safe
from logger.electrical_file import points_of
from logger.electrical_tables import (
    AfterTable,
    BranchTable,
    CircuitTable,
    ElectricalTable,
    MotorTable,
    ReadingTable,
    ShortHuntTable,
    TransformerTable,
)

USUAL_CIRCUITS = ("control", "compressor", "pump", "fan")
USUAL_PLATES = ("", "230 V", "208-230 V", "240 V", "120 V", "400 V", "460 V", "575 V")
"""Plate voltages to choose from (common practice, no source); another one is written into the file."""
MOST = {"V": 1000.0, "A": 1000.0, "ohm": 9_999_999.0, "uF": 9999.0}
"""What a meter of this trade may show at most; more is a slip of the finger (common practice, no source)."""
_Struct = TypeVar("_Struct", bound=msgspec.Struct)
_Named = TypeVar("_Named", CircuitTable, MotorTable)
_replace = msgspec.structs.replace
_ISOLATED = Safe.ISOLATED.value
_LIVE = "live, if licensed"


@dataclass(frozen=True, slots=True)
class Entry:
    """One value that can be typed."""

    key: str
    """Such as ``volts fuse`` or ``branch 2 to_earth``."""
    label: str
    unit: str
    """As typed: V, A, ohm or uF."""
    condition: str
    """In which condition it is read."""
    shown: str = ""
    """The last value as typed; empty where it was not measured."""
    may_be_open: bool = False


@dataclass(frozen=True, slots=True)
class Typed:
    """What is told with a typed value."""

    loaded: bool | None = None
    """Whether what the circuit feeds was switched on."""
    time: str = ""
    who: str = ""


def circuit_names(table: ElectricalTable) -> tuple[str, ...]:
    """Give the circuits that can be chosen: those of the table, then the usual ones."""
    names = [circuit.name for circuit in table.circuit]
    kinds = {circuit.kind for circuit in table.circuit}
    return (*names, *(name for name in USUAL_CIRCUITS if name not in names and name not in kinds))


def circuit_of(table: ElectricalTable, name: str) -> CircuitTable:
    """Give a circuit as typed so far; a new one of a usual kind where nothing is typed yet."""
    known = next((circuit for circuit in table.circuit if circuit.name == name), None)
    return known or CircuitTable(name=name, kind=name)  # type: ignore[arg-type]


def with_circuit(table: ElectricalTable, changed: CircuitTable) -> ElectricalTable:
    """Put a changed circuit in the place of the one of its name."""
    return _replace(table, circuit=_put(table.circuit, changed))


def motor_of(table: ElectricalTable, circuit: CircuitTable) -> MotorTable:
    """Give the motor that a circuit feeds, as typed so far."""
    known = next((motor for motor in table.motor if motor.name in (circuit.name, circuit.kind)), None)
    return known or MotorTable(name=circuit.name)


def with_motor(table: ElectricalTable, changed: MotorTable) -> ElectricalTable:
    """Put a changed motor in the place of the one of its name."""
    return _replace(table, motor=_put(table.motor, changed))


def hunt_of(table: ElectricalTable) -> ShortHuntTable:
    """Give the short hunt as typed so far; with the usual branches where none are named."""
    hunt = table.short_hunt or ShortHuntTable()
    if hunt.branch:
        return hunt
    return _replace(hunt, branch=tuple(BranchTable(name=n, load=load) for n, load in USUAL_BRANCHES))


def chain_entries(table: ElectricalTable, name: str) -> tuple[Entry, ...]:
    """List what can be typed along a circuit.

    Examples
    --------
    >>> [entry.key for entry in chain_entries(ElectricalTable(), "pump")][4:6]
    ['volts pump_terminals', 'motor amps']
    """
    circuit = circuit_of(table, name)
    last = {reading.point: reading.volts for reading in circuit.reading}
    found = [
        Entry(f"volts {point.name}", point.shown, "V", _LIVE, last.get(point.name, ""))
        for point in points_of(circuit)
    ]
    if circuit.kind in USUAL_CIRCUITS[1:]:
        motor = motor_of(table, circuit)
        found += [
            Entry("motor amps", "motor, amps", "A", _LIVE, motor.amps),
            Entry("motor rated_amps", "amps on its card", "A", "from the card", motor.rated_amps),
            Entry("motor capacitor", "run capacitor", "uF", f"{_ISOLATED}, leads off", motor.capacitor),
            Entry(
                "motor capacitor_marked", "capacitor, marked", "uF", "from its marking",
                motor.capacitor_marked,
            ),
        ]  # fmt: skip
    return tuple(found)


def hunt_entries(table: ElectricalTable) -> tuple[Entry, ...]:
    """List what can be typed in a short hunt, in the order in which it is measured.

    Examples
    --------
    >>> [entry.key for entry in hunt_entries(ElectricalTable())][3:6]
    ['hunt meter_leads', 'branch 1 to_common', 'branch 1 to_earth']
    """
    transformer, hunt = table.transformer or TransformerTable(), hunt_of(table)
    after = hunt.after or AfterTable()
    found = [
        Entry("transformer primary", "transformer, primary", "V", _LIVE, transformer.primary),
        Entry("transformer secondary", "secondary, leads on", "V", _LIVE, transformer.secondary),
        Entry("transformer lifted", "secondary, leads lifted", "V", _LIVE, transformer.lifted),
        Entry("hunt meter_leads", "meter's own leads", "ohm", "held together", hunt.meter_leads),
    ]
    lifted = f"{_ISOLATED}, lifted at both ends"
    for number, branch in enumerate(hunt.branch, start=1):
        for side, words, shown in (
            ("to_common", "to C", branch.to_common),
            ("to_earth", "to earth", branch.to_earth),
        ):
            label = f"{branch.name}, {words}"
            found.append(Entry(f"branch {number} {side}", label, "ohm", lifted, shown, may_be_open=True))
    found += [
        Entry("after at_rest", "R to C at rest, repaired", "V", _LIVE, after.at_rest),
        Entry("after under_load", "R to C under load, repaired", "V", _LIVE, after.under_load),
    ]
    return (
        *found,
        *(
            Entry(f"branch {n} volts", f"{branch.name}, any volts left", "V", _ISOLATED, branch.volts)
            for n, branch in enumerate(hunt.branch, start=1)
        ),
    )


def with_value(
    table: ElectricalTable, circuit: str, key: str, text: str, told: Typed | None = None
) -> ElectricalTable:
    """Put a typed value in.

    Parameters
    ----------
    circuit
        Which one volts are read on.
    key
        Of an :class:`Entry`.
    text
        Value with its unit, ``open``, or nothing to take the last one back.

    Examples
    --------
    >>> table = with_value(ElectricalTable(), "control", "volts fuse", "25.6 V")
    >>> table.circuit[0].reading[0].point, table.circuit[0].reading[0].volts
    ('fuse', '25.6 V')
    >>> with_value(table, "control", "volts fuse", "").circuit[0].reading
    ()
    """
    told = told or Typed()
    kind, _, rest = key.partition(" ")
    return _PUT[kind](table, circuit, rest, text, told)


def _volts(table: ElectricalTable, name: str, point: str, text: str, told: Typed) -> ElectricalTable:
    circuit = circuit_of(table, name)
    readings = list(circuit.reading)
    if text:
        readings.append(
            ReadingTable(point=point, volts=text, loaded=told.loaded, time=told.time, who=told.who)
        )
    else:
        last = max((n for n, reading in enumerate(readings) if reading.point == point), default=None)
        if last is not None:
            del readings[last]
    return with_circuit(table, _replace(circuit, reading=tuple(readings)))


def _motor(table: ElectricalTable, name: str, field: str, text: str, told: Typed) -> ElectricalTable:
    motor = motor_of(table, circuit_of(table, name))
    return with_motor(table, _changed(motor, field, text))


def _transformer(table: ElectricalTable, name: str, field: str, text: str, told: Typed) -> ElectricalTable:
    made = _changed(table.transformer or TransformerTable(), field, text)
    return _replace(table, transformer=_replace(made, time=told.time, who=told.who))


def _hunt(table: ElectricalTable, name: str, field: str, text: str, told: Typed) -> ElectricalTable:
    return _replace(table, short_hunt=_changed(hunt_of(table), field, text))


def _branch(table: ElectricalTable, name: str, which: str, text: str, told: Typed) -> ElectricalTable:
    number, _, field = which.partition(" ")
    hunt = hunt_of(table)
    branches = list(hunt.branch)
    made = _changed(branches[int(number) - 1], field, text)
    branches[int(number) - 1] = _replace(made, time=told.time, who=told.who)
    return _replace(table, short_hunt=_replace(hunt, branch=tuple(branches)))


def _after(table: ElectricalTable, name: str, field: str, text: str, told: Typed) -> ElectricalTable:
    hunt = hunt_of(table)
    return _replace(table, short_hunt=_replace(hunt, after=_changed(hunt.after or AfterTable(), field, text)))


_PUT: dict[str, Callable[[ElectricalTable, str, str, str, Typed], ElectricalTable]] = {
    "volts": _volts, "motor": _motor, "transformer": _transformer, "hunt": _hunt, "branch": _branch,
    "after": _after,
}  # fmt: skip


def repaired(table: ElectricalTable, number: int) -> ElectricalTable:
    """Mark a branch repaired, or take the mark back."""
    hunt = hunt_of(table)
    branches = list(hunt.branch)
    branches[number - 1] = _replace(branches[number - 1], repaired=not branches[number - 1].repaired)
    return _replace(table, short_hunt=_replace(hunt, branch=tuple(branches)))


def next_of(choices: Sequence[object], now: object) -> object:
    """Give the choice after the present one; the first where the present one is none of them.

    Examples
    --------
    >>> next_of((None, False, True), True) is None, next_of(("a", "b"), "x")
    (True, 'a')
    """
    return choices[(choices.index(now) + 1) % len(choices)] if now in choices else choices[0]


def _changed(struct: _Struct, field: str, text: str) -> _Struct:
    return _replace(struct, **{field: text})


def _put(known: tuple[_Named, ...], changed: _Named) -> tuple[_Named, ...]:
    found = [changed if one.name == changed.name else one for one in known]
    if changed not in found:
        found.append(changed)
    return tuple(found)


def shown_unit(unit: str) -> str:
    """Write a typed unit as it is shown."""
    return {"ohm": "Ω", "uF": "µF"}.get(unit, unit)


def entry_text(digits: str, unit: str) -> str:
    """Write what was typed on a pad as an amount with its unit.

    Raises
    ------
    ValueError
        If nothing was typed, or more than a meter of this trade can show.

    Examples
    --------
    >>> entry_text("25.6", "V"), entry_text(".4", "ohm"), entry_text("open", "ohm")
    ('25.6 V', '0.4 ohm', 'open')
    """
    if not digits.strip("."):
        raise ValueError("type a value first")
    if digits == "open":
        return digits
    if float(digits) > MOST[unit]:
        most = f"{MOST[unit]:,.0f} {shown_unit(unit)}".replace(",", " ")
        raise ValueError(f"more than {most} is no value of this machine: type it again")
    text = digits.rstrip(".")
    return f"0{text} {unit}" if text.startswith(".") else f"{text} {unit}"
