"""What happened to the machine, in words for a terminal and as plain values."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from analysis.derived import BY_SYMBOL
from analysis.machine_events import EventKind, Evidence, MachineEvent
from analysis.points import POINTS
from analysis.presets import PresetName, duration, show, show_gauge
from analysis.units import Quantity
from logger.state_words import label_of

_TIME = {
    EventKind.PUMP_START: "after ",
    EventKind.START_DIP: "for ",
    EventKind.VOLTAGE_DIP: "for ",
    EventKind.LOCKED_OUT: "has stood ",
    EventKind.SHORT_CYCLING: "since the start before ",
}
_WORDS = {
    EventKind.LOW_TEMPERATURE: "it stopped while evaporating fell",
    EventKind.HIGH_PRESSURE: "it stopped while the high side rose",
    EventKind.PUMP_TRIP: "its current ended while the compressor ran, as a heat protector does",
    EventKind.LOCKED_OUT: "stands longer than after any trip before; reset only as its maker says",
    EventKind.START_DIP: "in the first two minutes",
}


def event_lines(events: Sequence[MachineEvent], barometer_pa: float, preset: PresetName) -> list[str]:
    """Write events for a person, each stop with what moved before it.

    Parameters
    ----------
    events
        In the order of time.
    barometer_pa
        For gauge pressures [Pa].
    """
    if not events:
        return []
    lines = ["What happened to the machine:"]
    for event in events:
        facts = [
            _WORDS.get(event.kind, ""),
            *(_evidence(event.kind, item, barometer_pa, preset) for item in event.evidence),
        ]
        told = "; ".join(fact for fact in facts if fact)
        lines.append(f"  {duration(event.t_us / 1e6):>8}  {event.kind.value}{': ' + told if told else ''}")
        for mover in event.movers:
            level, value = (_value(mover.point, x, barometer_pa, preset) for x in (mover.level, mover.value))
            ran = f"{level} to {value}"
            lines.append(f"            +{mover.lag_s:>3.0f} s  {label_of(mover.point):<26}{ran}")
        if event.movers:
            last = (event.t_us - event.movers[0].t_us) / 1e6
            lines.append(f"            +{last:>3.0f} s  compressor stopped")
    return lines


def event_facts(events: Iterable[MachineEvent]) -> list[dict[str, object]]:
    """Give events as plain values: SI units, null where not known."""
    return [
        {
            "at": event.t_us / 1e6,
            "kind": event.kind.value,
            "evidence": [
                {
                    "name": item.name,
                    "value": item.value,
                    "limit": item.limit if math.isfinite(item.limit) else None,
                    "source": item.source or None,
                }
                for item in event.evidence
            ],
            "first_movers": [
                {
                    "point": mover.point,
                    "at": mover.t_us / 1e6,
                    "lag": mover.lag_s,
                    "level": mover.level,
                    "half_band": mover.half_band,
                    "value": mover.value if math.isfinite(mover.value) else None,
                }
                for mover in event.movers
            ],
        }
        for event in events
    ]


def _value(name: str, value: float, barometer_pa: float, preset: PresetName) -> str:
    quantity = POINTS[name].quantity if name in POINTS else BY_SYMBOL[name].quantity
    if quantity is Quantity.ABSOLUTE_PRESSURE and name != "barometric_pressure" and math.isfinite(value):
        return show_gauge(value, barometer_pa, preset)
    return show(quantity, value, preset)


def _evidence(kind: EventKind, item: Evidence, barometer_pa: float, preset: PresetName) -> str:
    """Name one number, its limit and the limit's source."""
    if item.name == "time":
        told = _TIME.get(kind, "") + duration(item.value)
        limit = duration(item.limit) if math.isfinite(item.limit) else ""
    elif item.name.startswith("compressor_"):  # a step, as a share
        told, limit = f"{label_of(item.name)} {item.value:+.0%}", f"{item.limit:.0%}"
    else:
        told = f"{label_of(item.name)} {_value(item.name, item.value, barometer_pa, preset)}"
        limit = _value(item.name, item.limit, barometer_pa, preset) if math.isfinite(item.limit) else ""
    return f"{told} (limit {limit}, {item.source})" if limit else told
