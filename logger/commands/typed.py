"""``evenrun typed R410A --suction 5.2bar(g) --line -2.4degC``: plain gauges, at once or as a form."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from analysis.presets import PresetName
from analysis.typed_channels import TypedError
from logger.asking import Asker, DoneError
from logger.errors import DONE, CommandError
from logger.typed_form import TypedForm, ask_refrigerant
from logger.typed_report import caution_lines, result_facts, result_lines
from logger.typed_session import TypedSession
from logger.typed_sheet import TypedSheet, declare

OPTIONS = {
    "suction": "suction_pressure", "line": "suction_temperature", "high": "discharge_pressure",
    "liquid": "liquid_temperature", "discharge": "discharge_temperature",
    "water_in": "source_entering_temperature", "water_out": "source_leaving_temperature",
    "drop": "source_pressure_drop", "flow": "source_flow", "load_in": "load_entering_temperature",
    "load_out": "load_leaving_temperature", "volts": "supply_voltage", "amps": "compressor_current",
}  # fmt: skip
"""Option to measuring point."""
_US = ("psig", "psia", "degF", "gpm", "psi", "°F")


def run(args: argparse.Namespace) -> int:
    """Work out what was typed on the line; without a value, ask for rows in a form."""
    typed = {point: getattr(args, name) for name, point in OPTIONS.items() if getattr(args, name)}
    us = any(text.endswith(_US) for text in typed.values())
    preset: PresetName = args.units or ("us" if us else "si")
    if not typed and args.json:
        raise CommandError("--json needs values, such as --suction '5.2bar(g)' --line '-2.4degC'.")
    ask = Asker(input, print)
    refrigerant = args.refrigerant
    if not typed and not refrigerant:
        try:
            refrigerant = ask_refrigerant(ask)
        except DoneError:
            return DONE
    sheet = declare(
        refrigerant=refrigerant, mode=args.mode, fluid=args.fluid, barometer=args.barometer, coil=args.coil,
        gauge_class=args.gauge_class, clamp=args.clamp, water_matched=args.water_matched,
        rated=args.rated, flow_band=args.flow_band,
        power_factor=args.power_factor, who=args.who,
    )  # fmt: skip
    session = TypedSession.create(Path(args.out), sheet) if args.out else None
    now_s: Callable[[], float] = session.now_s if session is not None else lambda: 0.0
    try:
        if typed:
            _at_once(sheet, typed, now_s(), preset, as_json=args.json)
        elif session is not None:
            TypedForm(ask, sheet, preset, now_s).fill()
        else:
            TypedForm(ask, sheet, preset).fill()
    finally:
        warnings = session.close() if session is not None else ()
    if session is not None and not args.json:
        for line in (f"Session: {args.out}", *warnings):
            print(line)
    return DONE


def _at_once(
    sheet: TypedSheet, typed: dict[str, str], now_s: float, preset: PresetName, *, as_json: bool
) -> None:
    try:
        for point, text in typed.items():
            sheet.enter(now_s, point, text)
    except TypedError as refused:
        raise CommandError(str(refused)) from None
    found = sheet.result(now_s)
    if as_json:
        print(json.dumps(result_facts(sheet, found, now_s), allow_nan=False))
        return
    moment = f"{datetime.now():%H:%M}"  # noqa: DTZ005, the clock on the wall
    lines = [*caution_lines(sheet), "", *result_lines(sheet, found, preset, now_s, lambda _: moment)]
    print("\n".join(lines))
