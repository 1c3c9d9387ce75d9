"""What counts as an event of the machine: the rules, each with the source of its limit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from analysis.elementwise import FloatArray
from analysis.first_movers import Mover, first_movers
from analysis.machine_events import EventKind, Evidence, MachineEvent
from analysis.points import POINTS

PRACTICE = "common practice, no source"
DRAWS_A = 0.2
"""A pump or fan of this trade draws more than this when it runs. Common practice, no source."""
DIP_SHARE = 0.9
DIP_SOURCE = "EN 50160: below 90 % of the reference voltage (from memory)"
DIP_REFERENCE_ROWS = 600
STAGE_SHARE = 0.25
"""A stage of a compressor is more than a quarter of its power. Common practice, no source."""
STAGE_BEFORE, STAGE_AFTER, STAGE_WITHIN = 30, 40, 10
QUIET_ROWS = 120
"""Around a start or a stop no stage change is looked for."""
CYCLE_S = 600.0
"""A start less than ten minutes after the one before: over six starts an hour. Common practice, no source."""
COLDER_K, HIGHER_SHARE = 2.0, 0.1
"""How far evaporating temperature and high-side pressure must have left where they ran, to tell a switch."""
PAUSE_MULTIPLE = 1.5
LEAST_TRIPS = 2
"""Standing half as long again as after every trip before, after two or more, is a lock-out."""
START_ROWS = 120
START_MARGIN_K = 2.0
"""A freeze margin below this calls for action, but not within the first two minutes of a start.
Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Sight:
    """The rows in sight; events are looked for in ``block`` rows from ``begin`` on."""

    t_us: np.ndarray
    columns: Mapping[str, FloatArray]
    running: np.ndarray
    mode: np.ndarray
    begin: int
    block: int

    def changes(self, state: np.ndarray) -> list[tuple[int, bool]]:
        """Rows of the block at which a state (1, 0; -1 not known) is another than when last known."""
        newest = np.maximum.accumulate(np.where(state >= 0, np.arange(state.size), -1))
        held = np.where(newest >= 0, state[np.maximum(newest, 0)], -1)
        rows = np.arange(max(self.begin, 1), self.begin + self.block)
        hits = rows[(held[rows] != held[rows - 1]) & (held[rows - 1] >= 0)]
        return [(int(row), bool(held[row])) for row in hits]


@dataclass(slots=True)
class History:
    """What the events so far mean for the next ones."""

    searched: int = 0
    last_start_us: int | None = None
    trips_us: list[int] = field(default_factory=list)
    """Stops by a switch since the machine last ran without one."""
    stopped_us: int | None = None
    """The last stop by a switch, while the machine stands."""
    longest_pause_us: int = 0
    locked: bool = False
    dip_until_us: int = -1
    pump_stopped_us: int | None = None


def events_in(seen: Sight, history: History) -> list[MachineEvent]:
    """Find the events of one block, in the order of time."""
    found = [*_compressor(seen, history), *_motor(seen, history, "pump_current")]
    found += _motor(seen, history, "fan_current")
    found += [*_modes(seen), *_dips(seen, history), *_stages(seen)]
    return sorted(found, key=lambda event: event.t_us)


def _at(seen: Sight, name: str, row: int) -> float:
    column = seen.columns.get(name)
    return float(column[row]) if column is not None and 0 <= row < column.size else np.nan


def _known(*evidence: Evidence) -> tuple[Evidence, ...]:
    return tuple(item for item in evidence if np.isfinite(item.value))


def _compressor(seen: Sight, history: History) -> list[MachineEvent]:
    found: list[MachineEvent] = []
    for row, runs in seen.changes(seen.running):
        t_us = int(seen.t_us[row])
        found += _lock_out(history, t_us)
        found += _start(seen, history, row, t_us) if runs else _stop(seen, history, row, t_us)
    return found + _lock_out(history, int(seen.t_us[seen.begin + seen.block - 1]))


