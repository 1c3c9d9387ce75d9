"""Raises and clears alarms over the rows of the analyser; any cutting into chunks gives the same alarms.

A value counts from its limit on for the whole delay, and back from beyond the deadband for as long. A row
without a value breaks a delay that runs, and neither raises nor clears: nothing is told of what is not known.
Where the machine stands still, or has just started, an alarm that belongs to a running machine is suppressed.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from analysis.alarm_rules import AlarmRule, Site, alarm_rules
from analysis.analyser import Results
from analysis.elementwise import FloatArray
from analysis.machine_events import running_if_known
from analysis.unit_card import UnitCard

_UNKNOWN, _BEYOND, _BETWEEN, _BACK, _OFF = range(5)
"""How a row stands to a limit: no value, beyond, within the deadband, back, or not to be judged."""


class Change(StrEnum):
    """What became of an alarm."""

    RAISED = "raised"
    CLEARED = "cleared"
    SUPPRESSED = "suppressed"
    """Ended because the machine stands still or starts, where it does not count."""


@dataclass(frozen=True, slots=True)
class AlarmChange:
    """One change of one alarm."""

    t_us: int
    rule: AlarmRule
    change: Change
    value: float
    """Of the watched value at that row [SI], what is taken off already off."""


@dataclass(slots=True)
class _Memory:
    """What one alarm remembers from row to row."""

    active: bool = False
    since_us: int | None = None
    """Since when the value has stood on the side that would change the alarm."""


@dataclass(slots=True)
class Alarms:
    """The fold's memory."""

    card: UnitCard | None = None
    memory: dict[str, _Memory] = field(default_factory=dict)
    rules: tuple[AlarmRule, ...] = ()
    site: Site | None = None
    running_us: int | None = None
    """Since when the compressor has run; None while it stands or was never seen."""

    def add(self, result: Results) -> list[AlarmChange]:
        """Take in further rows and give what became of the alarms, in the order of time."""
        if not result.rows:
            return []
        ran_s, runs = self._running(result)
        found = self._settle(result)
        for rule in self.rules:
            column = result.derived.get(rule.symbol) or result.points.get(rule.symbol)
            value = np.full(result.rows, np.nan) if column is None else column.value - rule.less
            stands = _stands(rule, value, runs, ran_s)
            memory = self.memory.setdefault(rule.code, _Memory())
            found += _changes(rule, memory, stands, value, result.t_us)
        return sorted(found, key=lambda change: change.t_us)

    @property
    def active(self) -> tuple[AlarmRule, ...]:
        """Alarms that stand now."""
        return tuple(rule for rule in self.rules if self.memory.get(rule.code, _Memory()).active)

    def _settle(self, result: Results) -> list[AlarmChange]:
        """Take over what is declared from these rows on; an alarm that is no more is suppressed."""
        held = result.settings
        freezing = held.source_liquid.freezing_point if held.source_liquid is not None else math.nan
        site = Site(freezing, held.barometer_pa, held.mode)
        if self.site is not None and repr(site) == repr(self.site):  # NaN is not equal to itself
            return []
        before, self.site, self.rules = self.rules, site, alarm_rules(self.card, site)
        gone = {rule.code for rule in before} - {rule.code for rule in self.rules}
        ended = [rule for rule in before if rule.code in gone and self.memory[rule.code].active]
        for code in gone:
            self.memory.pop(code, None)
        return [AlarmChange(int(result.t_us[0]), rule, Change.SUPPRESSED, math.nan) for rule in ended]

    def _running(self, result: Results) -> tuple[FloatArray, npt.NDArray[np.int8]]:
        """Give how long the compressor has run at each row [s], and whether it runs (1, 0, -1 unknown)."""
        told = running_if_known(result.points)
        if told is None:
            return np.zeros(result.rows), np.full(result.rows, -1, np.int8)
        ran = np.zeros(result.rows)
        for begin, end in _spans(told):
            state = int(told[begin])
            if state == 0:
                self.running_us = None
            elif state == 1 and self.running_us is None:
                self.running_us = int(result.t_us[begin])
            if self.running_us is not None:
                ran[begin:end] = (result.t_us[begin:end] - self.running_us) / 1e6
        return ran, told


def _stands(
    rule: AlarmRule, value: FloatArray, runs: npt.NDArray[np.int8], ran_s: FloatArray
) -> npt.NDArray[np.int8]:
    """Say how each row stands to the limit."""
    sign = 1.0 if rule.low else -1.0
    with np.errstate(invalid="ignore"):
        beyond = sign * value < sign * rule.limit
        back = sign * value >= sign * rule.limit + rule.deadband
    stands = np.where(beyond, _BEYOND, np.where(back, _BACK, _BETWEEN))
    stands = np.where(np.isfinite(value), stands, _UNKNOWN)
    if rule.while_running:
        stands = np.where(runs < 0, _UNKNOWN, np.where((runs == 0) | (ran_s < rule.after_s), _OFF, stands))
    return stands.astype(np.int8)


def _spans(states: npt.NDArray[np.int8]) -> Iterator[tuple[int, int]]:
    """Give begin and end of the runs of equal states."""
    if states.size == 1:
        yield 0, 1
        return
    edges = [0, *(np.flatnonzero(np.diff(states)) + 1).tolist(), states.size]
    yield from itertools.pairwise(edges)


def _changes(
    rule: AlarmRule, memory: _Memory, stands: npt.NDArray[np.int8], value: FloatArray, t_us: np.ndarray
) -> Iterator[AlarmChange]:
    """Follow one alarm through the rows."""
    for begin, end in _spans(stands):
        state = int(stands[begin])
        if state == _OFF:
            if memory.active:
                yield AlarmChange(int(t_us[begin]), rule, Change.SUPPRESSED, float(value[begin]))
            memory.active, memory.since_us = False, None
        elif state != (_BACK if memory.active else _BEYOND):
            memory.since_us = None
        else:
            since = memory.since_us = int(t_us[begin]) if memory.since_us is None else memory.since_us
            at = begin + int(np.searchsorted(t_us[begin:end], since + round(rule.delay_s * 1e6)))
            if at < end:
                memory.active, memory.since_us = not memory.active, None
                change = Change.RAISED if memory.active else Change.CLEARED
                yield AlarmChange(int(t_us[at]), rule, change, float(value[at]))


def find_alarms(results: Iterable[Results], card: UnitCard | None = None) -> list[AlarmChange]:
    """Find the alarms of a session, in the order of time.

    Parameters
    ----------
    results
        Of the analyser, in order; however cut.
    card
        The machine's unit card.
    """
    fold = Alarms(card)
    return [change for result in results for change in fold.add(result)]
