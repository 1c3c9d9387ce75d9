"""The alarms of a stored session, worked out anew from its readings, with what the person did about them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from analysis.alarm_rules import AlarmRule
from analysis.alarm_standing import AlarmBook
from analysis.alarms import AlarmChange, find_alarms
from analysis.analyser import Results
from analysis.presets import PresetName, duration
from analysis.timeline import Event
from analysis.unit_card import UnitCard
from logger.alarm_watch import (
    AlarmShown,
    change_event,
    change_text,
    is_act_of_person,
    limit_words,
    shown_alarms,
)
from logger.shown_values import plain


@dataclass(frozen=True, slots=True)
class SessionAlarms:
    """What was raised in a session, and what became of it."""

    changes: tuple[AlarmChange, ...]
    acts: tuple[Event, ...]
    """What the person did: acknowledged, shelved with a reason."""

    @classmethod
    def of(cls, results: Iterable[Results], card: UnitCard | None, events: Iterable[Event]) -> SessionAlarms:
        """Work them out; what was raised while recording is found again in the readings."""
        return cls(tuple(find_alarms(results, card)), tuple(e for e in events if is_act_of_person(e)))

    @property
    def rules(self) -> dict[str, AlarmRule]:
        """Alarms that were raised, by code."""
        return {change.rule.code: change.rule for change in self.changes}

    def shown(self, at_us: int) -> tuple[AlarmShown, ...]:
        """Give how they stood at a moment, those that are normal left out."""
        return shown_alarms(self.book(at_us).standings(at_us), self.rules)

    def book(self, at_us: int) -> AlarmBook:
        """Give the book of all that had happened by a moment."""
        happened = [*(change_event(change) for change in self.changes), *self.acts]
        return AlarmBook(sorted((e for e in happened if e.t_us <= at_us), key=lambda event: event.t_us))

    def lines(self, end_us: int, preset: PresetName) -> list[str]:
        """Write them for a person: each alarm with its limit, times, how it stands, and the act."""
        standings = {one.code: one for one in self.book(end_us).standings(end_us)}
        found = []
        for code, rule in self.rules.items():
            standing = standings[code]
            shelved = f" until {duration(standing.shelved_until_us / 1e6)}" if standing.reason else ""
            reason = f" ({plain(standing.reason)})" if standing.reason else ""
            active = ", still on" if standing.active else ""
            found.append(
                f"{rule.title} ({code}, {rule.priority} priority): raised {_times(standing.times)}{active};"
                f" {standing.state.value}{shelved}{reason}"
            )
            found.append(f"  {limit_words(rule, preset)}")
            found.append(f"  {rule.act.safe.value}: {rule.act.text}")
            mine = [change for change in self.changes if change.rule.code == code]
            found += [f"  {duration(c.t_us / 1e6)}  {change_text(c, preset)}" for c in mine[:_MOST]]
            if len(mine) > _MOST:
                found.append(f"  and {len(mine) - _MOST} changes more (--json has all)")
            acts = [event for event in self.acts if event.subject == code]
            found += [f"  {duration(e.t_us / 1e6)}  {plain(e.text)}" for e in acts]
        return found

    def facts(self, end_us: int) -> list[dict[str, object]]:
        """Give them as plain values (SI), by code."""
        standings = {one.code: one for one in self.book(end_us).standings(end_us)}
        return [
            {
                "code": code,
                "title": rule.title,
                "priority": rule.priority,
                "symbol": rule.symbol,
                "limit": rule.limit,
                "side": "below" if rule.low else "above",
                "source": rule.source,
                "act": rule.act.text,
                "safe": rule.act.safe.value,
                "state": standings[code].state.value,
                "active": standings[code].active,
                "changes": [
                    {
                        "at": c.t_us / 1e6,
                        "change": c.change.value,
                        "value": c.value if math.isfinite(c.value) else None,
                    }
                    for c in self.changes
                    if c.rule.code == code
                ],
                "acts": [{"at": e.t_us / 1e6, "text": plain(e.text)} for e in self.acts if e.subject == code],
            }
            for code, rule in self.rules.items()
        ]


_MOST = 12
"""Changes of one alarm that are listed for a person."""


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def alarm_section(alarms: SessionAlarms, end_us: int, preset: PresetName) -> Sequence[str]:
    """Write the alarms as a section of a longer page; nothing where there were none."""
    lines = alarms.lines(end_us, preset)
    return ["", "Alarms:", *(f"  {line}" for line in lines)] if lines else []
