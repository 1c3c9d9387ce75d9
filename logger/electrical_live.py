"""The voltage chain of a recorded session: the newest volts of its measuring points, as if read in turn."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from analysis.analyser import Results
from analysis.electrical import LIVE_POINTS, VoltReading, live_readings
from analysis.electrical_circuits import compressor_circuit, control_circuit, motor_circuit
from analysis.machine_events import running
from logger.electrical_file import Circuit, ElectricalCase, limits_of, load_electrical
from logger.electrical_tables import LimitsTable
from logger.errors import CommandError
from logger.replay import analyse_session, open_session

TYPED = "electrical.toml"
"""File beside a session that keeps what was typed with a meter; ``evenrun electrical`` reads it too."""


def case_of_session(folder: Path, plate: str = "") -> ElectricalCase:
    """Take the newest volts of a session, and what was typed beside it.

    Parameters
    ----------
    folder
        Of the session.
    plate
        Plate voltage, ``230 V`` or ``208-230 V``; without it line volts are only compared with each other.

    Raises
    ------
    CommandError
        If it is no session, or no volts were recorded or typed.
    """
    session = open_session(str(folder))
    typed = folder / TYPED
    if typed.is_file():
        case = load_electrical(typed)
        if plate:
            raise CommandError(f"--plate: {typed} holds the readings typed on site; write the plate there.")
        newest: dict[str, VoltReading] = {}
        for result in analyse_session(session):
            newest = newest_volts(result)
        return with_live(case, tuple(newest.values()))
    try:
        limits = limits_of(LimitsTable(plate=plate))
    except ValueError as refused:
        raise CommandError(f"--plate: {refused}") from None
    readings: dict[str, VoltReading] = {}
    refrigerant = ""
    for result in analyse_session(session):
        readings = newest_volts(result)
        refrigerant = result.settings.refrigerant or refrigerant
    if not readings:
        wanted = ", ".join(LIVE_POINTS)
        raise CommandError(f"{folder}: no volts were recorded; assign a channel to one of {wanted}.")
    nothing = ElectricalCase(
        title=session.header.title,
        refrigerant=refrigerant,
        limits=limits,
        isolation=None,
        phase_volts=(),
        circuits=(),
        transformer=None,
        loads=(),
        branches=None,
        common_earthed=None,
        after=None,
        calls=(),
        motors=(),
    )
    return with_live(nothing, tuple(readings.values()))


def with_live(case: ElectricalCase, live: Sequence[VoltReading]) -> ElectricalCase:
    """Add a session's volts to what was typed; a typed value of a point in the same condition stands first.

    Parameters
    ----------
    case
        What was typed, if anything.
    live
        From :func:`newest_volts`.
    """
    circuits = [_added(circuit, live) for circuit in case.circuits]
    names = {circuit.name for circuit in circuits}
    for name, points in (
        ("control", control_circuit()), ("compressor", compressor_circuit()), ("pump", motor_circuit("pump")),
    ):  # fmt: skip
        if name in names:
            continue
        made = _added(Circuit(name, points, (), (), None, math.nan), live)
        own = [reading for reading in made.readings if reading.point != "supply"]
        if own or (name == "control" and made.readings):
            circuits.append(made)
    return replace(case, circuits=tuple(circuits))


def _added(circuit: Circuit, live: Sequence[VoltReading]) -> Circuit:
    points = {point.name for point in circuit.points}
    held = tuple(reading for reading in live if reading.point in points)
    if circuit.readings:
        # A moment of the session and a time of day are two clocks: no span between them is told.
        held = tuple(replace(reading, time="") for reading in held)
    return replace(circuit, readings=(*held, *circuit.readings))


def newest_volts(result: Results) -> dict[str, VoltReading]:
    """Give the volts of the newest row; a silent point has none, whatever it said before."""
    if not result.rows:
        return {}
    on = running(result.points)
    loaded = None if on is None else bool(on[-1])
    second = int(result.t_us[-1]) // 1_000_000
    moment = f"{second // 3600}:{second // 60 % 60:02}:{second % 60:02}"  # of the session
    values = {name: float(column.value[-1]) for name, column in result.points.items()}
    return {reading.point: reading for reading in live_readings(values, loaded=loaded, time=moment)}
