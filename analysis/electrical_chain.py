"""The voltage chain: where volts are first lost, which parts are cleared, and what the readings cannot reach.

Rules, in this order. Readings at no load (or of no stated load) are judged by themselves, and readings under
load by themselves, because volts sag when a load pulls in. Each reading is compared with the one before it on
the circuit. Volts that come back after a loss are impossible on one circuit: then nothing is named. A part is
named only where both ends of it were read; else the span in which it lies is given.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from analysis.electrical import (
    ALIVE_SHARE,
    LIGHT_LOAD_HIGH_V,
    LINE_METER_V,
    NO_LOAD_SHARE,
    PLATE_SHARE,
    ChainPoint,
    Limits,
    VoltReading,
)
from analysis.finding_acts import Act

SHORTED_OR_LOADED = "a short or overload after the transformer"
WRONG_TAP = "the transformer's tap"


class Outcome(StrEnum):
    """What a chain of readings says."""

    NOT_READ = "not read"
    CHECK = "check reading"
    LOSS = "first loss"
    WEAK = "weak"
    """No single loss, and too few volts at a point that needs more."""
    HIGH = "too many volts"
    NOT_CALLED = "not called"
    """Nothing is wrong as far as read: the thermostat does not call."""
    WHOLE = "no loss as far as read"


class Kind(StrEnum):
    """How volts are lost."""

    OPEN = "open"
    RESISTANCE = "resistance"
    LOW = "low"
    """The first reading of the circuit is below its limit."""
    TAP = "wrong tap"
    NO_CALL = "not called"


@dataclass(frozen=True, slots=True)
class Loss:
    """A loss of volts between two readings."""

    kind: Kind
    after: str
    """Last point that still had its volts; empty where none was read."""
    at: str
    parts: tuple[str, ...]
    """What the loss may lie in."""
    named: str = ""
    """The one part it lies in; empty where the readings do not single it out."""
    volts_before: float = math.nan
    volts: float = math.nan
    reason: str = ""
    """Why a span with one part is still not named."""


@dataclass(frozen=True, slots=True)
class Called:
    """What is known beside the volts of a circuit."""

    call: bool | None = None
    """Whether the thermostat calls; None where nobody said."""
    coil: Mapping[str, float] = field(default_factory=dict)
    """Volts of coils that close contacts of this circuit."""


@dataclass(frozen=True, slots=True)
class ChainVerdict:
    """What one circuit's readings say."""

    circuit: str
    outcome: Outcome
    statement: str
    loaded: bool
    """Whether the verdict rests on readings under load."""
    loss: Loss | None = None
    further: tuple[Loss, ...] = ()
    cleared: tuple[str, ...] = ()
    questions: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    acts: tuple[Act, ...] = ()
    readings: tuple[VoltReading, ...] = ()
    points: tuple[ChainPoint, ...] = ()
    limits: Limits = Limits()  # noqa: RUF009, frozen


Read = list[tuple[int, VoltReading]]


def newest(points: Sequence[ChainPoint], readings: Sequence[VoltReading], loaded: bool) -> Read:
    """Give the newest known reading of each point in one condition, in the order of the circuit."""
    last = {r.point: r for r in readings if r.known and (r.loaded is True) is loaded}
    return [(index, last[point.name]) for index, point in enumerate(points) if point.name in last]


def nominal_line(points: Sequence[ChainPoint], read: Read, limits: Limits) -> float:
    """Voltage of the line side [V]: the plate's, else the highest that was read there."""
    if math.isfinite(limits.nominal):
        return limits.nominal
    seen = max((r.volts for i, r in read if points[i].side == "line"), default=math.nan)
    if limits.supply_known:
        return min(max(seen, limits.supply_low / 0.9), limits.supply_high / 1.1) if seen > 0 else math.nan
    return seen if seen >= 50.0 else math.nan


def impossible(points: Sequence[ChainPoint], read: Read, limits: Limits) -> tuple[str, ...]:
    """Find volts that come back after a loss: impossible on one circuit fed from one end."""
    line = nominal_line(points, read, limits)
    line_tolerance = max(0.05 * line, LINE_METER_V) if math.isfinite(line) else LINE_METER_V
    found: list[str] = []
    lowest: dict[str, VoltReading] = {}
    for index, reading in read:
        side = points[index].side
        before = lowest.get(side)
        tolerance = line_tolerance if side == "line" else limits.control_drop
        if before is not None and reading.volts > before.volts + tolerance:
            found.append(f"{at_words(reading)} after {at_words(before)}")
        elif side == "control" and before is None and "line" in lowest and math.isfinite(line):
            most = LIGHT_LOAD_HIGH_V * lowest["line"].volts / line * (1.0 + limits.line_drop)
            if reading.volts > most + limits.control_drop and lowest["line"].volts < ALIVE_SHARE * line:
                found.append(f"{at_words(reading)} after {at_words(lowest['line'])}")
        elif (
            side == "control"
            and before is None
            and "line" in lowest
            and reading.volts > 5 > lowest["line"].volts
        ):
            found.append(f"{at_words(reading)} after {at_words(lowest['line'])}")
        if before is None or reading.volts < before.volts:
            lowest[side] = reading
    return tuple(found)


