"""What a page says about one session: facts, values, probes, happenings, all as plain texts."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.derived import BY_SYMBOL
from analysis.marks import standing_marks
from analysis.measure import Channel, Quality
from analysis.points import POINTS
from analysis.presets import PresetName, duration
from analysis.settings import Settings
from analysis.timeline import Event, timeline
from analysis.units import Quantity, from_si
from analysis.windows import Stretch
from logger.comparison import Studied
from logger.descriptor import SessionState
from logger.moments import utc_text
from logger.replay import end_us
from logger.session import Session
from logger.shown_values import plain, shown_uncertainty, shown_value

_OF_MACHINE = frozenset(
    {"clock", "link", "channel", "stop", "rejected", "lost", "dropout", "recovered", "suspended"}
)
"""Events that the program writes by itself; all others are somebody's."""
_AGAINST = frozenset({"rejected", "lost", "recovered", "channel"})
_DROPOUT_S = re.compile(r"([0-9]+(?:\.[0-9]+)?) s\b", re.ASCII)
_AT_ONCE_US = 1_000_000
_AFTERWARDS_US = 60_000_000
MOST_LINES = 40


@dataclass(frozen=True, slots=True)
class ValueRow:
    """One value of a stretch."""

    label: str
    value: str
    u: str
    route: str
    source: str


@dataclass(frozen=True, slots=True)
class ProbeRow:
    """One measuring point and the channel that fed it."""

    point: str
    channel: str
    label: str
    uncertainty: str
    resolution: str
    correction: str
    source: str


@dataclass(frozen=True, slots=True)
class Happening:
    """One line of what happened."""

    at: str
    kind: str
    subject: str
    text: str


def facts(studied: Studied) -> list[tuple[str, str]]:
    """Give what the session is."""
    session = studied.session
    header = session.header
    state = {
        SessionState.CLOSED: "closed in order",
        SessionState.RECOVERED: "broken off and recovered",
        SessionState.RECORDING: "still being written" if session.recording else "broken off, not recovered",
    }[session.state]
    return [
        ("title", studied.title),
        ("folder", session.folder.name),
        ("start (t = 0)", utc_text(header.utc_start_us)[:19].replace("T", " ") + " UTC"),
        ("length", duration(end_us(session) / 1e6)),
        ("state of the files", state),
        ("recorded by", plain(header.software) or "not stated"),
    ]


def barometer_text(held: Settings, preset: PresetName) -> str:
    """Say over which local pressure gauge readings count."""
    name = {"si": "kPa(a)", "us": "psia"}[preset]
    local = from_si(Quantity.ABSOLUTE_PRESSURE, name, held.barometer_pa)
    shown = f"{local:.2f} {name}"
    return f"{shown}, declared" if held.barometer_declared else f"{shown}, standard atmosphere assumed"


def value_rows(stretch: Stretch, channels: Mapping[str, Channel], preset: PresetName) -> list[ValueRow]:
    """Give every value of a stretch with its uncertainty, route and source."""
    rows = []
    for symbol, mean in stretch.derived.items():
        known = BY_SYMBOL[symbol]
        rows.append(
            ValueRow(
                known.label,
                shown_value(symbol, known.quantity, mean.value, stretch.settings, preset),
                shown_uncertainty(symbol, known.quantity, mean, preset),
                "from " + ", ".join(POINTS[name].label for name in stretch.inputs.get(symbol, ())),
                known.source,
            )
        )
    for name, mean in stretch.points.items():
        place = POINTS[name]
        channel = channels.get(stretch.settings.channel_of.get(name, ""))
        rows.append(
            ValueRow(
                place.label,
                shown_value(name, place.quantity, mean.value, stretch.settings, preset),
                shown_uncertainty(name, place.quantity, mean, preset),
                "measured",
                f"channel {plain(channel.id)}" if channel is not None else "no channel",
            )
        )
    return rows


def lacking(stretch: Stretch) -> list[tuple[str, str]]:
    """Give what was not worked out, and what it lacks."""
    return [
        (BY_SYMBOL[symbol].label, ", ".join(name.replace("_", " ") for name in lacks) or "nothing named")
        for symbol, lacks in stretch.missing.items()
    ]


def probe_rows(held: Settings, channels: Mapping[str, Channel]) -> list[ProbeRow]:
    """Give the probes of a stretch with what is promised about them."""
    rows = []
    for name, channel_id in held.channel_of.items():
        channel = channels.get(channel_id)
        if channel is None:
            rows.append(ProbeRow(POINTS[name].label, plain(channel_id), "", "never announced", "", "", ""))
            continue
        sign = channel.si_unit.shown
        rows.append(
            ProbeRow(
                POINTS[name].label,
                plain(channel.id),
                plain(channel.label),
                _uncertainty(channel),
                f"{channel.resolution:g} {sign}" if channel.resolution else "not stated",
                _correction(channel, held),
                plain(channel.source) or "not stated",
            )
        )
    return rows


