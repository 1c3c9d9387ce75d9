"""Volts read straight across one part: under load a closed part takes next to none of them."""

from __future__ import annotations

import math
from collections.abc import Sequence

from analysis.electrical import (
    ALIVE_SHARE,
    LINE_METER_V,
    MOST_CONTACT_DROP_V,
    AcrossReading,
    ChainPoint,
    Limits,
)
from analysis.electrical_chain import Called, Kind, Loss, Read, nominal_line, open_contact

_LEAST_LINE_V = 100.0
"""No mains supply is lower; serves where neither plate nor reading tells it."""


def across_losses(
    points: Sequence[ChainPoint], across: Sequence[AcrossReading], read: Read, limits: Limits, known: Called
) -> tuple[list[Loss], list[str]]:
    """Judge volts read straight across parts.

    Returns
    -------
    losses, unsaid
        What they show, and what readings at no load cannot say.
    """
    line = nominal_line(points, read, limits)
    whole = {"line": line if math.isfinite(line) else _LEAST_LINE_V, "control": limits.control_nominal}
    found: list[Loss] = []
    unsaid: list[str] = []
    for reading in across:
        point = next(p for p in points if p.name == reading.point)
        if reading.loaded is not True:
            unsaid.append(f"volts straight across {point.part} under load (at no load they say nothing)")
        elif reading.volts > ALIVE_SHARE * whole[point.side]:
            found.append(_open(point, reading.volts, limits, known))
        elif reading.volts > MOST_CONTACT_DROP_V:
            found.append(
                Loss(Kind.RESISTANCE, "", point.name, (point.part,), point.part, math.nan, reading.volts)
            )
    return found, unsaid


def _open(point: ChainPoint, volts: float, limits: Limits, known: Called) -> Loss:
    """Full volts across a part: it is open, but so may be a contact that nothing closes."""
    named, reason = point.part, ""
    if point.role == "contact" and (why := open_contact(point, known, limits)):
        named, reason = "", why
    if point.role == "control" and known.call is not True:
        named, reason = "", "whether the thermostat calls is not stated"
    return Loss(Kind.OPEN, "", point.name, (point.part,), named, math.nan, volts, reason)


def contradictions(
    points: Sequence[ChainPoint], across: Sequence[AcrossReading], read: Read, limits: Limits
) -> tuple[str, ...]:
    """Find volts across a part that are not the difference of the volts before and after it."""
    volts = {index: reading.volts for index, reading in read}
    line = nominal_line(points, read, limits)
    found = []
    for reading in across:
        index = next(i for i, p in enumerate(points) if p.name == reading.point)
        point = points[index]
        if reading.loaded is not True or not {index - 1, index} <= set(volts) or point.role == "transformer":
            continue
        due = volts[index - 1] - volts[index]
        tolerance = max(0.05 * line, LINE_METER_V) if point.side == "line" else 2.0 * limits.control_drop
        if abs(due - reading.volts) > (tolerance if math.isfinite(tolerance) else LINE_METER_V):
            found.append(
                f"{reading.volts:g} V across {point.part} where {volts[index - 1]:g} V go in and "
                f"{volts[index]:g} V come out"
            )
    return tuple(found)
