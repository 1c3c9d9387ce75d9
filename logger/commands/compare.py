"""``evenrun compare A B``: as found against as left, each difference with its uncertainty and verdict."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Mapping

from rich.console import Console
from rich.table import Table
from rich.text import Text

from analysis.compare import Compared, Comparison, Verdict
from analysis.presets import PresetName
from analysis.unit_card import UnitCard
from logger.comparison import (
    Studied,
    between_line,
    compare_between,
    compare_sessions,
    comparison_facts,
    comparison_notes,
    known,
    not_tested_lines,
    shown_changes,
    shown_conditions,
    stretch_line,
    study,
    verdict_line,
)
from logger.comparison_bands import as_left_is, band_facts, band_rows, judged_changes
from logger.errors import DONE
from logger.plain_console import PlainConsole
from logger.replay import open_session
from logger.session_card import find_card

_PIPE_WIDTH = 120
_STYLES = {Verdict.CHANGED.value: "bold", Verdict.NOT_SHOWN.value: "", Verdict.NOT_COMPARABLE.value: "dim"}


def run(args: argparse.Namespace) -> int:
    """Print the comparison."""
    as_found, as_left = (study(open_session(folder)) for folder in (args.as_found, args.as_left))
    compared = compare_sessions(as_found, as_left, phase_found=args.phase_found, phase_left=args.phase_left)
    card = find_card([as_left.session, as_found.session], args.card)
    between = compare_between(as_found, study(open_session(args.between)) if args.between else None)
    if args.json:
        facts = comparison_facts(as_found, as_left, compared)
        if args.between:
            facts["between"] = {mode: _between_facts(one) for mode, one in between.items()}
        if card is not None:
            facts["bands"] = {c.mode or "": band_facts(c, card) for c in compared.comparisons}
        print(json.dumps(facts, allow_nan=False))
        return DONE
    wide = None if sys.stdout.isatty() else _PIPE_WIDTH + (60 if card is not None else 0)
    console = PlainConsole(width=wide, highlight=False)
    _print(console, as_found, as_left, compared, between, card, args.units or "si")
    return DONE


def _between_facts(comparison: Comparison) -> dict[str, object]:
    values = {
        change.symbol: {"value": known(change.as_left.value), "u": known(change.as_left.u)}
        for change in comparison.changes
    }
    return {"fair": comparison.fairness.fair, "values": values}


def _print(
    console: Console,
    as_found: Studied,
    as_left: Studied,
    compared: Compared,
    between: Mapping[str, Comparison],
    card: UnitCard | None,
    preset: PresetName,
) -> None:
    console.print(Text(f"as found  {as_found.title}"))
    console.print(Text(f"as left   {as_left.title}"))
    for comparison in compared.comparisons:
        _print_comparison(console, comparison, between.get(comparison.mode), card, preset)
    if not compared.comparisons:
        console.print(Text("The two sessions have no mode in common, so nothing is compared.", "bold"))
    console.print()
    for line in not_tested_lines(compared):
        console.print(Text(line, "bold"))
    for line in comparison_notes(preset):
        console.print(Text(line))


def _print_comparison(
    console: Console,
    comparison: Comparison,
    between: Comparison | None,
    card: UnitCard | None,
    preset: PresetName,
) -> None:
    console.print()
    console.print(Text(f"{(comparison.mode or 'mode not declared').upper()}"))
    console.print(Text(verdict_line(comparison, preset), "bold"))
    for condition in shown_conditions(comparison, preset):
        remark = f"  ({condition.remark})" if condition.remark else ""
        console.print(Text(f"  [{condition.sign}] {condition.label}: {condition.text}{remark}"))
    console.print(Text(f"  as found {stretch_line(comparison.as_found)}"))
    if between is not None:
        console.print(Text(f"  {between_line(between)}"))
    console.print(Text(f"  as left  {stretch_line(comparison.as_left)}"))
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("quantity")
    middle = ["□ between"] if between is not None else []
    for heading in ("○ as found", *middle, "◆ as left", "change ± U (k = 2)"):
        table.add_column(heading, justify="right")
    table.add_column("verdict")
    judged = judged_changes(comparison, card) if card is not None else {}
    limits = {
        row.symbol: row.limits
        for row in (band_rows([comparison.as_found, comparison.as_left], card, preset) if card else ())
    }
    if card is not None:
        table.add_column("as left is")
        table.add_column("allowed band (card)")
    for change, row in zip(comparison.changes, shown_changes(comparison, preset, between), strict=True):
        # Where the whole pair is not comparable the reason stands above, once.
        own = comparison.fairness.fair or row.multiple is None
        verdict = f"{row.verdict}: {row.reason}" if row.reason and own else row.verdict
        style = _STYLES[row.verdict]
        cells = [
            row.label,
            row.as_found,
            *([row.between] if middle else []),
            row.as_left,
            row.change,
            verdict,
        ]
        if card is not None:
            cells += [
                as_left_is(change, judged[row.symbol][1]),
                limits.get(row.symbol, "not on the unit card"),
            ]
        table.add_row(*(Text(cell, style) for cell in cells))
    console.print()
    console.print(table)
