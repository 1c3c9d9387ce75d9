"""The voltage chain of a recorded session: the newest volts of its measuring points, as if read in turn."""

from __future__ import annotations

import math
from pathlib import Path

from analysis.analyser import Results
from analysis.electrical import LIVE_POINTS, VoltReading, live_readings
from analysis.electrical_circuits import compressor_circuit, control_circuit, motor_circuit
from analysis.machine_events import running
from logger.electrical_file import Circuit, ElectricalCase, limits_of
from logger.electrical_tables import LimitsTable
from logger.errors import CommandError
from logger.replay import analyse_session, open_session


def case_of_session(folder: Path, plate: str = "") -> ElectricalCase:
    """Take the newest volts of a session.

    Parameters
    ----------
    folder
        Of the session.
    plate
        Plate voltage, ``230 V`` or ``208-230 V``; without it line volts are only compared with each other.

    Raises
    ------
    CommandError
        If it is no session, or no volts were recorded.
    """
    session = open_session(str(folder))
    try:
        limits = limits_of(LimitsTable(plate=plate))
    except ValueError as refused:
        raise CommandError(f"--plate: {refused}") from None
    readings: dict[str, VoltReading] = {}
    refrigerant = ""
    for result in analyse_session(session):
        readings = _newest(result)
        refrigerant = result.settings.refrigerant or refrigerant
    if not readings:
        wanted = ", ".join(LIVE_POINTS)
        raise CommandError(f"{folder}: no volts were recorded; assign a channel to one of {wanted}.")
    circuits = []
    for name, points in (
        ("control", control_circuit()), ("compressor", compressor_circuit()), ("pump", motor_circuit("pump")),
    ):  # fmt: skip
        held = tuple(reading for point, reading in readings.items() if point in {p.name for p in points})
        own = [r for r in held if r.point != "supply"]
        if own or (name == "control" and held):
            circuits.append(Circuit(name, points, held, (), None, math.nan))
    return ElectricalCase(
        title=session.header.title,
        refrigerant=refrigerant,
        limits=limits,
        isolation=None,
        phase_volts=(),
        circuits=tuple(circuits),
        transformer=None,
        loads=(),
        branches=None,
        common_earthed=None,
        after=None,
        calls=(),
        motors=(),
    )


def _newest(result: Results) -> dict[str, VoltReading]:
    """Give the volts of the newest row; a silent point has none, whatever it said before."""
    if not result.rows:
        return {}
    on = running(result.points)
    loaded = None if on is None else bool(on[-1])
    second = int(result.t_us[-1]) // 1_000_000
    moment = f"{second // 3600}:{second // 60 % 60:02}:{second % 60:02}"  # of the session
    values = {name: float(column.value[-1]) for name, column in result.points.items()}
    return {reading.point: reading for reading in live_readings(values, loaded=loaded, time=moment)}