def _start(seen: Sight, history: History, row: int, t_us: int) -> list[MachineEvent]:
    found = [MachineEvent(t_us, EventKind.COMPRESSOR_START)]
    if history.last_start_us is not None and (t_us - history.last_start_us) / 1e6 < CYCLE_S:
        since = Evidence("time", (t_us - history.last_start_us) / 1e6, CYCLE_S, PRACTICE)
        found.append(MachineEvent(t_us, EventKind.SHORT_CYCLING, (since,)))
    if history.stopped_us is not None:
        history.longest_pause_us = max(history.longest_pause_us, t_us - history.stopped_us)
    history.last_start_us, history.stopped_us, history.locked = t_us, None, False
    margin = seen.columns.get("freeze_margin")
    if margin is not None:
        below = np.flatnonzero(margin[row : row + START_ROWS] < START_MARGIN_K)
        if below.size:
            lowest = float(np.nanmin(margin[row : row + START_ROWS]))
            found.append(
                MachineEvent(
                    int(seen.t_us[row + below[0]]), EventKind.START_DIP,
                    (Evidence("freeze_margin", lowest, START_MARGIN_K, PRACTICE),
                     Evidence("time", float(below.size))),
                )
            )  # fmt: skip
    return found


def _stop(seen: Sight, history: History, row: int, t_us: int) -> list[MachineEvent]:
    places = {name: seen.columns[name] for name in POINTS if name in seen.columns}
    movers = tuple(first_movers(seen.t_us, places, row))
    found = [
        MachineEvent(
            t_us, EventKind.COMPRESSOR_STOP,
            _known(
                Evidence("evaporating_temperature", _at(seen, "evaporating_temperature", row - 1)),
                Evidence("discharge_pressure", _at(seen, "discharge_pressure", row - 1)),
                Evidence("control_voltage", _at(seen, "control_voltage", row - 1)),
            ),
            movers,
        )
    ]  # fmt: skip
    switch = _low_temperature(seen, row, t_us) or _high_pressure(movers, t_us)
    if switch is None:
        history.trips_us, history.stopped_us = [], None
    else:
        history.trips_us.append(t_us)
        history.stopped_us = t_us
        found.append(switch)
    return found


def _low_temperature(seen: Sight, row: int, t_us: int) -> MachineEvent | None:
    column = seen.columns.get("evaporating_temperature")
    if column is None:
        return None
    before = column[max(row - 600, 0) : max(row - 120, 0)]
    before = before[np.isfinite(before)]
    last = float(column[row - 1])
    if before.size < 60 or not last < float(np.median(before)) - COLDER_K:
        return None
    least = float(np.median(before)) - COLDER_K
    cold = Evidence("evaporating_temperature", last, least, "2 K below where it ran before")
    return MachineEvent(t_us, EventKind.LOW_TEMPERATURE, (cold,))


def _high_pressure(movers: tuple[Mover, ...], t_us: int) -> MachineEvent | None:
    for mover in movers:
        least = mover.level * (1.0 + HIGHER_SHARE)
        if mover.point in ("discharge_pressure", "liquid_pressure") and mover.value > least:
            high = Evidence(mover.point, mover.value, least, "10 % above where it ran before")
            return MachineEvent(t_us, EventKind.HIGH_PRESSURE, (high,))
    return None


def _lock_out(history: History, upto_us: int) -> list[MachineEvent]:
    """Tell a lock-out once the machine stands half as long again as after any trip before."""
    if history.stopped_us is None or history.locked or len(history.trips_us) <= LEAST_TRIPS:
        return []
    due = history.stopped_us + int(PAUSE_MULTIPLE * history.longest_pause_us)
    if not history.longest_pause_us or upto_us < due:
        return []
    history.locked = True
    stood, before = (due - history.stopped_us) / 1e6, history.longest_pause_us / 1e6
    pause = Evidence("time", stood, before, "the longest pause after a trip before")
    return [MachineEvent(due, EventKind.LOCKED_OUT, (pause,))]


