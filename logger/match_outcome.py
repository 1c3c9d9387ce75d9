"""A match or a zeroing worked out from readings, as lines for a terminal and as plain values."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from analysis import matching, zeroing
from analysis.correction import Correction, correction_text
from analysis.cup import Cup
from analysis.measure import Channel
from analysis.points import POINTS
from analysis.presets import PresetName, duration
from analysis.rows import Rows
from analysis.settings import Settings
from analysis.zeroing import ACTS, Zero
from logger import match_words as words
from logger.match_readings import point_of, series_of
from logger.moments import utc_text


def moment_text(utc_us: int) -> str:
    """Write the moment of a match in UTC, to the second.

    Examples
    --------
    >>> moment_text(1_768_377_600_900_000)
    '2026-01-14T08:00:00Z'
    """
    return f"{utc_text(utc_us)[:19]}Z"


if TYPE_CHECKING:
    from logger.engine import Engine
    from logger.recent import Recent

NOT_YET = "not yet"
"""Stands for an offset while something stands against it."""


@dataclass(frozen=True, slots=True)
class Taken:
    """What is looked at."""

    rows: Rows
    channels: Mapping[str, Channel]
    held: Settings
    end_s: float
    when: str
    """Its moment in UTC."""
    window_s: float | None = None
    """None for as long as the probes need."""

    def label(self, channel: str) -> str:
        """Name a channel with the measuring point that it feeds."""
        point = point_of(self.held).get(channel, "")
        return f"{channel} ({POINTS[point].label})" if point else channel


def taken_now(engine: Engine, recent: Recent) -> Taken:
    """Take the newest readings of a running recording."""
    now_us = engine.elapsed_us()
    # A copy: channels may be found by another thread while these are looked at.
    channels = dict(engine.channels)
    return Taken(recent.rows(now_us), channels, engine.settings, now_us / 1e6, moment_text(engine.utc_us()))


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of it."""

    lines: tuple[str, ...]
    against: tuple[str, ...]
    """What stands against it, each with the way out; empty where all can be taken."""
    facts: dict[str, Any]
    corrections: Mapping[str, Correction]
    taken: Taken

    @property
    def texts(self) -> dict[str, str]:
        """Channel to the text of its offset."""
        channels = self.taken.channels
        return {c: correction_text(found, channels[c].quantity) for c, found in self.corrections.items()}


def cup_outcome(taken: Taken, names: Sequence[str], reference: str, preset: PresetName) -> Outcome:
    """Match the probes of a cup."""
    series = series_of(taken.rows, taken.channels, names, taken.held)
    cup = matching.cup_match(series, taken.end_s, reference=reference, window_s=taken.window_s)
    at = words.temperature(cup.at, preset)
    begin, end = (duration(moment) for moment in (taken.end_s - cup.window_s, taken.end_s))
    held_against = words.reference_words(reference, taken.label)
    lines = [f"One cup, {begin} to {end}: {at} by {held_against}.", ""]
    widest = max((len(taken.label(name)) for name in names), default=0)
    lines.append(f"  {'probe':<{widest}}  {'reads':>10}  {'offset':>10}  {'k = 2':>12}  {'scatter':>9}")
    for probe in cup.probes:
        reads = words.temperature(probe.mean.value, preset)
        spread = words.kelvin(probe.mean.spread, preset)
        offset, u = NOT_YET, ""
        if cup.even:
            offset = words.kelvin(probe.offset, preset)
            is_reference = probe.channel.id == cup.reference
            u = "reference" if is_reference else words.within(cup.u_offset(probe), preset)
        lines.append(
            f"  {taken.label(probe.channel.id):<{widest}}  {reads:>10}  {offset:>10}  {u:>12}  {spread:>9}"
        )
    against = tuple(_sentence(words.cup_said(t, cup, taken.label, preset)) for t in cup.troubles)
    lines += ["", *(against or ("Even: every probe stands, and none stands out.",))]
    if cup.even:
        lines.append(words.cup_belief(cup, point_of(taken.held), preset))
    return Outcome(tuple(lines), against, _cup_facts(cup, taken), cup.corrections(taken.when), taken)


