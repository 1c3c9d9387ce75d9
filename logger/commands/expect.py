"""``evenrun expect CARD --ewt T``: what the machine should show, to print before the visit."""

from __future__ import annotations

import argparse
import json
import math
import time
from dataclasses import dataclass
from pathlib import Path

from analysis.barometer import STANDARD_ATMOSPHERE_PA, parse_barometer
from analysis.card_checks import check_card
from analysis.compare import MODES
from analysis.evidence import Visit, seen_value
from analysis.expected import Asked, Expected, expected_values
from analysis.finding_levels import unlike
from analysis.finding_values import with_values
from analysis.presets import PresetName, show
from analysis.saturation import RefusedRefrigerant, UnknownRefrigerant, refrigerant
from analysis.unit_card import NOT_KNOWN, UnitCard
from analysis.units import Quantity, UnitError, parse_amount
from logger.commands.findings import read_visit
from logger.errors import DONE, CommandError
from logger.expected_text import expected_facts, expected_text, grouped
from logger.reports.paper import made_by, page_of, pdf_of, together, write_page
from logger.session_card import read_card

TYPE_SIZES = (12.0, 11.5, 11.0, 10.5, 10.0, 9.5, 9.0, 8.5)
"""Points; the first in which each mode fits on one page is taken."""
CAUTION = (
    "evenrun only reads. Work on live parts, refrigerant and pressure is for qualified persons; local codes "
    "and licensed practice decide. Water first: judge no charge before flow and heat of the water are proven."
)


@dataclass(frozen=True, slots=True)
class ModeSheet:
    """The sheet of one mode."""

    asked: Asked
    head: list[str]
    lines: tuple[Expected, ...]

    def sources(self, card: UnitCard) -> str:
        """Name where properties come from."""
        try:
            saturation = f"saturation: {refrigerant(card.refrigerant).source}. "
        except (UnknownRefrigerant, RefusedRefrigerant):
            saturation = ""
        return f"{saturation}Source liquid: {card.source_liquid.source}."


def run(args: argparse.Namespace) -> int:
    """Print the sheet, or write it as a page."""
    preset: PresetName = args.units or "si"
    out = Path(args.out) if args.out else None
    if out is not None and (out.suffix.lower() not in (".html", ".htm", ".pdf") or out.is_dir()):
        raise CommandError(f"--out {out}: name a file that ends in .html or .pdf.")
    card = read_card(Path(args.card))
    reference, title = (None, "")
    if args.reference:
        visit, title = read_visit(args.reference, card)
        reference = with_values(visit, card)
    sheets = [
        _sheet(card, asked, reference, title or args.reference or "", preset) for asked in _asked(args, card)
    ]
    doubts = [str(fault) for fault in check_card(card)]
    if args.json:
        facts = {
            "card": args.card,
            "title": card.title,
            "reference": args.reference,
            "doubts": doubts,
            "modes": {
                sheet.asked.mode: {
                    "notes": sheet.head,
                    "values": {line.symbol: expected_facts(line) for line in sheet.lines},
                }
                for sheet in sheets
            },
        }
        print(json.dumps(facts, allow_nan=False))
    elif out is None:
        parts = [expected_text([card.title, *sheet.head], sheet.lines, preset) for sheet in sheets]
        parts += [f"CHECK the card: {doubt}" for doubt in doubts]
        print("\n\n".join([*parts, f"Properties, {sheets[0].sources(card)}", CAUTION]))
    if out is not None:
        _write(out, card, sheets, doubts, preset, args)
        if not args.json:
            print(f"Sheet: {out}")
    return DONE


def _asked(args: argparse.Namespace, card: UnitCard) -> list[Asked]:
    """Read the condition that is asked for, one for each mode."""
    try:
        entering = parse_amount(args.ewt, Quantity.TEMPERATURE).si
        load = parse_amount(args.load_ewt, Quantity.TEMPERATURE).si if args.load_ewt else math.nan
        flow = parse_amount(args.flow, Quantity.VOLUME_FLOW).si if args.flow else math.nan
        barometer = parse_barometer(args.barometer) if args.barometer else STANDARD_ATMOSPHERE_PA
    except UnitError as refused:
        raise CommandError(str(refused)) from None
    liquid = card.source_liquid
    if entering <= liquid.freezing_point:
        freezes = show(Quantity.TEMPERATURE, liquid.freezing_point, args.units or "si")
        raise CommandError(f"--ewt {args.ewt}: {liquid.text} freezes at {freezes}; give a warmer one.")
    if not math.isfinite(float(liquid.density(entering))):
        raise CommandError(f"--ewt {args.ewt}: {liquid.text} is not known there; is the unit right?")
    if math.isfinite(flow) and flow <= 0.0:
        raise CommandError(f"--flow {args.flow}: give a flow above zero.")
    modes = [args.mode] if args.mode else _modes(card)
    return [Asked(mode, entering, _load(card, mode, load), flow, barometer) for mode in modes]


