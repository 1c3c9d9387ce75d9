"""The two state lines at the top of every view; the first statement that applies wins."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from analysis.alarm_standing import AlarmState
from analysis.derived import BY_SYMBOL
from analysis.points import POINTS
from analysis.presets import PresetName, duration, show_among
from analysis.steadiness import CONFIRM_S, SETTLE_S, TEMPERATURE_LIMIT, WINDOW_ROWS
from analysis.units import Quantity
from analysis.verdict import Judgement, State
from logger.alarm_watch import AlarmShown
from logger.desktop.amounts import difference
from logger.desktop.bands import Judged
from logger.desktop.present import Present

Sign = Literal["steady", "settling", "hunting", "waiting", "reading"]
CHANGED_S = 60.0
"""For so long a start or a change of phase is told before anything else is said about settling."""


@dataclass(frozen=True, slots=True)
class StateLine:
    """What stands at the top: sign, large words, and the reason below them."""

    sign: Sign
    words: str
    reason: str


def label_of(name: str) -> str:
    """Give the label of a measuring point or a derived value."""
    return POINTS[name].label if name in POINTS else BY_SYMBOL[name].label.split(" (")[0]


def state_line(present: Present) -> StateLine:
    """Say how the machine stands, and what must be done now where something must."""
    line = _state(present)
    act = act_now(present)
    return StateLine(line.sign, line.words, act) if act else line


def act_now(present: Present) -> str:
    """Give the sentence of an act-now, which always takes the second line; empty where there is none.

    An alarm comes first, one that nobody has seen before those that were seen; a shelved one is not told.
    """
    for alarm in present.alarms:
        if alarm.standing.state is not AlarmState.SHELVED:
            return _alarm(present, alarm)
    if present.judged.get("freeze_margin") is Judged.ACT:
        value = difference(Quantity.TEMPERATURE_DIFFERENCE, present.value("freeze_margin"), present.preset)
        return f"freeze margin {value.text}: be ready to stop the unit"
    return ""


def _alarm(present: Present, alarm: AlarmShown) -> str:
    """Write an alarm in one line: what, how much, and the act."""
    rule, standing = alarm.rule, alarm.standing
    if standing.state is AlarmState.RETURNED:
        return f"ALARM, over now, raised at {duration(standing.raised_us / 1e6)}: {rule.title}"
    value = present.value(rule.symbol) - rule.less
    shown = show_among(rule.quantity, value, [rule.limit], present.preset)[0]
    act = rule.act.text[:1].lower() + rule.act.text[1:].rstrip(".")
    return f"{'ALARM' if alarm.wants_person else 'alarm, seen'}: {rule.title}, {shown}: {act}"


def with_alarm(present: Present, line: StateLine | None) -> StateLine | None:
    """Give a view's own line the second line that an act-now always takes."""
    act = act_now(present)
    return StateLine(line.sign, line.words, act) if line is not None and act else line


def _state(present: Present) -> StateLine:
    newest = present.newest
    if newest is None and present.kind == "review":
        return StateLine("reading", "NO READINGS in this session", "evenrun verify says what its files hold")
    if newest is None and present.kind == "idle":
        return StateLine("waiting", "NOTHING RECORDED yet", "set a visit up on Devices, or type a value")
    if newest is None:
        return StateLine("waiting", "WAITING for the first reading", "open Devices, or type a value")
    judgement = newest.judgement
    if not judgement.overall.state.size:
        return StateLine("waiting", "WAITING for readings", "no fitted point tells whether it runs evenly")
    state = State(int(judgement.overall.state[-1]))
    index = int(judgement.overall.limiting[-1])
    name = judgement.signals[index] if index >= 0 else ""
    since = float(judgement.since_change_s[-1])
    match state:
        case State.REST:
            return StateLine("waiting", "AT REST", "the compressor is not running")
        case State.WAITING if name:
            point = _missing_point(present, name)
            waited = label_of(point or name)
            told = f"{waited} {present.silence(point)}" if point else "it has no value"
            return StateLine("waiting", f"WAITING for {waited}", told)
        case State.WAITING | State.AT_ONCE:
            return StateLine("waiting", "WAITING for readings", "no fitted point is watched for steadiness")
        case State.CANNOT_SAY:
            return StateLine("waiting", "CANNOT SAY", f"{label_of(name)} gives too few readings to be judged")
        case State.HUNTING:
            swing = judgement.swings.get(name)
            if swing is None:
                return StateLine("hunting", "HUNTING", f"{label_of(name)} swings")
            span = difference(Quantity.TEMPERATURE_DIFFERENCE, swing.swing, present.preset)
            return StateLine(
                "hunting", f"HUNTING, period {swing.period_s:.0f} s",
                f"{label_of(name)} swings by {span.text} from low to high",
            )  # fmt: skip
        case State.STEADY:
            steady = float(judgement.overall.steady_s[-1])
            limit = _per_minute(TEMPERATURE_LIMIT.slope_per_s, present.preset)
            return StateLine(
                "steady", f"STEADY for {duration(steady)}",
                f"all levels moved less than {limit} in the last {WINDOW_ROWS // 60} min",
            )  # fmt: skip
        case _:
            pass
    if since < CHANGED_S and since < float(newest.t_us[-1]) / 1e6 - 1.0:
        return StateLine(
            "settling", f"CHANGED {duration(since)} ago",
            f"only flow and freezing are judged before {SETTLE_S / 60:.0f} min of even running",
        )  # fmt: skip
    if state is State.DISTURBED:
        return StateLine("settling", "DISTURBED", f"{label_of(name)} scatters more than its probe does")
    return _settling(present, judgement, name, since)


def _settling(present: Present, judgement: Judgement, name: str, since: float) -> StateLine:
    least = SETTLE_S - since
    reason = f"{duration(since)} since the start or last change"
    if name:
        window = judgement.statistics[name]
        least = max(least, float(WINDOW_ROWS - int(window.rows[-1])))
        slope = float(window.slope_per_row[-1])
        if math.isfinite(slope) and int(window.rows[-1]) >= WINDOW_ROWS:
            limit = _per_minute(TEMPERATURE_LIMIT.slope_per_s, present.preset)
            moves = _per_minute(abs(slope), present.preset)
            way = "rises" if slope > 0 else "falls"
            reason = f"{label_of(name)} {way} {moves}; limit {limit}"
    minutes = math.ceil((max(least, 0.0) + CONFIRM_S) / 60.0)
    return StateLine("settling", f"SETTLING, at least {minutes} min more", reason)


def _per_minute(kelvin_per_s: float, preset: PresetName) -> str:
    """Write a slope; two decimals in kelvin, for the limit is 0.06 K per min."""
    if preset == "us":
        return f"{kelvin_per_s * 60.0 * 1.8:.2f} °F per min"
    return f"{kelvin_per_s * 60.0:.2f} K per min"


def _missing_point(present: Present, name: str) -> str:
    """Name the measuring point that leaves a signal without a value; empty where none does."""
    newest = present.newest
    assert newest is not None, "a state needs results"
    for point in newest.inputs.get(name, (name,)):
        if point in newest.points and not math.isfinite(float(newest.points[point].value[-1])):
            return point
    return ""
