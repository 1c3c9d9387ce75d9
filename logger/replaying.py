"""Playing a stored session again as if it were live, at any speed."""

from __future__ import annotations

import asyncio
import itertools
import time
from collections.abc import Iterator

import numpy as np
from rich.console import Console
from rich.live import Live

from analysis.analyser import Analyser, Results, last_row
from analysis.frame import GRACE_US
from analysis.presets import PresetName
from analysis.rows import Rows
from logger.engine import Snapshot
from logger.live_table import live_table
from logger.plain_console import PlainConsole
from logger.replay import curves_for, end_us, settings_of
from logger.run_live import one_line
from logger.session import Session

STEP_S = 0.1
"""Real time between two steps [s]."""
REDRAW_S = 0.25
LINE_EVERY_S = 5.0


def play(session: Session, preset: PresetName, speed: float) -> Results | None:
    """Show a session at ``speed`` times real time; gives the last row."""
    return asyncio.run(_play(session, preset, speed))


async def _play(session: Session, preset: PresetName, speed: float) -> Results | None:
    channels = {channel.id: channel for channel in session.channels}
    fold = Analyser(channels, settings_of(session), curves_for(session))
    console = PlainConsole()
    newest: Results | None = None
    end = end_us(session)
    began = told = time.monotonic()
    redraw_s = REDRAW_S if console.is_terminal else LINE_EVERY_S

    def snapshot(at_us: int) -> Snapshot:
        return Snapshot(at_us, newest, (), {}, None, 0, 0)

    with Live(console=console, auto_refresh=False, screen=False) as live:
        for rows in _slices(session, max(round(speed * STEP_S * 1e6), 1)):
            at_us = int(rows.t_us[-1])
            wait = began + at_us / 1e6 / speed - time.monotonic()
            if wait > 0:
                await asyncio.sleep(wait)
            newest = last_row(fold.step(rows)) or newest
            if time.monotonic() - told >= redraw_s:
                told = time.monotonic()
                _draw(live, console, snapshot(at_us), preset, session)
        newest = last_row(fold.step(Rows.empty(), end + GRACE_US)) or newest
        _draw(live, console, snapshot(end), preset, session)
    return newest


def _draw(live: Live, console: Console, snapshot: Snapshot, preset: PresetName, session: Session) -> None:
    if console.is_terminal:
        live.update(live_table(snapshot, preset, f"replay of {session.header.title}"), refresh=True)
    else:
        print(one_line(snapshot, preset), flush=True)


def _slices(session: Session, step_us: int) -> Iterator[Rows]:
    """Cut the readings into steps of session time, in the order in which they came."""
    for rows in session.rows():
        step = np.maximum.accumulate(rows.t_us // step_us)
        edges = [0, *(np.flatnonzero(np.diff(step)) + 1).tolist(), len(rows)]
        for begin, end in itertools.pairwise(edges):
            if begin < end:
                yield rows.take(slice(begin, end))
