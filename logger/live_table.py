"""The live table in a terminal: state, measuring points with their ages, derived values with uncertainty."""

from __future__ import annotations

import math

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from analysis.analyser import Results
from analysis.derived import BY_SYMBOL
from analysis.measured import Column
from analysis.points import POINTS
from analysis.presets import PresetName, duration, show, show_expanded
from analysis.verdict import State
from drivers.base import LinkState
from logger.alarm_watch import AlarmShown, alarm_line, standing_words
from logger.engine import Snapshot
from logger.journal import JournalStatus
from logger.shown_values import expanded, shown_value
from logger.state_words import headline

CAUTION = (
    "Qualified persons only: live parts, rotating parts, hot gas and pressure can hurt. "
    "evenrun only reads; local codes and licensed practice decide."
)


def live_table(snapshot: Snapshot, preset: PresetName, title: str = "") -> RenderableType:
    """Draw the present state of a recording."""
    newest = snapshot.newest
    head = Text(headline(newest.judgement) if newest is not None else "WAITING for the first reading", "bold")
    facts = [title, duration(snapshot.elapsed_us / 1e6)]
    if newest is not None:
        held = newest.settings
        facts += [held.mode, held.phase, held.refrigerant or "refrigerant not declared"]
        if not held.barometer_declared:
            facts.append("barometer not declared: standard atmosphere assumed")
    parts: list[RenderableType] = [head, Text(" · ".join(fact for fact in facts if fact), "dim")]
    parts += [_alarm(alarm, newest, preset) for alarm in snapshot.alarms if newest is not None]
    if newest is not None:
        parts += [Text(), _derived(newest, preset), Text(), _points(newest, preset), Text()]
    if snapshot.journal is not None:
        parts += [_links(snapshot), _storage(snapshot, snapshot.journal)]
    parts.append(Text(CAUTION, "dim"))
    return Group(*parts)


def _alarm(alarm: AlarmShown, newest: Results, preset: PresetName) -> Text:
    """Write one alarm; the word says it, not a colour."""
    column = newest.derived.get(alarm.rule.symbol) or newest.points.get(alarm.rule.symbol)
    value = float(column.value[-1]) if column is not None else math.nan
    return Text(
        f"{standing_words(alarm.standing)}: {alarm_line(alarm.rule, value, preset)}",
        "bold" if alarm.wants_person else "dim",
    )


def _age(column: Column) -> str:
    age = float(column.age_s[-1])
    return f"{age:.0f} s" if math.isfinite(age) else "–"


def _table(first: str, age: str) -> Table:
    """Begin a table whose columns stand under those of its neighbours."""
    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column(first, min_width=26)
    table.add_column("value", justify="right", min_width=13)
    table.add_column("U (k = 2)", justify="right", min_width=9)
    table.add_column(age, justify="right", min_width=6)
    return table


def _derived(newest: Results, preset: PresetName) -> Table:
    table = _table("worked out", "oldest")
    table.add_column("may be believed?")
    for symbol, column in newest.derived.items():
        row = BY_SYMBOL[symbol]
        standing = newest.judgement.results[symbol]
        state = State(int(standing.state[-1]))
        value = float(column.value[-1])
        known = math.isfinite(value)
        table.add_row(
            row.label,
            Text(show(row.quantity, value, preset), "bold" if known else "dim"),
            show_expanded(row.quantity, float(column.u[-1]), preset) if known else "",
            _age(column),
            Text(headline(newest.judgement, standing), "" if state is State.STEADY else "dim"),
        )
    for symbol, lacks in newest.missing.items():
        if lacks == ("refrigerant",):
            row = BY_SYMBOL[symbol]
            table.add_row(
                row.label, Text("no value", "dim"), "", "–", Text("refrigerant not declared", "dim")
            )
    return table


def _points(newest: Results, preset: PresetName) -> Table:
    table = _table("measured", "age")
    for name, place in POINTS.items():
        column = newest.points.get(name)
        if column is None:
            continue
        value = float(column.value[-1])
        text = shown_value(name, place.quantity, value, newest.settings, preset)
        u = expanded(name, place.quantity, float(column.u[-1]), preset) if math.isfinite(value) else ""
        table.add_row(place.label, text, u, _age(column))
    return table


_LINK_WORDS = {
    LinkState.SEARCHING: "searching",
    LinkState.CONNECTING: "connecting",
    LinkState.LIVE: "live",
    LinkState.SILENT: "SILENT",
    LinkState.WAITING: "LOST, trying again",
    LinkState.FAILED: "NEEDS YOU",
    LinkState.ENDED: "ended",
}


def _links(snapshot: Snapshot) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim")
    for name, justify in (("device", "left"), ("link", "left"), ("readings", "right"), ("rejected", "right")):
        table.add_column(name, justify=justify)  # type: ignore[arg-type]
    table.add_column("why")
    for link in snapshot.links:
        event = link.event
        table.add_row(
            link.name,
            _LINK_WORDS[event.state] if event is not None else "–",
            str(link.counts.readings),
            str(link.counts.faults),
            link.trouble or (event.reason if event is not None else ""),
        )
    return table


def _storage(snapshot: Snapshot, journal: JournalStatus) -> Text:
    if journal.trouble:
        return Text(journal.trouble, "bold")
    facts = [
        f"{journal.written_rows} rows written",
        f"on disk up to {journal.behind_s:.0f} s ago",
        f"{snapshot.late} late" if snapshot.late else "",
        f"{snapshot.lost} not analysed live" if snapshot.lost else "",
        ", ".join(f"{name} silent {duration(seconds)}" for name, seconds in snapshot.silent.items()),
    ]
    return Text(" · ".join(fact for fact in facts if fact), "dim")