def _motor(seen: Sight, history: History, name: str) -> list[MachineEvent]:
    """Tell starts and stops of a pump or fan by its current; a pump that stops alone has tripped."""
    column = seen.columns.get(name)
    if column is None:
        return []
    pump = name == "pump_current"
    draws = np.where(np.isfinite(column), column > DRAWS_A, -1).astype(np.int8)
    found: list[MachineEvent] = []
    for row, runs in seen.changes(draws):
        t_us = int(seen.t_us[row])
        current = Evidence(name, float(column[row]), DRAWS_A, PRACTICE)
        if runs:
            away = () if not pump or history.pump_stopped_us is None else (
                Evidence("time", (t_us - history.pump_stopped_us) / 1e6),
            )  # fmt: skip
            found.append(
                MachineEvent(t_us, EventKind.PUMP_START if pump else EventKind.FAN_START, (current, *away))
            )
            continue
        found.append(MachineEvent(t_us, EventKind.PUMP_STOP if pump else EventKind.FAN_STOP, (current,)))
        if pump:
            history.pump_stopped_us = t_us
            ran_on = seen.running[row : row + 3]
            if ran_on.size == 3 and (ran_on == 1).all():
                supply = Evidence("supply_voltage", _at(seen, "supply_voltage", row))
                found.append(MachineEvent(t_us, EventKind.PUMP_TRIP, _known(current, supply)))
    return found


def _modes(seen: Sight) -> list[MachineEvent]:
    rows = np.arange(max(seen.begin, 1), seen.begin + seen.block)
    return [
        MachineEvent(int(seen.t_us[row]), EventKind.MODE)
        for row in rows[seen.mode[rows] != seen.mode[rows - 1]].tolist()
    ]


def _dips(seen: Sight, history: History) -> list[MachineEvent]:
    """Tell dips of the supply against the median of the ten minutes before."""
    volts = seen.columns.get("supply_voltage")
    if volts is None:
        return []
    found: list[MachineEvent] = []
    block = volts[seen.begin : seen.begin + seen.block]
    before = volts[max(seen.begin - DIP_REFERENCE_ROWS, 0) : seen.begin]
    known = before[np.isfinite(before)] if np.isfinite(before).any() else block[np.isfinite(block)]
    if not known.size:
        return []
    least = DIP_SHARE * float(np.median(known))
    below = volts < least
    for row in (seen.begin + np.flatnonzero(block < least)).tolist():
        if int(seen.t_us[row]) <= history.dip_until_us:
            continue
        end = row
        while end + 1 < below.size and below[end + 1]:
            end += 1
        history.dip_until_us = int(seen.t_us[end])
        lowest = Evidence("supply_voltage", float(np.nanmin(volts[row : end + 1])), least, DIP_SOURCE)
        lasting = Evidence("time", float(end + 1 - row))
        found.append(MachineEvent(int(seen.t_us[row]), EventKind.VOLTAGE_DIP, (lowest, lasting)))
    return found


def _stages(seen: Sight) -> list[MachineEvent]:
    """Tell steps of the compressor's power, or current, while it runs."""
    names = ("compressor_power", "compressor_current")
    name = next((n for n in names if np.isfinite(seen.columns.get(n, np.nan)).any()), "")
    if not name:
        return []
    column, found = seen.columns[name], []
    share = np.zeros(column.size)
    first = max(seen.begin - STAGE_BEFORE, QUIET_ROWS)
    for row in range(first, min(seen.begin + seen.block + STAGE_BEFORE, column.size - STAGE_AFTER)):
        near = seen.running[row - QUIET_ROWS : row + STAGE_AFTER]
        if abs(column[row + STAGE_WITHIN] - column[row]) <= 0.5 * STAGE_SHARE * abs(column[row]):
            continue
        if (near == 1).all():
            before = float(np.median(column[row - STAGE_BEFORE : row]))
            after = float(np.median(column[row + STAGE_WITHIN : row + STAGE_AFTER]))
            share[row] = (after - before) / before if before > 0.0 else 0.0
    stepping = np.abs(share[seen.begin : seen.begin + seen.block]) > STAGE_SHARE
    for row in (seen.begin + np.flatnonzero(stepping)).tolist():
        around = np.abs(share[max(row - STAGE_BEFORE, 0) : row + STAGE_BEFORE + 1])
        largest = max(row - STAGE_BEFORE, 0) + int(around.argmax())
        if largest == row:
            change = Evidence(name, float(share[row]), STAGE_SHARE, PRACTICE)
            found.append(MachineEvent(int(seen.t_us[row]), EventKind.STAGE, (change,)))
    return found
