"""Keeping typed electrical readings in a file that ``evenrun electrical`` reads back the same."""

from __future__ import annotations

import os
from pathlib import Path

import msgspec

from logger.electrical_tables import CallTable, ElectricalTable, IsolationTable, SupplyTable
from logger.electrical_typing import hunt_of, next_of

USUAL_CALLS = ("heat", "cool", "fan only")
STATEMENTS = ("who", "before", "dead", "after", "supplies")
"""What a person states about the isolation, in this order."""
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


def calls_of(table: ElectricalTable) -> tuple[str, ...]:
    """Give the calls that can be tried: those of the table, then the usual ones."""
    names = [call.name for call in hunt_of(table).call]
    return (*names, *(name for name in USUAL_CALLS if name not in names))


def with_call(table: ElectricalTable, name: str, branch: str = "") -> ElectricalTable:
    """Say what a call did to the fuse, or that it energises a branch.

    Parameters
    ----------
    branch
        Toggled for the call; without it the call goes from not tried, to blew, to held.

    Examples
    --------
    >>> blew = with_call(with_call(ElectricalTable(), "heat"), "heat", "contactor coil")
    >>> blew.short_hunt.call[0].blew, blew.short_hunt.call[0].branches
    (True, ('contactor coil',))
    """
    hunt = hunt_of(table)
    known = next((call for call in hunt.call if call.name == name), None)
    if branch:
        if known is None:
            return table  # what a call energises counts once it was tried
        has = branch in known.branches
        branches = tuple(b for b in known.branches if b != branch) if has else (*known.branches, branch)
        changed: CallTable | None = _replace(known, branches=branches)
    else:
        blew = next_of((None, True, False), known.blew if known is not None else None)
        held = known.branches if known is not None else ()
        changed = None if blew is None else CallTable(name=name, branches=held, blew=blew is True)
    order = [call.name for call in hunt.call]
    others = {call.name: call for call in hunt.call if call.name != name}
    if changed is not None:
        others[name] = changed
    calls = tuple(others[n] for n in (*order, *(n for n in others if n not in order)) if n in others)
    return _replace(table, short_hunt=_replace(hunt, call=calls))


def _next_supplies(held: tuple[SupplyTable, ...] | None) -> tuple[SupplyTable, ...] | None:
    """Go from not looked for, to none there, to all found isolated, to one still live."""
    if held is None:
        return ()
    if not held:
        return (SupplyTable(name="every second supply found", isolated=True),)
    if all(supply.isolated for supply in held):
        return (SupplyTable(name="a second supply", isolated=False),)
    return None