def zero_outcome(taken: Taken, names: Sequence[str], preset: PresetName) -> Outcome:
    """Zero the gauges that are open to the air; each stands for itself."""
    series = series_of(taken.rows, taken.channels, names, taken.held)
    barometer = taken.held.barometer_pa if taken.held.barometer_declared else math.nan
    zeros = zeroing.zero_gauges(series, taken.end_s, barometer, taken.window_s)
    lines = [f"{ACTS[0].safe.value}: {ACTS[0].text}", ""]
    widest = max((len(taken.label(name)) for name in names), default=0)
    lines.append(f"  {'gauge':<{widest}}  {'stands at':>12}  {'offset':>12}  {'k = 2':>14}")
    for zero in zeros:
        quantity = zero.channel.quantity
        off = words.pressure(quantity, zero.mean.value - zero.target, preset)
        offset, u = NOT_YET, ""
        if zero.lack is None:
            offset = words.pressure(quantity, zero.offset, preset)
            u = words.pressure_within(quantity, zero.u, preset)
        lines.append(f"  {taken.label(zero.channel.id):<{widest}}  {off:>12}  {offset:>12}  {u:>14}")
    said = [words.zero_said(zero, taken.label, preset) for zero in zeros]
    against = tuple(_sentence(one) for one in said if one is not None)
    good = [zero for zero in zeros if zero.lack is None]
    lines += ["", *against]
    if good:
        lines.append(
            "The zero of the others is taken; for their span holds what is stated, as before."
            if against
            else "Every zero is taken; for the span holds what is stated, as before."
        )
    corrections = {zero.channel.id: zero.correction(taken.when) for zero in good}
    return Outcome(tuple(lines), against, _zero_facts(zeros, taken), corrections, taken)


def _sentence(said: words.Said) -> str:
    text = f"{said.what}: {said.way}."
    return f"{text[:1].upper()}{text[1:]}" if not text[:1].isdigit() and "/" not in text.split()[0] else text


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _cup_facts(cup: Cup, taken: Taken) -> dict[str, Any]:
    feeds = point_of(taken.held)
    return {
        "reference": cup.reference,
        "at": _number(cup.at),
        "u_shared": _number(cup.shared),
        "drift": _number(cup.drift),
        "window": cup.window_s,
        "even": cup.even,
        "troubles": [
            {
                "lack": trouble.lack.value,
                "channels": list(trouble.channels),
                "value": _number(trouble.value),
                "limit": _number(trouble.limit),
            }
            for trouble in cup.troubles
        ],
        "probes": [
            {
                "channel": probe.channel.id,
                "point": feeds.get(probe.channel.id),
                "mean": _number(probe.mean.value),
                "offset": _number(probe.offset),
                "u_offset": _number(cup.u_offset(probe)),
                "u_own": _number(probe.own),
                "spread": _number(probe.mean.spread),
                "moves": _number(probe.moves),
                "readings": probe.mean.rows,
                "steady": probe.steady,
            }
            for probe in cup.probes
        ],
    }


def _zero_facts(zeros: Sequence[Zero], taken: Taken) -> dict[str, Any]:
    feeds = point_of(taken.held)
    return {
        "safe": ACTS[0].safe.value,
        "gauges": [
            {
                "channel": zero.channel.id,
                "point": feeds.get(zero.channel.id),
                "mean": _number(zero.mean.value),
                "target": _number(zero.target),
                "offset": _number(zero.offset),
                "u_offset": _number(zero.u),
                "limit": _number(zero.limit),
                "lack": zero.lack.value if zero.lack is not None else None,
            }
            for zero in zeros
        ],
    }
