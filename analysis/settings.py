"""What a person has declared, as it holds from one moment to the next.

Readings are never rewritten. Which channel feeds which measuring point, its offset, the refrigerant, the
barometer and the phase are events beside them; a correction made afterwards is one more event, and
everything is worked out again from it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

from analysis.barometer import STANDARD_ATMOSPHERE_PA, parse_barometer
from analysis.circumstances import RatedCoil
from analysis.correction import Correction, CorrectionError, CupMatch, parse_correction
from analysis.liquids import Liquid, LiquidError, parse_liquid
from analysis.measure import Channel
from analysis.points import UnknownPointError, point
from analysis.timeline import Event, timeline
from analysis.units import UnitError

_Parsed = TypeVar("_Parsed")
CHANNEL_KINDS = ("assign", "offset", "scale")
MACHINE_KINDS = ("mode", "phase", "refrigerant", "barometer", "fluid", "load_fluid", "source_coil")


class SettingsError(ValueError):
    """An event that cannot be understood; the text says which and what to write instead."""


@dataclass(frozen=True, slots=True)
class Settings:
    """Everything declared, from ``from_us`` on."""

    from_us: int = 0
    channel_of: Mapping[str, str] = field(default_factory=dict)
    """Measuring point to the channel that feeds it."""
    assigned_us: Mapping[str, int] = field(default_factory=dict)
    """Measuring point to the moment from which its channel feeds it."""
    offset: Mapping[str, float] = field(default_factory=dict)
    """Channel to its correction, added to the scaled indication [SI difference]."""
    matched: Mapping[str, CupMatch] = field(default_factory=dict)
    """Channel to the match in one cup that its offset was found in, which says how good it is since."""
    scale: Mapping[str, float] = field(default_factory=dict)
    refrigerant: str = ""
    barometer_pa: float = STANDARD_ATMOSPHERE_PA
    barometer_declared: bool = False
    source_liquid: Liquid | None = None
    load_liquid: Liquid | None = None
    source_coil: RatedCoil | None = None
    mode: str = ""
    phase: str = ""
    broken: frozenset[str] = frozenset()
    """Channels whose trailing windows must begin anew at ``from_us``."""
    changed: bool = False
    """Whether the machine was started or changed at ``from_us``, so that it must settle anew."""


def settings_over_time(events: Iterable[Event], channels: Mapping[str, Channel]) -> list[Settings]:
    """Fold all events into what holds from each moment on, the first from before the session's start.

    Parameters
    ----------
    events
        In the order in which they were written; a later one overrules earlier ones of its kind and subject
        from its own moment on.
    channels
        Known channels by id; an offset is understood in the channel's unit.

    Raises
    ------
    SettingsError
        If an event's text cannot be understood.
    """
    events = list(events)
    lines: dict[tuple[str, str], list[tuple[int, str]]] = {}
    for kind, subject in {(e.kind, e.subject) for e in events if e.kind in (*CHANNEL_KINDS, *MACHINE_KINDS)}:
        lines[kind, subject] = timeline(events, kind, subject)
    order = {(e.kind, e.subject): n for n, e in enumerate(events)}
    reconnects = _reconnects(events, channels)
    moments = sorted({0, *(us for line in lines.values() for us, _ in line), *(us for us, _ in reconnects)})
    found: list[Settings] = []
    broken_at: dict[int, set[str]] = {}
    for us, channel in reconnects:
        broken_at.setdefault(us, set()).add(channel)
    declared = {0, *(us for line in lines.values() for us, _ in line)}
    for moment in moments:
        broken = frozenset(broken_at.get(moment, ()))
        if moment in declared:
            found.append(_at(moment, lines, order, channels, broken, found[-1] if found else None))
        else:
            found.append(reconnected(found[-1], moment, broken))
    return found


def reconnected(before: Settings, from_us: int, channels: Iterable[str]) -> Settings:
    """Give the same settings from a moment on at which a link came back: its windows begin anew."""
    return replace(before, from_us=from_us, broken=frozenset(channels), changed=False)


def _reconnects(events: Sequence[Event], channels: Mapping[str, Channel]) -> list[tuple[int, str]]:
    """Moments at which a link or the computer came back: its channels' windows must not span them."""
    seen: set[str] = set()
    found: list[tuple[int, str]] = []
    for event in events:
        if event.kind == "suspended":
            found += [(event.t_us, name) for name in channels]
        elif event.kind == "link" and event.text.split(":")[0].strip() == "live":
            if event.subject in seen:
                prefix = event.subject + "/"
                found += [(event.t_us, name) for name in channels if name.startswith(prefix)]
            seen.add(event.subject)
    return found