def _modes(card: UnitCard) -> list[str]:
    """Give the modes of which the card says anything, else both."""
    said = {table.mode for table in card.performance} | {band.mode for band in card.bands}
    said |= {mode for mode, metering in card.metering.items() if metering != NOT_KNOWN}
    return [mode for mode in MODES if mode in said] or list(MODES)


def _load(card: UnitCard, mode: str, given: float) -> float:
    """Give the load temperature that was asked for, else the one that the card's tables are for."""
    if math.isfinite(given):
        return given
    loads = {table.load_entering for table in card.performance if table.mode == mode}
    return loads.pop() if len(loads) == 1 else math.nan


def _sheet(
    card: UnitCard, asked: Asked, reference: Visit | None, title: str, preset: PresetName
) -> ModeSheet:
    temperature = Quantity.TEMPERATURE
    words = [f"source water in {show(temperature, asked.source_entering, preset)}"]
    if math.isfinite(asked.load_entering):
        words.append(f"load in {show(temperature, asked.load_entering, preset)}")
    if math.isfinite(asked.flow):
        words.append(f"source flow {show(Quantity.VOLUME_FLOW, asked.flow, preset)}")
    head = [
        f"{asked.mode.capitalize()}: {', '.join(words)}",
        f"{card.refrigerant}; source liquid {card.source_liquid.text}; gauge over "
        f"{show(Quantity.ABSOLUTE_PRESSURE, asked.barometer_pa, preset)}; ± are k = 2, without it a range",
    ]
    if reference is not None:
        head.append(_of_reference(asked, reference, card, title, preset))
    return ModeSheet(asked, head, expected_values(card, asked, reference, preset=preset))


def _of_reference(asked: Asked, reference: Visit, card: UnitCard, title: str, preset: PresetName) -> str:
    """Say whether the healthy run serves, and at what it was taken."""
    given = {"source_entering_temperature": asked.source_entering}
    load_name = "return_air_temperature" if card.kind == "water to air" else "load_entering_temperature"
    given[load_name] = asked.load_entering
    values = {name: seen_value(name, x, 0.0) for name, x in given.items() if math.isfinite(x)}
    reasons = unlike(Visit(values, asked.mode), reference, card)
    if reasons:
        return f"The healthy reference {title} was not used: {'; '.join(reasons)}."
    taken = [
        f"{label} {show(seen.quantity, seen.value, preset)}"
        for name, label in (
            ("source_entering_temperature", "source in"), (load_name, "load in"),
            ("source_volume_flow", "source flow"),
        )
        if (seen := reference.get(name)) is not None
    ]  # fmt: skip
    return f"Healthy reference: {title}, taken at {', '.join(taken) or 'conditions that are not known'}."


def _write(
    out: Path, card: UnitCard, sheets: list[ModeSheet], doubts: list[str], preset: PresetName,
    args: argparse.Namespace,
) -> None:  # fmt: skip
    """Write the page: each mode on one, in the largest type in which it fits."""
    facts: dict[str, object] = {
        "heading": f"Expected values: {card.title}",
        "sheets": [
            {
                "head": [together(line) for line in sheet.head],
                "groups": [
                    (
                        group,
                        [(row.label, together(row.expect), together(row.limits), row.source) for row in rows],
                    )
                    for group, rows in grouped(sheet.lines, preset)
                ],
            }
            for sheet in sheets
        ],
        "doubts": doubts,
        "caution": CAUTION,
        "sources": sheets[0].sources(card),
        **made_by(time.time_ns() // 1000),
    }
    if out.suffix.lower() != ".pdf":
        write_page(out, page_of("expected.html", facts, args.paper).encode())
        return
    for size in TYPE_SIZES:
        content, pages = pdf_of(page_of("expected.html", facts, args.paper, type_size=size))
        if pages <= len(sheets):
            break
    write_page(out, content)
