"""The state of a machine or a result in words, first word in capitals; the first that applies wins."""

from __future__ import annotations

from analysis.derived import BY_SYMBOL
from analysis.points import POINTS
from analysis.presets import duration
from analysis.signals import ENTERING
from analysis.steadiness import CONFIRM_S, SETTLE_S
from analysis.time_to_steady import TimeToSteady
from analysis.verdict import Judgement, Standing, State

TOLD_DRIFT_K_PER_MIN = 0.02
"""A slower drift of the entering water is not worth a word (0.1 K in the window)."""


def label_of(name: str) -> str:
    """Give the label of a measuring point or a derived value."""
    if name in POINTS:
        return POINTS[name].label
    return BY_SYMBOL[name].label


def headline(judgement: Judgement, standing: Standing | None = None, row: int = -1) -> str:
    """Say how it stands at a row.

    Parameters
    ----------
    judgement
        Of the rows.
    standing
        Of one result; of the machine as a whole by default.
    """
    standing = judgement.overall if standing is None else standing
    last = standing.state.size - 1
    state = State(int(standing.state[row]))
    index = int(standing.limiting[row])
    name = judgement.signals[index] if index >= 0 else ""
    limiting = label_of(name) if name else ""
    match state:
        case State.STEADY:
            return f"STEADY for {duration(float(standing.steady_s[row]))}{_drift(judgement, row)}"
        case State.REST:
            return "AT REST"
        case State.WAITING:
            return f"WAITING for {limiting}" if limiting else "WAITING for readings"
        case State.CANNOT_SAY:
            return f"CANNOT SAY: {limiting} gives too few readings"
        case State.HUNTING:
            swing = judgement.swings.get(name)
            if swing is None:
                return f"HUNTING: {limiting}"
            return f"HUNTING: {limiting}, period {swing.period_s:.0f} s, swing {swing.swing:.1f} K"
        case State.DISTURBED:
            return f"DISTURBED: {limiting} scatters"
        case State.AT_ONCE:
            return "needs no settling"
        case State.SETTLING:
            ahead = judgement.time_to_steady if standing is judgement.overall and row in (-1, last) else None
            return f"SETTLING{_ahead(ahead)}: {_why_settling(judgement, name, limiting, row)}"


def _ahead(ahead: TimeToSteady | None) -> str:
    """Say about how long it will take, with the interval where it is wider than a minute."""
    if ahead is None:
        return ""
    low, middle, high = (max(1, round(s / 60.0)) for s in (ahead.low_s, ahead.middle_s, ahead.high_s))
    if ahead.high_s < 45.0:
        return ", less than a minute more"
    return f", about {middle} min more" + (f" ({low} to {high})" if low < high else "")


def _drift(judgement: Judgement, row: int) -> str:
    """State the slow drift of what enters the machine, where it is more than chance: allowed, but told."""
    for name in ENTERING:
        window = judgement.statistics.get(name)
        if window is None:
            continue
        slope = float(window.slope_per_row[row]) * 60.0
        if abs(slope) - 120.0 * float(window.slope_error[row]) > TOLD_DRIFT_K_PER_MIN:
            return f"; {label_of(name)} drifts {_per_minute(slope)}"
    return ""


def _per_minute(slope: float) -> str:
    return f"{slope:+.2f} K/min".replace("-", "−")


def _why_settling(judgement: Judgement, name: str, limiting: str, row: int) -> str:
    since = float(judgement.since_change_s[row])
    if name:
        window = judgement.statistics[name]
        if int(window.rows[row]) < 300:
            return f"{limiting} has been read for {duration(float(window.rows[row]))} of 5:00"
        drift = float(window.slope_per_row[row]) * 60.0
        return f"{limiting} moves {_per_minute(drift)}"
    if since < SETTLE_S:
        return f"{duration(since)} of {duration(SETTLE_S)} since the start or last change"
    return f"still, and watched for {duration(CONFIRM_S)} more"