def _uncertainty(channel: Channel) -> str:
    spec = channel.uncertainty
    if spec is None:
        return "nothing promised"
    sign = channel.si_unit.shown
    parts = [f"{spec.fixed:g} {sign}"] if spec.fixed else []
    parts += [f"{spec.of_reading * 100:g} % of reading"] if spec.of_reading else []
    parts += [f"{spec.of_span * 100:g} % of {spec.span:g} {sign}"] if spec.of_span else []
    how = "rectangular" if spec.distribution == "rectangular" else f"k = {spec.k:g}"
    return f"± {' and '.join(parts)} ({how})" if parts else "± 0"


def _correction(channel: Channel, held: Settings) -> str:
    unit = channel.si_unit
    parts = []
    if channel.id in held.scale:
        parts.append(f"× {held.scale[channel.id]:g}")
    if channel.id in held.offset:
        parts.append(f"{held.offset[channel.id] / unit.factor:+.4g} {unit.shown}".replace("-", "−"))
    if channel.id in held.matched:
        match = held.matched[channel.id]
        own = 2.0 * match.own / unit.factor
        parts.append(f"matched in one cup on {match.cup[:10]}, ± {own:.2f} {unit.shown} (k = 2)")
    return ", ".join(parts) or "none"


def happenings(session: Session) -> list[Happening]:
    """Give what a person noted or declared; what was written afterwards says when.

    The assignments of the start are left out: they stand with the probes.
    """
    start = session.header.utc_start_us
    found = []
    marks = 0
    others = [event for event in session.events if event.kind not in ("mark", "unmark", "named")]
    for event in sorted([*others, *standing_marks(session.events)], key=lambda event: event.t_us):
        if event.kind in _OF_MACHINE or (event.kind == "assign" and event.utc_us <= start + _AT_ONCE_US):
            continue
        line = _happening(event)
        if event.kind == "mark" and 0 <= event.t_us <= end_us(session):
            marks += 1
            line = replace(line, kind=f"mark {marks}")
        if event.utc_us > start + event.t_us + _AFTERWARDS_US:
            written = utc_text(event.utc_us)[:16].replace("T", " ")
            line = replace(line, text=f"{line.text} (written {written} UTC)")
        found.append(line)
    return found


def faults(session: Session) -> list[Happening]:
    """Give what stands against the readings, dropouts apart."""
    found = [_happening(event) for event in session.events if event.kind in _AGAINST]
    found += [Happening("", "unreadable line", fault.file, str(fault)) for fault in session.faults]
    links = Counter(
        event.subject for event in session.events if event.kind == "link" and event.text.startswith("live")
    )
    found += [
        Happening("", "reconnected", plain(subject), f"{count - 1} times")
        for subject, count in links.items()
        if count > 1
    ]
    return found


def _happening(event: Event) -> Happening:
    return Happening(duration(event.t_us / 1e6), plain(event.kind), plain(event.subject), plain(event.text))


def dropout_spans(session: Session) -> dict[str, list[tuple[int, int]]]:
    """Give the dropouts of each channel as (from, to) [us]."""
    spans: dict[str, list[tuple[int, int]]] = {}
    for event in session.events:
        if event.kind == "dropout":
            length = _DROPOUT_S.match(event.text)
            end = event.t_us + round(float(length.group(1)) * 1e6) if length else event.t_us
            spans.setdefault(event.subject, []).append((event.t_us, end))
    return spans


def dropout_rows(session: Session) -> list[tuple[str, str, str, str]]:
    """Give channel, number, total and longest of its dropouts."""
    return [
        (
            plain(channel),
            str(len(spans)),
            f"{sum(end - begin for begin, end in spans) / 1e6:.1f} s",
            f"{max(end - begin for begin, end in spans) / 1e6:.1f} s at "
            f"{duration(max(spans, key=lambda span: span[1] - span[0])[0] / 1e6)}",
        )
        for channel, spans in dropout_spans(session).items()
    ]


def spans_of(session: Session, kind: str) -> list[tuple[int, int, str]]:
    """Give what held from when to when, for example the phases [us]."""
    line = timeline(session.events, kind)
    if not line:
        return []
    ends = [*(begin for begin, _ in line[1:]), end_us(session)]
    return [
        (begin, end, plain(text))
        for (begin, text), end in zip(line, ends, strict=True)
        if text and end > begin
    ]


def quality_counts(session: Session) -> tuple[int, list[tuple[str, int]], int]:
    """Count the readings, those with each flag against them, and the lines that could not be read."""
    total = 0
    unreadable = 0
    flagged: Counter[Quality] = Counter()

    def tell(_: object) -> None:
        nonlocal unreadable
        unreadable += 1

    for rows in session.rows(tell):
        total += len(rows)
        for flags, count in zip(*np.unique(rows.quality, return_counts=True), strict=True):
            for flag in Quality(int(flags)):
                flagged[flag] += int(count)
    named = [(str(flag.name).lower().replace("_", " "), count) for flag, count in flagged.items()]
    return total, sorted(named), unreadable


def shortened(lines: Sequence[Happening]) -> tuple[Sequence[Happening], int]:
    """Give the first lines and how many more there are; the rest is in events.csv."""
    return lines[:MOST_LINES], max(len(lines) - MOST_LINES, 0)