def _at(
    moment: int,
    lines: Mapping[tuple[str, str], list[tuple[int, str]]],
    order: Mapping[tuple[str, str], int],
    channels: Mapping[str, Channel],
    broken: frozenset[str],
    before: Settings | None,
) -> Settings:
    """Everything that holds at one moment."""
    now: dict[tuple[str, str], tuple[int, str]] = {}
    for key, line in lines.items():
        holding = [entry for entry in line if entry[0] <= moment]
        if holding:
            now[key] = holding[-1]
    channel_of: dict[str, str] = {}
    assigned_us: dict[str, int] = {}
    for key in sorted(
        (k for k in now if k[0] == "assign" and now[k][1]), key=lambda k: (now[k][0], order[k])
    ):
        since, name = now[key]
        channel_of[_checked_point(name, key[1], channels)] = key[1]
        assigned_us[name] = since
    touched = {key[1] for key, entry in now.items() if key[0] in CHANNEL_KINDS and entry[0] == moment}
    machine = {kind: now.get((kind, ""), (0, ""))[1] for kind in MACHINE_KINDS}
    changed = before is not None and any(
        now.get((kind, ""), (0, ""))[0] == moment for kind in ("mode", "phase") if (kind, "") in now
    )
    corrections = {
        key[1]: _correction(entry[1], key[1], channels)
        for key, entry in now.items()
        if key[0] == "offset" and entry[1]
    }
    return Settings(
        from_us=moment,
        channel_of=channel_of,
        assigned_us=assigned_us,
        offset={channel: found.offset for channel, found in corrections.items()},
        matched={channel: found.match for channel, found in corrections.items() if found.match is not None},
        scale={key[1]: _scale(entry[1], key[1]) for key, entry in now.items() if key[0] == "scale"},
        refrigerant=machine["refrigerant"],
        barometer_pa=_read(parse_barometer, machine["barometer"], "barometer") or STANDARD_ATMOSPHERE_PA,
        barometer_declared=bool(machine["barometer"]),
        source_liquid=_read(parse_liquid, machine["fluid"], "source fluid"),
        load_liquid=_read(parse_liquid, machine["load_fluid"], "load fluid"),
        source_coil=_read(RatedCoil.parse, machine["source_coil"], "source coil's rated point"),
        mode=machine["mode"],
        phase=machine["phase"],
        broken=broken | frozenset(touched if before is not None else ()),
        changed=changed,
    )


def _checked_point(name: str, channel: str, channels: Mapping[str, Channel]) -> str:
    try:
        place = point(name)
    except UnknownPointError as unknown:
        raise SettingsError(
            f"Channel '{channel}' is assigned to a place that does not exist: {unknown}"
        ) from None
    known = channels.get(channel)
    if known is not None and not place.accepts(known.quantity):
        measured = known.quantity.value.replace("_", " ")
        raise SettingsError(
            f"Channel '{channel}' measures {measured} [{known.unit}], which cannot feed {name}; "
            "assign another channel."
        )
    return name


def _correction(text: str, channel: str, channels: Mapping[str, Channel]) -> Correction:
    known = channels.get(channel)
    try:
        return parse_correction(text, None if known is None else known.quantity)
    except CorrectionError as refused:
        raise SettingsError(f"The offset of channel '{channel}' cannot be read: {refused}") from None


def _scale(text: str, channel: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise SettingsError(f"The scale of channel '{channel}' is '{text}'; write a plain number.") from None


def _read(parse: Callable[[str], _Parsed], text: str, what: str) -> _Parsed | None:
    try:
        return parse(text) if text else None
    except (UnitError, LiquidError) as refused:
        raise SettingsError(f"The {what} cannot be read: {refused}") from None
