"""Follows the alarms of a recording: what raises them, what the person did with them, and what is shown."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from analysis.alarm_rules import AlarmRule
from analysis.alarm_standing import KIND, AlarmBook, AlarmStanding, AlarmState
from analysis.alarms import AlarmChange, Alarms, Change
from analysis.analyser import Results
from analysis.presets import PresetName, duration, show, show_among
from analysis.timeline import Event
from analysis.unit_card import UnitCard

_SHOWN = (AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED, AlarmState.ACKNOWLEDGED, AlarmState.SHELVED)
"""In the order in which they are shown."""


@dataclass(frozen=True, slots=True)
class AlarmShown:
    """One alarm that is not at its normal state."""

    rule: AlarmRule
    standing: AlarmStanding

    @property
    def wants_person(self) -> bool:
        """Whether somebody has still to look at it."""
        return self.standing.state in (AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED)


def change_text(change: AlarmChange, preset: PresetName = "si") -> str:
    """Write a change of an alarm for the events and for a person."""
    rule = change.rule
    if change.change is Change.SUPPRESSED:
        return f"{change.change.value}: the machine stands still, has just started, or was changed"
    value, limit = show_among(rule.quantity, change.value, [rule.limit], preset)
    if change.change is Change.CLEARED:
        return f"{change.change.value}: {rule.title} no more, {value}"
    return (
        f"{change.change.value}: {rule.title}: {value}, act {'below' if rule.low else 'above'} {limit}"
        f" [{rule.source}]"
    )


def alarm_line(rule: AlarmRule, value: float, preset: PresetName) -> str:
    """Write an alarm as one line with its present value (SI, as read), and what to do."""
    now, limit = show_among(rule.quantity, value - rule.less, [rule.limit], preset)
    side = "below" if rule.low else "above"
    return f"{rule.title}: {now}, act {side} {limit}. {rule.act.text}"


def standing_words(standing: AlarmStanding) -> str:
    """Say how an alarm stands, in a word that opens a line."""
    if standing.state is AlarmState.SHELVED:
        until = duration(standing.shelved_until_us / 1e6)
        return f"alarm shelved until {until} ({standing.reason})"
    if standing.state is AlarmState.RETURNED:
        return f"ALARM, over now, raised {duration(standing.raised_us / 1e6)}"
    word = "ALARM" if standing.state is AlarmState.UNACKNOWLEDGED else "alarm, seen"
    return f"{word}, since {duration(standing.raised_us / 1e6)}"


def limit_words(rule: AlarmRule, preset: PresetName) -> str:
    """Write an alarm's limit with its source."""
    side = "below" if rule.low else "above"
    return f"act {side} {show(rule.quantity, rule.limit, preset)} [{rule.source}]"


def change_event(change: AlarmChange, utc_us: int = 0) -> Event:
    """Give a change as an event of the session."""
    return Event(change.t_us, utc_us, KIND, change.rule.code, change_text(change))


def is_act_of_person(event: Event) -> bool:
    """Whether an event is what somebody did with an alarm, and not what the machine did."""
    ours = tuple(f"{change.value}:" for change in Change)
    return event.kind == KIND and not event.text.startswith(ours)


class AlarmWatch:
    """The alarms of one recording.

    Parameters
    ----------
    card
        The machine's unit card; None watches only what needs none.
    """

    def __init__(self, card: UnitCard | None = None) -> None:
        self._fold = Alarms(card)
        self._book = AlarmBook()
        self._rules: dict[str, AlarmRule] = {}

    def results(self, results: Sequence[Results]) -> list[Event]:
        """Take in further rows; give the events that they make, which come back through :meth:`take`."""
        found = [change for result in results for change in self._fold.add(result)]
        self._rules.update({change.rule.code: change.rule for change in found})
        return [change_event(change) for change in found]

    def take(self, event: Event) -> None:
        """Take in an event of the session, the machine's or the person's."""
        self._book.take(event)

    def shown(self, now_us: int) -> tuple[AlarmShown, ...]:
        """Give the alarms that are not normal, those that want somebody first."""
        return shown_alarms(self._book.standings(now_us), self._rules)


def shown_alarms(standings: Iterable[AlarmStanding], rules: dict[str, AlarmRule]) -> tuple[AlarmShown, ...]:
    """Join standings with their rules, those that want somebody first, then the newest."""
    found = [
        AlarmShown(rules[one.code], one)
        for one in standings
        if one.state is not AlarmState.NORMAL and one.code in rules
    ]
    return tuple(sorted(found, key=lambda one: _SHOWN.index(one.standing.state)))
