"""Doubts about readings that are each possible: taken far apart in time, or read twice with two answers."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.electrical import LINE_METER_V, Limits, VoltReading
from analysis.electrical_chain import Loss

LONG_APART_MIN = 15.0
"""Two readings further apart than this may be of two states of the machine (common practice, no source)."""
_DAY_MIN = 24.0 * 60.0


def minutes(clock: str) -> float:
    """Turn a time of day into minutes.

    Examples
    --------
    >>> minutes("07:52"), minutes("07:52:30")
    (472.0, 472.5)
    """
    parts = [float(part) for part in clock.split(":")]
    return 60.0 * parts[0] + parts[1] + (parts[2] / 60.0 if len(parts) > 2 else 0.0)


def doubts(readings: Sequence[VoltReading], limits: Limits, loss: Loss | None) -> list[str]:
    """Say what must be read again before much rests on it."""
    return [*_twice(readings, limits), *_apart(readings, loss)]


def _twice(readings: Sequence[VoltReading], limits: Limits) -> list[str]:
    seen: dict[tuple[str, bool], VoltReading] = {}
    found = []
    for reading in readings:
        key = reading.point, reading.loaded is True
        before = seen.get(key)
        if reading.known and before is not None:
            most = limits.control_drop if max(reading.volts, before.volts) < 60.0 else 5.0 * LINE_METER_V
            if abs(reading.volts - before.volts) > most:
                found.append(
                    f"whether {reading.point.replace('_', ' ')} comes and goes: {before.volts:g} V, then "
                    f"{reading.volts:g} V"
                )
        if reading.known:
            seen[key] = reading
    return found


def _apart(readings: Sequence[VoltReading], loss: Loss | None) -> list[str]:
    if loss is None or not loss.after:
        return []
    last = {r.point: r.time for r in readings if r.known and r.time}
    if loss.after not in last or loss.at not in last:
        return []
    apart = abs(minutes(last[loss.at]) - minutes(last[loss.after]))
    apart = min(apart, _DAY_MIN - apart)
    if apart <= LONG_APART_MIN:
        return []
    return [f"both readings around the loss at one time: they are {apart:.0f} min apart"]
