"""Running the demonstration: record each visit at high speed, analyse, compare, and say what was learnt."""

from __future__ import annotations

import asyncio
import itertools
import json
import math
import subprocess
import time
from dataclasses import dataclass
from pathlib import Path

from rich import box
from rich.console import Console
from rich.padding import Padding
from rich.progress import Progress, SpinnerColumn, TextColumn
from rich.table import Table
from rich.text import Text

from analysis.presets import PresetName, duration
from analysis.windows import Stretch
from logger.comparison import Studied, compare_sessions, study
from logger.demo import Story, Visit, open_visit, session_folder, simulated_machine
from logger.demo_lessons import Pair, lessons
from logger.engine import Engine
from logger.live_table import CAUTION
from logger.replay import analyse_session, end_us, open_session
from logger.reports.envelope import Envelope
from logger.reports.technician import Seen, technician_page
from logger.run_live import run_live
from logger.session_report import session_facts
from logger.shown_values import expanded, named, shown_value
from logger.state_words import label_of
from logger.verify import verify


@dataclass(frozen=True, slots=True)
class Recorded:
    """One visit as recorded and worked out."""

    visit: Visit
    folder: Path
    studied: Studied
    envelope: Envelope
    faults: int

    @property
    def best(self) -> Stretch:
        """The longest steady stretch; the last minute where nothing was steady."""
        return max(self.studied.stretches, key=lambda stretch: (stretch.steady, stretch.seconds))

    @property
    def ran(self) -> bool:
        """Whether the machine ran evenly for a while."""
        return self.best.steady


def run_live_machine(story: Story, out: Path, preset: PresetName, seconds: float) -> None:
    """Run the first visit's machine in real time, with the live table."""
    visit = story.visits[0]
    with simulated_machine(visit.story or story.name, visit.phase, speed=1.0, seconds=round(seconds) + 5) as (
        address,
        _,
    ):
        folder = session_folder(out, story, visit)
        recording = open_visit(story, visit, address, folder, live=True)
        run_live(recording.engine, preset, title=recording.setup.title, for_s=seconds, quiet=False)
    print(f"Session: {folder}")


def run_story(story: Story, out: Path, preset: PresetName, console: Console, *, as_json: bool) -> None:
    """Record, analyse and compare the visits of a story; print what happened."""
    began = time.monotonic()
    if not as_json:
        console.print(
            f"[bold]{story.place}[/bold]: a simulated machine ({story.mode}, {story.refrigerant}), read as "
            "text lines over a local socket like any device."
        )
        console.print(CAUTION, style="dim")
    recorded = [_record(story, visit, out, console, quiet=as_json) for visit in story.visits]
    report = _report(recorded, out, preset)
    if as_json:
        print(json.dumps([_facts(one) for one in recorded], allow_nan=False))
        return
    for one in recorded:
        _tell(one, console)
    console.print(_table(recorded, preset))
    taught = list(
        lessons([(one.visit.recorded_as, one.best) for one in recorded], _pairs(recorded, preset), preset)
    )
    if taught:
        console.print("[bold]What the readings teach[/bold]")
    for line in taught:
        console.print(Padding(Text(line), (0, 0, 0, 2)))
    console.print(f"[bold]To keep[/bold] ({time.monotonic() - began:.0f} s in all)")
    for path in [*(one.folder for one in recorded), *report]:
        console.print(f"  {path}", soft_wrap=True)


def _record(story: Story, visit: Visit, out: Path, console: Console, *, quiet: bool) -> Recorded:
    folder = session_folder(out, story, visit)
    with simulated_machine(visit.story or story.name, visit.phase, speed=0.0) as (address, process):
        engine = open_visit(story, visit, address, folder).engine
        asyncio.run(_fill(engine, process, visit, console, quiet))
    session = open_session(str(folder))
    envelope = Envelope(end_us(session))
    return Recorded(visit, folder, study(session, envelope.add), envelope, len(verify(folder)))


