"""The form of ``evenrun typed``: points by number, values by keypad, the result after each row."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import datetime

from analysis.points import POINTS
from analysis.presets import PRESETS, PresetName
from analysis.saturation import names
from analysis.typed_channels import TypedError
from analysis.units import Quantity
from logger.asking import Asker, DoneError
from logger.errors import CommandError
from logger.setup_file import find_curve
from logger.typed_report import caution_lines, result_lines
from logger.typed_sheet import TypedSheet

FORM_POINTS = (
    "suction_pressure", "suction_temperature", "discharge_pressure", "liquid_temperature",
    "source_entering_temperature", "source_leaving_temperature", "source_pressure_drop", "source_flow",
    "discharge_temperature", "load_entering_temperature", "load_leaving_temperature", "supply_voltage",
    "compressor_current",
)  # fmt: skip
"""In the order of the keys; the first seven are the usual ones."""


class TypedForm:
    """Asks for rows until the person is done; every row is kept before the next question."""

    def __init__(
        self,
        ask: Asker,
        sheet: TypedSheet,
        preset: PresetName,
        now_s: Callable[[], float] = time.monotonic,
        wall: Callable[[], datetime] = datetime.now,
    ) -> None:
        self._ask = ask
        self._sheet = sheet
        self._preset = preset
        self._now_s = now_s
        self._wall = wall
        self._typed_at: dict[float, str] = {}

    def fill(self) -> None:
        """Ask for rows; ends with 0, the end of input, or an interruption."""
        ask, sheet = self._ask, self._sheet
        for line in caution_lines(sheet):
            ask.say(line)
        try:
            while True:
                index = ask.choice("Which point?", tuple(self._label(name) for name in FORM_POINTS))
                if index == 0:
                    return
                self._row(FORM_POINTS[index - 1])
        except DoneError:
            ask.say("Ended; every row typed so far counts.")

    def _label(self, name: str) -> str:
        last = next((row for row in reversed(self._sheet.rows) if row.point == name), None)
        told = f"  (last {last.value:g} {last.channel.si_unit.shown})" if last is not None else ""
        return f"{POINTS[name].label}{told}"

    def _row(self, name: str) -> None:
        ask = self._ask
        unit = self._unit(name)
        negative = POINTS[name].quantity in (Quantity.TEMPERATURE, Quantity.ABSOLUTE_PRESSURE)
        while True:
            text = ask.number(POINTS[name].label, unit, negative=negative)
            if not text:
                return
            try:
                row = self._sheet.enter(self._now_s(), name, text)
            except TypedError as refused:
                ask.say(str(refused))
                continue
            break
        self._typed_at[row.t_s] = f"{self._wall():%H:%M}"
        now = self._now_s()
        found = self._sheet.result(now)
        for line in result_lines(self._sheet, found, self._preset, now, self.clock):
            ask.say(line)

    def _unit(self, name: str) -> str:
        """Give the unit of a point: that of its last row, else the preset's; pressures as gauge."""
        last = next((row for row in reversed(self._sheet.rows) if row.point == name), None)
        if last is not None:
            return last.channel.unit
        quantity = POINTS[name].quantity
        if quantity is Quantity.ABSOLUTE_PRESSURE:
            quantity = Quantity.GAUGE_PRESSURE
        return PRESETS[self._preset][quantity].unit

    def clock(self, t_s: float) -> str:
        """Time of day at which a row was typed."""
        return self._typed_at.get(t_s, "")


def ask_refrigerant(ask: Asker) -> str:
    """Ask for the refrigerant; its number is enough (410 for R410A). Empty: not known yet.

    Raises
    ------
    DoneError
        At the end of input.
    """
    while True:
        text = ask.line("refrigerant, its number is enough (410), Enter if not known: ")
        if not text:
            return ""
        fits = matching(text)
        if len(fits) == 1:
            return fits[0]
        if fits:
            index = ask.choice(f"'{text}' may be:", fits)
            if index:
                return fits[index - 1]
            continue
        try:
            return find_curve(text).name
        except CommandError as refused:
            ask.say(str(refused))


def matching(text: str) -> tuple[str, ...]:
    """Find the refrigerants whose number is, or begins with, the digits typed.

    Examples
    --------
    >>> matching("410"), matching("22"), matching("454")
    (('R410A',), ('R22',), ('R454A', 'R454B', 'R454C'))
    """
    if not text.isdigit():
        return ()
    numbers = {name: name.removeprefix("R") for name in names()}
    exact = tuple(name for name, number in numbers.items() if number == text)
    # 410 means R410A, and not R4 with something behind it: what follows the digits must be no digit.
    begins = tuple(
        name
        for name, number in numbers.items()
        if number.startswith(text) and not number[len(text) :][:1].isdigit()
    )
    return exact or begins
