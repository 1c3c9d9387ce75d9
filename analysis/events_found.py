"""Finds what happened to the machine in the rows of the analyser: starts, stops, trips, dips; any chunking.

Rows are collected into blocks that begin at whole multiples of ten minutes, with twenty minutes before and
two after them in sight. What is found in a block depends on the block alone and on what was found before, so
the cuts of the chunks do not matter, and the memory is bounded.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from analysis.analyser import Results
from analysis.elementwise import FloatArray
from analysis.events_rules import History, Sight, events_in
from analysis.machine_events import MachineEvent, running_if_known

BLOCK_ROWS = 600
BEHIND_ROWS, AHEAD_ROWS = 1200, 120
_DERIVED = ("evaporating_temperature", "freeze_margin")


@dataclass(slots=True)
class MachineEvents:
    """The fold's memory: rows still in sight, and what the events so far mean for the next ones."""

    t_us: np.ndarray = field(default_factory=lambda: np.empty(0, np.int64))
    columns: dict[str, FloatArray] = field(default_factory=dict)
    running: np.ndarray = field(default_factory=lambda: np.empty(0, np.int8))
    """1 running, 0 standing, -1 cannot be told."""
    mode: np.ndarray = field(default_factory=lambda: np.empty(0, object))
    done: int = 0
    """Rows of those in sight that were already searched."""
    history: History = field(default_factory=History)

    def add(self, result: Results) -> list[MachineEvent]:
        """Take in further rows and give the events that can be told by now."""
        if not result.rows:
            return []
        before, n = self.t_us.size, result.rows
        given = {name: column.value for name, column in result.points.items()}
        given |= {name: result.derived[name].value for name in _DERIVED if name in result.derived}
        for name in self.columns.keys() | given.keys():
            old = self.columns.get(name, np.full(before, np.nan))
            self.columns[name] = np.concatenate([old, given.get(name, np.full(n, np.nan))])
        told = running_if_known(result.points)
        now = np.full(n, -1, np.int8) if told is None else told
        self.running = np.concatenate([self.running, now])
        self.mode = np.concatenate([self.mode, np.full(n, result.settings.mode, object)])
        self.t_us = np.concatenate([self.t_us, result.t_us])
        return self._search(AHEAD_ROWS)

    def finish(self) -> list[MachineEvent]:
        """Give the events of the last rows; nothing follows."""
        return self._search(0)

    def _search(self, ahead: int) -> list[MachineEvent]:
        found: list[MachineEvent] = []
        while True:
            left = self.t_us.size - self.done
            block = BLOCK_ROWS - self.history.searched % BLOCK_ROWS
            if ahead and left < block + ahead:
                return found
            block = min(block, left)
            if not block:
                return found
            sight = slice(0, self.done + block + AHEAD_ROWS)
            columns = {name: column[sight] for name, column in self.columns.items()}
            seen = Sight(self.t_us[sight], columns, self.running[sight], self.mode[sight], self.done, block)
            found += events_in(seen, self.history)
            self.history.searched += block
            self.done += block
            drop = max(self.done - BEHIND_ROWS, 0)
            self.columns = {name: column[drop:] for name, column in self.columns.items()}
            self.t_us, self.running, self.mode = self.t_us[drop:], self.running[drop:], self.mode[drop:]
            self.done -= drop


def find_machine_events(results: Iterable[Results]) -> list[MachineEvent]:
    """Find what happened to the machine, in the order of time.

    Parameters
    ----------
    results
        Of the analyser, in order; however cut.

    Returns
    -------
    list of MachineEvent
        Each with its moment and evidence; stops of the compressor with the points that moved first.
    """
    fold = MachineEvents()
    found = [event for result in results for event in fold.add(result)]
    return in_order(found + fold.finish())


def in_order(events: Sequence[MachineEvent]) -> list[MachineEvent]:
    """Sort events by their moment; those of one moment stay as they were found."""
    return sorted(events, key=lambda event: event.t_us)