def losses(
    points: Sequence[ChainPoint], read: Read, limits: Limits, known: Called, *, loaded: bool
) -> list[Loss]:
    """Find every place at which volts are lost, in the order of the circuit."""
    line = nominal_line(points, read, limits)
    found: list[Loss] = []
    previous: tuple[int, VoltReading] | None = None
    for index, reading in read:
        kind = _kind_of_loss(points, previous, (index, reading), limits, line, loaded)
        if kind is not None:
            found.append(_loss(points, previous, (index, reading), kind, known, limits))
        previous = index, reading
    return found


def _kind_of_loss(
    points: Sequence[ChainPoint],
    previous: tuple[int, VoltReading] | None,
    now: tuple[int, VoltReading],
    limits: Limits,
    line: float,
    loaded: bool,
) -> Kind | None:
    index, reading = now
    side, volts = points[index].side, reading.volts
    if previous is None:
        return _first(side, volts, limits)
    before, from_side = previous[1].volts, points[previous[0]].side
    if from_side == side:
        most = limits.line_drop * line + LINE_METER_V if side == "line" else limits.control_drop
        if not math.isfinite(most):
            most = LINE_METER_V
        if before - volts <= most:
            return None
        return Kind.OPEN if volts < ALIVE_SHARE * before else Kind.RESISTANCE
    tap = limits.tap if math.isfinite(limits.tap) else line
    ratio = before / tap if math.isfinite(tap) and tap > 0.0 else 1.0
    # A supply that is low already is told by its own rule; here only what the transformer makes of it counts.
    due = limits.control_nominal * min(ratio, 1.0)
    share = limits.pull_in / limits.control_nominal if loaded else NO_LOAD_SHARE
    if before < 5.0:
        return None
    if volts < share * due:
        return Kind.OPEN if volts < ALIVE_SHARE * due else Kind.RESISTANCE
    if math.isfinite(limits.tap) and abs(ratio - 1.0) > PLATE_SHARE:
        return Kind.TAP
    return None


def _first(side: str, volts: float, limits: Limits) -> Kind | None:
    low = limits.pull_in if side == "control" else limits.supply_low
    if not math.isfinite(low):
        # Without a plate voltage only "nothing at all" can be told.
        return Kind.OPEN if volts < 50.0 else None
    if volts >= low:
        return None
    return Kind.OPEN if volts < ALIVE_SHARE * low else Kind.LOW


def _loss(
    points: Sequence[ChainPoint],
    previous: tuple[int, VoltReading] | None,
    now: tuple[int, VoltReading],
    kind: Kind,
    known: Called,
    limits: Limits,
) -> Loss:
    start = -1 if previous is None else previous[0]
    span = points[start + 1 : now[0] + 1]
    parts = tuple(point.part for point in span)
    named, reason = parts[0] if len(parts) == 1 else "", ""
    if any(point.role == "transformer" for point in span):
        parts = (*parts, SHORTED_OR_LOADED)
        if kind is not Kind.OPEN:
            parts = (*parts, WRONG_TAP)
        named, reason = "", "a transformer is judged with its leads lifted"
        if kind is Kind.TAP:
            parts, named = (WRONG_TAP,), WRONG_TAP
            reason = f"its primary is connected for {limits.tap:g} V"
    for point in span:
        if point.role == "control" and kind is Kind.OPEN and known.call is not True:
            named, reason = "", "whether the thermostat calls is not stated"
            if known.call is False:
                reason = "there is no call, so the control rightly gives no output"
                # Only where everything before the control was read is the missing call the whole story.
                kind = Kind.NO_CALL if point is span[0] else kind
        if point.role == "contact" and kind is Kind.OPEN:
            why_open = open_contact(point, known, limits)
            if why_open:
                named, reason = "", why_open
    before = previous[1] if previous else None
    return Loss(
        kind,
        "" if before is None else before.point,
        now[1].point,
        parts,
        named,
        math.nan if before is None else before.volts,
        now[1].volts,
        reason,
    )


def open_contact(point: ChainPoint, known: Called, limits: Limits) -> str:
    """Say why a contact may be open without being at fault; empty where its coil has its volts."""
    coil = known.coil.get(point.closed_by, math.nan)
    if not math.isfinite(coil):
        return "whether the coil that closes it has volts is not read"
    if coil < limits.pull_in:
        return f"its coil has {coil:.1f} V, too few to close it: see the control circuit"
    return ""


def at_words(reading: VoltReading) -> str:
    """Name a reading with its place."""
    return f"{reading.volts:g} V at {reading.point.replace('_', ' ')}"
