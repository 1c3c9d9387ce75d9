"""``evenrun morning``: what happened over night, counted, each with its moment; the events say all of it."""

from __future__ import annotations

import argparse
import json
import re
from collections import Counter
from collections.abc import Sequence
from typing import Any

from analysis.presets import duration
from analysis.timeline import Event
from logger.errors import DONE
from logger.replay import end_us, open_session
from logger.session import Session

BEFORE_US = 120_000_000
"""So long before a stop a point that leaves its band counts as having moved before it (our choice)."""
AFTER_US = 2_000_000
"""A stop is noticed on the row of its second, so a reading of that second may be a little later."""

_OF_A_WATCH = frozenset({"watch", "machine", "thinned"})
"""Kinds of events that only a watch writes."""
_FINDS_THEM = "`evenrun analyse SESSION` finds them and what moved before"


def run(args: argparse.Namespace) -> int:
    """Print the summary."""
    facts = morning_facts(open_session(args.session))
    print(json.dumps(facts, allow_nan=False) if args.json else morning_text(facts))
    return DONE


def morning_facts(session: Session) -> dict[str, Any]:
    """Count what a session's events tell; times in seconds since the start."""
    events = session.events
    watched = any(event.kind in _OF_A_WATCH for event in events)
    stops = _machine(events, "compressor stops")
    dropouts = [event for event in events if event.kind == "dropout"]
    lengths = Counter[str]()
    for event in dropouts:
        lengths[event.subject] += round(1000 * _seconds(event.text))
    return {
        "session": str(session.folder),
        "title": session.header.title,
        "duration": end_us(session) / 1e6,
        "readings": session.descriptor.rows,
        "left_out": sum(_first_number(event.text) for event in events if event.kind == "thinned"),
        "lost": [event.text for event in events if event.kind == "lost"],
        "watched": watched,
        "starts": _machine(events, "compressor starts") if watched else None,
        "stops": [{"at": stop, "moved_before": _movers(events, round(stop * 1e6))} for stop in stops]
        if watched
        else None,
        "left_band": [
            {"at": event.t_us / 1e6, "point": event.subject, "text": event.text}
            for event in events
            if event.kind == "watch" and event.subject and _moved(event)
        ],
        "alarms": [
            {"at": e.t_us / 1e6, "code": e.subject, "text": e.text} for e in events if e.kind == "alarm"
        ],
        "full_rate_windows": sum(event.text.startswith("all readings are kept") for event in events),
        "dropouts": {
            name: {"count": count, "seconds": lengths[name] / 1000}
            for name, count in Counter(event.subject for event in dropouts).items()
        },
        "connections": dict(
            Counter(event.subject for event in events if event.kind == "link" and event.text == "live")
        ),
        "storing": [{"at": e.t_us / 1e6, "text": e.text} for e in events if e.kind == "storage"],
        "clock": [
            {"at": e.t_us / 1e6, "text": e.text} for e in events if e.kind == "clock" and "moved" in e.text
        ],
        "suspended": [{"at": e.t_us / 1e6, "text": e.text} for e in events if e.kind == "suspended"],
        "sleep": [event.text for event in events if event.kind == "awake"],
        "ended": next((event.text for event in events if event.kind == "stop"), "broken off"),
    }


def morning_text(facts: dict[str, Any]) -> str:
    """Write the summary for a person."""
    rows = "not counted: run recover" if facts["readings"] is None else facts["readings"]
    lines = [
        facts["title"] or facts["session"],
        f"{duration(facts['duration'])} recorded; ended: {facts['ended']}",
        f"readings stored: {rows}; left out by the watch and counted: {facts['left_out']}",
        *(f"LOST: {text}" for text in facts["lost"]),
        *(f"note: {text}" for text in facts["sleep"]),
    ]
    if facts["watched"]:
        lines.append(f"starts: {_moments(facts['starts'])}")
        lines.append(f"stops: {_moments([stop['at'] for stop in facts['stops']])}")
    else:
        lines.append(f"starts and stops: not looked for, as it was recorded without --watch: {_FINDS_THEM}")
    for stop in facts["stops"] or ():
        lines.append(f"  before the stop at {duration(stop['at'])}:")
        lines += [f"    {m['ahead']:.1f} s: {m['point']} {m['text']}" for m in stop["moved_before"]]
        if not stop["moved_before"]:
            lines.append("    no watched point left its band")
    if facts["watched"]:
        lines.append(f"points that left their band: {len(facts['left_band'])} times")
        lines += [
            f"  {duration(left['at'])}: {left['point']} {left['text']}" for left in facts["left_band"][:40]
        ]
        lines.append(f"windows at full rate: {facts['full_rate_windows']}")
    raised = [one for one in facts["alarms"] if one["text"].startswith("raised")]
    lines.append(f"alarms: {_moments([one['at'] for one in raised]) if raised else 'none raised'}")
    lines += [f"  {duration(one['at'])}: {one['text']}" for one in facts["alarms"][:40]]
    lines.append(f"dropouts: {sum(gap['count'] for gap in facts['dropouts'].values())}")
    for name, gap in facts["dropouts"].items():
        lines.append(f"  {name}: {gap['count']}, in all {duration(gap['seconds'])}")
    lines += [
        f"{name}: connected again {count - 1} times"
        for name, count in facts["connections"].items()
        if count > 1
    ]
    for key in ("storing", "clock", "suspended"):
        lines += [f"{key} at {duration(one['at'])}: {one['text']}" for one in facts[key]]
    return "\n".join(lines)


def _machine(events: Sequence[Event], text: str) -> list[float]:
    return [event.t_us / 1e6 for event in events if event.kind == "machine" and event.text == text]


def _moved(event: Event) -> bool:
    return "leaves its band" in event.text or event.text.startswith("dips to")


def _movers(events: Sequence[Event], stop_us: int) -> list[dict[str, object]]:
    """List what left its band shortly before a stop, the first first."""
    found = [
        event
        for event in events
        if event.kind == "watch" and event.subject and _moved(event)
        and stop_us - BEFORE_US <= event.t_us <= stop_us + AFTER_US
    ]  # fmt: skip
    return [
        {"point": e.subject, "ahead": (stop_us - e.t_us) / 1e6, "text": e.text}
        for e in sorted(found, key=lambda event: event.t_us)
    ]


def _seconds(text: str) -> float:
    match = re.match(r"([0-9.]+) s", text)
    return float(match.group(1)) if match else 0.0


def _first_number(text: str) -> int:
    match = re.match(r"[0-9]+", text)
    return int(match.group()) if match else 0


def _moments(seconds: Sequence[float]) -> str:
    """Write how many there are and when the first were."""
    if not seconds:
        return "none seen"
    more = ", ..." if len(seconds) > 20 else ""
    return f"{len(seconds)} at {', '.join(duration(second) for second in seconds[:20])}{more}"
