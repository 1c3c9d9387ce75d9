"""``evenrun fleet FOLDER --sql "..."``: summarise many sessions, then ask the summary."""

from __future__ import annotations

import argparse
import csv
import json
import math
import sys
from datetime import date, datetime
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table
from rich.text import Text

from analysis.derived import BY_SYMBOL
from analysis.evidence import si_unit
from analysis.points import POINTS
from logger.errors import DONE, CommandError
from logger.export import harmless
from logger.fleet import ask, executor_for
from logger.shown_values import plain
from logger.state_words import label_of
from logger.summaries import SUMMARY, Outcome, update

_MOST_FAULTS = 10


def run(args: argparse.Namespace) -> int:
    """Bring the summary up to date; print what was done, or the answer."""
    folder = Path(args.folder)
    summary = Path(args.summary) if args.summary else folder / SUMMARY
    if summary.suffix != ".parquet":
        raise CommandError(f"--summary {summary}: name a file that ends in .parquet.")
    if args.columns:
        _print(["column", "unit", "what"], _columns())
        return DONE
    if args.workers < 0:
        raise CommandError("--workers must be 1 or more.")
    outcome = _update(folder, summary, args)
    columns, rows = ask(summary, args.sql) if args.sql else ([], [])
    if args.json:
        print(json.dumps(_facts(summary, outcome, columns, rows), allow_nan=False))
        return DONE
    for fault in outcome.faults[:_MOST_FAULTS]:
        print(f"Not summarised: {plain(fault)}", file=sys.stderr)
    if len(outcome.faults) > _MOST_FAULTS:
        print(f"and {len(outcome.faults) - _MOST_FAULTS} more (column 'fault').", file=sys.stderr)
    if args.sql:
        _print(columns, rows)
    else:
        print(
            f"{summary}: {outcome.sessions} sessions, {outcome.done} worked out, {outcome.kept} unchanged, "
            f"{outcome.gone} gone, {len(outcome.faults)} not readable. Values are SI."
        )
    return DONE


def _update(folder: Path, summary: Path, args: argparse.Namespace) -> Outcome:
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    quiet = not sys.stderr.isatty()
    with (
        Progress(*columns, console=Console(stderr=True), disable=quiet, transient=True) as bar,
        executor_for(args.workers, args.scheduler) as (executor, workers),
    ):
        task = bar.add_task("summarising", total=None)
        return update(
            folder, summary, executor, workers, lambda done, of: bar.update(task, completed=done, total=of)
        )


def _print(columns: list[str], rows: list[tuple[Any, ...]]) -> None:
    """Print a table for a person; CSV where a program or a file reads it, with all digits."""
    if not sys.stdout.isatty():
        writer = csv.writer(sys.stdout, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows([_cell(value) for value in row] for row in rows)
        return
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for name in columns:
        table.add_column(Text(name))
    for row in rows:
        table.add_row(*(Text(_text(value)) for value in row))
    Console(highlight=False).print(table)


def _cell(value: object) -> object:
    return harmless(plain(value)) if isinstance(value, str) else value


def _columns() -> list[tuple[str, str, str]]:
    """Name each column of the summary: name, unit, what it is."""
    told = [
        ("folder", "", "where the session lies"), ("key", "", "changes whenever the session does"),
        ("fault", "", "why it was not summarised"), ("title", "", "of the session"),
        ("utc", "", "when the stretch began"), ("from_s", "s", "begin of the stretch in the session"),
        ("to_s", "s", "end of the stretch"), ("steady", "", "whether the machine ran evenly"),
        ("mode", "", "heating or cooling, as declared"), ("phase", "", "as declared, for example as-found"),
        ("refrigerant", "", "as declared"), ("barometer", "Pa(a)", "as declared"),
        ("dropouts", "", "how many the session has"),
    ]  # fmt: skip
    quantities = {symbol: row.quantity for symbol, row in BY_SYMBOL.items()}
    quantities |= {name: point.quantity for name, point in POINTS.items()}
    for symbol, quantity in quantities.items():
        unit = si_unit(quantity)
        told += [(symbol, unit, label_of(symbol)), (f"u_{symbol}", unit, "its standard uncertainty (k = 1)")]
    return told


def _text(value: object) -> str:
    if value is None:
        return "not known"
    return f"{value:.6g}" if isinstance(value, float) else plain(str(value))


def _facts(
    summary: Path, outcome: Outcome, columns: list[str], rows: list[tuple[Any, ...]]
) -> dict[str, object]:
    return {
        "summary": str(summary),
        "sessions": outcome.sessions,
        "worked_out": outcome.done,
        "unchanged": outcome.kept,
        "gone": outcome.gone,
        "faults": outcome.faults,
        "columns": columns,
        "rows": [[_plain(value) for value in row] for row in rows],
    }


def _plain(value: object) -> object:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, datetime | date):
        return value.isoformat()
    return value if isinstance(value, str | int | bool | None) else str(value)
