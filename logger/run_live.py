"""Running an engine with a live table in the terminal, or a line now and then where there is none."""

from __future__ import annotations

import asyncio
import signal
from contextlib import suppress

from rich.live import Live

from analysis.derived import BY_SYMBOL
from analysis.presets import PresetName, duration, show, show_expanded
from analysis.units import Quantity
from logger.engine import Engine, Snapshot
from logger.errors import NotAvailableError
from logger.live_table import live_table
from logger.plain_console import PlainConsole
from logger.session_errors import SessionError
from logger.state_words import headline

REDRAW_S = 0.5
LINE_EVERY_S = 10.0


def run_live(
    engine: Engine, preset: PresetName, *, title: str, for_s: float | None, quiet: bool
) -> tuple[str, ...]:
    """Record until the time is up or the person stops it; gives what did not work at the end.

    Raises
    ------
    NotAvailableError
        If rows could not be stored.
    """
    try:
        return asyncio.run(_run(engine, preset, title, for_s, quiet))
    except SessionError as error:
        raise NotAvailableError(str(error)) from None


async def _run(
    engine: Engine, preset: PresetName, title: str, for_s: float | None, quiet: bool
) -> tuple[str, ...]:
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        with suppress(NotImplementedError):  # Windows: Ctrl-C comes as KeyboardInterrupt
            loop.add_signal_handler(number, engine.stop, "stopped by the person")
    task = asyncio.create_task(engine.run(None if for_s is None else round(for_s * 1e6)))
    console = PlainConsole()
    if quiet:
        return await task
    if console.is_terminal:
        with Live(console=console, auto_refresh=False) as live:
            while not task.done():
                live.update(live_table(engine.snapshot(), preset, title), refresh=True)
                await asyncio.wait({task}, timeout=REDRAW_S)
            live.update(live_table(engine.snapshot(), preset, title), refresh=True)
    else:
        while not task.done():
            await asyncio.wait({task}, timeout=LINE_EVERY_S)
            print(one_line(engine.snapshot(), preset), flush=True)
    return await task


def one_line(snapshot: Snapshot, preset: PresetName) -> str:
    """Write the present state on one line, for a log.

    The line holds elapsed time, state, superheat and what stands against them.
    """
    parts = [duration(snapshot.elapsed_us / 1e6)]
    newest = snapshot.newest
    if newest is None:
        parts.append("WAITING for the first reading")
    else:
        parts.append(headline(newest.judgement))
        for symbol in ("superheat", "subcooling", "source_delta_t"):
            column = newest.derived.get(symbol)
            if column is not None:
                value = show(Quantity.TEMPERATURE_DIFFERENCE, float(column.value[-1]), preset)
                u = show_expanded(Quantity.TEMPERATURE_DIFFERENCE, float(column.u[-1]), preset)
                name = BY_SYMBOL[symbol].label
                parts.append(f"{name} {value} {u}" if "no" not in value else f"{name} {value}")
    for link in snapshot.links:
        if link.event is not None and link.event.state.value not in ("live", "ended"):
            parts.append(f"{link.name} {link.event.state.value}: {link.event.reason}")
    if snapshot.journal is not None and snapshot.journal.trouble:
        parts.append(snapshot.journal.trouble)
    return " · ".join(parts)