def _pairs(recorded: list[Recorded], preset: PresetName) -> list[Pair]:
    """Compare each visit in which the machine ran with the next, then the first with the last."""
    running = [one.studied for one in recorded if one.ran]
    pairs = list(itertools.pairwise(running))
    if running:
        pairs.append((running[0], running[-1]))
    return [Pair(compare_sessions(one, other), preset) for one, other in pairs] if len(running) > 1 else []


def _report(recorded: list[Recorded], out: Path, preset: PresetName) -> list[Path]:
    """Write the page that compares the first visit in which the machine ran with the last."""
    running = [one for one in recorded if one.ran]
    if len(running) < 2:
        return []
    first, last = running[0], running[-1]
    seen = [Seen("as found", first.studied, first.envelope), Seen("as left", last.studied, last.envelope)]
    compared = compare_sessions(first.studied, last.studied)
    path = out / "report.html"
    page = technician_page(seen, compared, preset, written_us=time.time_ns() // 1000)
    path.write_text(page, encoding="utf-8", newline="\n")
    return [path]


async def _fill(
    engine: Engine, process: subprocess.Popen[str], visit: Visit, console: Console, quiet: bool
) -> None:
    """Run the engine until the simulated machine has ended, with progress."""
    columns = (TextColumn("{task.description}"), SpinnerColumn("line"), TextColumn("{task.fields[now]}"))
    with Progress(
        *columns, console=console, disable=quiet or not console.is_terminal, transient=True
    ) as progress:
        bar = progress.add_task(f"recording {visit.recorded_as}", total=None, now="")
        task = asyncio.create_task(engine.run())
        while not task.done():
            await asyncio.wait({task}, timeout=0.2)
            progress.update(bar, now=f"{duration(engine.elapsed_us() / 1e6)} of machine time")
            if process.poll() is not None:
                await asyncio.sleep(0.3)  # what is still in the socket
                engine.stop("the simulated machine has ended")
        await task


def _facts(one: Recorded) -> dict[str, object]:
    session = one.studied.session
    facts = session_facts(session, one.studied.stretches, list(analyse_session(session)))
    return facts | {"visit": one.visit.recorded_as, "happened": one.visit.happened, "faults": one.faults}


def _tell(one: Recorded, console: Console) -> None:
    """Say in a few lines what one visit showed."""
    best = one.best
    if best.steady:
        how = f"steady from {duration(best.from_us / 1e6)} to {duration(best.to_us / 1e6)}"
    else:
        how = "never steady; the last minute is shown, not judged"
    console.print(f"[bold]{one.visit.recorded_as}[/bold]: {one.visit.happened}")
    files = "files verified" if not one.faults else f"{one.faults} faults in the files"
    console.print(f"  {how}; {files}", style="dim")


_SHOWN = (
    "source_volume_flow", "source_delta_t", "evaporating_temperature", "evaporating_approach",
    "freeze_margin",
    "superheat", "condensing_temperature", "condensing_approach", "subcooling", "air_delta_t",
    "heat_from_source", "heat_to_source", "heat_to_load", "compressor_power", "cop", "heat_balance",
    "pump_current", "supply_voltage", "control_voltage",
)  # fmt: skip


def _table(recorded: list[Recorded], preset: PresetName) -> Table:
    """Put the visits side by side: each value with its expanded uncertainty."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    table.add_column("")
    for one in recorded:
        table.add_column(
            one.visit.recorded_as + ("" if one.best.steady else "\n(not judged)"), justify="right"
        )
    for symbol in _SHOWN:
        cells = [_cell(symbol, one.best, preset) for one in recorded]
        if any(cells):
            table.add_row(label_of(symbol), *cells)
    return table


def _cell(symbol: str, stretch: Stretch, preset: PresetName) -> str:
    mean = stretch.derived.get(symbol) or stretch.points.get(symbol)
    if mean is None:
        return ""
    _, quantity = named(symbol)
    value = shown_value(symbol, quantity, mean.value, stretch.settings, preset)
    return f"{value} {expanded(symbol, quantity, mean.u, preset)}" if math.isfinite(mean.value) else value
