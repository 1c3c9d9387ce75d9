"""Keeping typed electrical readings in a file that ``evenrun electrical`` reads back the same."""

from __future__ import annotations

import os
from pathlib import Path

import msgspec

from logger.electrical_tables import ElectricalTable, IsolationTable, SupplyTable

_replace = msgspec.structs.replace


def write_table(path: Path, table: ElectricalTable) -> None:
    """Write what was typed, whole or not at all.

    Raises
    ------
    OSError
        If it cannot be written; the file is then as it was.
    """
    beside = path.with_name(f".{path.name}.part")
    try:
        with beside.open("wb") as file:
            file.write(msgspec.toml.encode(table))
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except OSError:
        beside.unlink(missing_ok=True)
        raise


def with_isolation(table: ElectricalTable, which: str, now: str) -> ElectricalTable:
    """Take one statement of a person that the machine is made safe, or take it back.

    Parameters
    ----------
    which
        ``who``, ``before``, ``dead``, ``after`` or ``supplies``.
    now
        Time of day, kept with ``who``.

    Examples
    --------
    >>> with_isolation(ElectricalTable(technician="A"), "who", "10:02").isolation.when
    '10:02'
    """
    held = table.isolation or IsolationTable()
    match which:
        case "who":
            who = "" if held.when else (table.technician or "technician")
            held = _replace(held, who=who, when="" if held.when else now)
        case "before":
            held = _replace(held, meter_proved_before=not held.meter_proved_before)
        case "dead":
            held = _replace(held, proven_dead=not held.proven_dead)
        case "after":
            held = _replace(held, meter_proved_after=not held.meter_proved_after)
        case "supplies":
            held = _replace(held, second_supplies=_next_supplies(held.second_supplies))
        case _:
            pass
    return _replace(table, isolation=held)


def _next_supplies(held: tuple[SupplyTable, ...] | None) -> tuple[SupplyTable, ...] | None:
    """Go from not looked for, to none there, to all found isolated, to one still live."""
    if held is None:
        return ()
    if not held:
        return (SupplyTable(name="every second supply found", isolated=True),)
    if all(supply.isolated for supply in held):
        return (SupplyTable(name="a second supply", isolated=False),)
    return None
