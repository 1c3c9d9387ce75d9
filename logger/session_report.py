"""A session's analysis as text for a terminal and as one JSON object."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from analysis.analyser import Results
from analysis.derived import BY_SYMBOL
from analysis.events_found import find_machine_events
from analysis.presets import PresetName, duration
from analysis.short_run_verdict import ShortRuns, judge_runs
from analysis.short_runs import runs_of
from analysis.windows import Mean, Stretch
from logger.event_words import event_facts, event_lines
from logger.replay import curves_for, end_us
from logger.session import Session
from logger.session_alarms import SessionAlarms, alarm_section
from logger.session_card import find_card
from logger.shown_values import expanded, named, shown_value

_TOLD = ("evaporating_temperature", "superheat", "subcooling", "source_delta_t", "source_volume_flow")
"""What is told of a stretch that is not written in full."""


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _mean(mean: Mean) -> dict[str, object]:
    return {
        "value": _known(mean.value),
        "u": _known(mean.u),
        "spread": _known(mean.spread),
        "rows": mean.rows,
    }


def session_facts(
    session: Session, stretches: Sequence[Stretch], results: Sequence[Results]
) -> dict[str, object]:
    """Give the analysis as plain values: SI units, standard uncertainties (k = 1), null where not known."""
    return {
        "session": str(session.folder),
        "title": session.header.title,
        "software": session.header.software,
        "duration": session.duration_us / 1e6,
        "events": dict(Counter(event.kind for event in session.events)),
        "machine_events": event_facts(find_machine_events(results)),
        "alarms": _alarms(session, results).facts(end_us(session)),
        "short_runs": _short_run_facts(short_runs(session, results)),
        "stretches": [
            {
                "from": stretch.from_us / 1e6,
                "to": stretch.to_us / 1e6,
                "steady": stretch.steady,
                "refrigerant": stretch.settings.refrigerant or None,
                "barometer": stretch.settings.barometer_pa,
                "mode": stretch.settings.mode or None,
                "phase": stretch.settings.phase or None,
                "points": {name: _mean(mean) for name, mean in stretch.points.items()},
                "derived": {
                    symbol: _mean(mean) | {"inputs": list(stretch.inputs.get(symbol, ()))}
                    for symbol, mean in stretch.derived.items()
                },
                "missing": {symbol: list(lacks) for symbol, lacks in stretch.missing.items()},
            }
            for stretch in stretches
        ],
    }


def session_text(
    session: Session,
    stretches: Sequence[Stretch],
    results: Sequence[Results],
    preset: PresetName,
) -> str:
    """Write the analysis for a person."""
    header = session.header
    lines = [
        header.title or str(session.folder),
        f"{duration(session.duration_us / 1e6)} recorded by {header.software}",
    ]
    lines += _happenings(session)
    if not stretches:
        lines.append("There are no readings, so there is nothing to say.")
    lines += _earlier(stretches, preset)
    for stretch in _last_of_each(stretches):
        lines += ["", *_stretch(stretch, preset)]
    lines += alarm_section(_alarms(session, results), end_us(session), preset)
    lines += _short_run_lines(short_runs(session, results))
    happened = find_machine_events(results)
    if happened:
        barometer = stretches[-1].settings.barometer_pa
        lines += ["", *event_lines(happened, barometer, preset)]
    return "\n".join(lines)


def _alarms(session: Session, results: Sequence[Results]) -> SessionAlarms:
    return SessionAlarms.of(results, find_card([session]), session.events)


def short_runs(session: Session, results: Sequence[Results]) -> ShortRuns | None:
    """Judge a machine that stops before it can be measured; None where its runs last."""
    verdict = judge_runs(runs_of(results), curve=next(iter(curves_for(session).values()), None))
    return verdict if verdict.state in ("short runs", "one short run") else None


def _short_run_lines(found: ShortRuns | None) -> list[str]:
    if found is None:
        return []
    head = f"{found.state.upper()}: {found.pattern}; stopped by {found.stopped_by}"
    leads = [f"  {lead.name}: {lead.strength}; {lead.because}" for lead in found.leads]
    told = [f"  told: {text}" for text in found.told]
    return ["", head, *told, *leads, *(f"  not told: {text}" for text in found.not_told)]


def _short_run_facts(found: ShortRuns | None) -> dict[str, object] | None:
    if found is None:
        return None
    return {
        "state": found.state,
        "pattern": found.pattern,
        "stopped_by": found.stopped_by,
        "told": list(found.told),
        "not_told": list(found.not_told),
        "leads": [
            {"name": lead.name, "strength": lead.strength, "because": lead.because} for lead in found.leads
        ],
    }


def _happenings(session: Session) -> list[str]:
    """Say what stands against the readings: dropouts, refusals, losses."""
    counts = Counter(event.kind for event in session.events)
    words = {
        "dropout": "dropouts",
        "suspended": "times asleep, with nothing read,",
        "rejected": "reports of refused lines",
        "lost": "losses",
        "recovered": "recoveries",
        "thinned": "reports of readings that the watch left out and counted",
        "storage": "reports of a disk that refused",
    }
    found = [f"{counts[kind]} {word}" for kind, word in words.items() if counts[kind]]
    return [f"Beside the readings: {', '.join(found)} (events.csv)."] if found else []


def _last_of_each(stretches: Sequence[Stretch]) -> list[Stretch]:
    """Take the last stretch of each mode, phase and refrigerant: the machine has run in longest there."""
    last = {(s.settings.mode, s.settings.phase, s.settings.refrigerant): s for s in stretches}
    return sorted(last.values(), key=lambda stretch: stretch.from_us)


def _earlier(stretches: Sequence[Stretch], preset: PresetName) -> list[str]:
    """Give the stretches that are not written in full in one line each."""
    whole = {id(stretch) for stretch in _last_of_each(stretches)}
    rows = [stretch for stretch in stretches if id(stretch) not in whole]
    if not rows:
        return []
    columns = [symbol for symbol in _TOLD if any(symbol in stretch.derived for stretch in rows)]
    head = f"  {'':<20}" + "".join(f"{named(symbol)[0].split(' (')[0]:>18}" for symbol in columns)
    lines = ["", "Steady before, in short (--json has all of each):", head.rstrip()]
    for stretch in rows:
        span = f"{duration(stretch.from_us / 1e6)} to {duration(stretch.to_us / 1e6)}"
        cells = [
            shown_value(symbol, named(symbol)[1], stretch.derived[symbol].value, stretch.settings, preset)
            if symbol in stretch.derived
            else "–"
            for symbol in columns
        ]
        lines.append(f"  {span:<20}" + "".join(f"{cell:>18}" for cell in cells))
    return lines


def _stretch(stretch: Stretch, preset: PresetName) -> list[str]:
    span = f"{duration(stretch.from_us / 1e6)} to {duration(stretch.to_us / 1e6)}"
    held = stretch.settings
    facts = [held.mode, held.phase, held.refrigerant or "refrigerant not declared"]
    head = f"Steady from {span}" if stretch.steady else f"Not steady; {span}, not to be judged"
    lines = [f"{head} ({', '.join(fact for fact in facts if fact)})"]
    if not held.barometer_declared:
        lines.append("  barometer not declared: standard atmosphere assumed")
    rows = []
    for symbol, mean in [*stretch.derived.items(), *stretch.points.items()]:
        label, quantity = named(symbol)
        value = shown_value(symbol, quantity, mean.value, held, preset)
        u = f"{expanded(symbol, quantity, mean.u, preset)} (k = 2)" if math.isfinite(mean.value) else ""
        rows.append((label, value, u))
    lines += [f"  {label:<28}{value:>16}  {u}".rstrip() for label, value, u in rows]
    lacking = [
        f"{BY_SYMBOL[symbol].label} (lacks {', '.join(name.replace('_', ' ') for name in lacks)})"
        for symbol, lacks in stretch.missing.items()
    ]
    if lacking:
        lines.append(f"  not worked out: {'; '.join(lacking)}")
    return lines
