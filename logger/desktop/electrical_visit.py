"""Electrical work in the window: keys become readings, kept in a file after every one of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import msgspec

from analysis.electrical import VoltReading
from drivers.strict_toml import TomlError, decode, read_text
from logger.desktop.electrical_page import ElectricalPage
from logger.desktop.present import Present
from logger.electrical_file import case_of
from logger.electrical_keeping import STATEMENTS, calls_of, with_call, with_isolation, write_table
from logger.electrical_live import TYPED, newest_volts, with_live
from logger.electrical_report import ElectricalReport, report_on
from logger.electrical_tables import ElectricalTable, LimitsTable
from logger.electrical_typing import (
    USUAL_PLATES,
    Typed,
    circuit_names,
    entry_text,
    hunt_of,
    motor_of,
    next_of,
    repaired,
    with_circuit,
    with_motor,
    with_value,
)
from logger.errors import CommandError

MOST_DIGITS = 7
ON_PAGE, BRANCHES_ON_PAGE, CALLS_SHOWN = 6, 5, 4
_THREE = (None, True, False)
_replace = msgspec.structs.replace


class ElectricalVisit:
    """What a person typed with a meter, and what is being typed now.

    Parameters
    ----------
    folder
        Of the session beside which the readings are kept; None keeps them nowhere, and says so.
    title, refrigerant
        Of the machine, for a file that is begun here.
    plate, plate_source
        Plate voltage as the unit card says it, and who says so; empty where not known.
    path
        File to keep the readings in instead of the session's own.
    """

    def __init__(
        self,
        folder: Path | None,
        *,
        title: str = "",
        refrigerant: str = "",
        plate: str = "",
        plate_source: str = "card",
        path: Path | None = None,
    ) -> None:
        limits = LimitsTable(plate=plate, source=plate_source) if plate else LimitsTable()
        self.table = ElectricalTable(title=title, refrigerant=refrigerant, limits=limits)
        self.path = path or (folder / TYPED if folder is not None else None)
        self.notice = ""
        self._page = ElectricalPage(self.table, report_on(case_of(self.table)))
        self._seen: tuple[object, ElectricalReport] | None = None
        if self.path is not None and self.path.exists():
            self._read(self.path)

    def _read(self, path: Path) -> None:
        """Take up what was typed before; a file that cannot be read is left alone, and another one begun."""
        try:
            table = decode(read_text(path, "utf-8-sig"), ElectricalTable)
            report = report_on(case_of(table))
        except (OSError, UnicodeDecodeError, TomlError, ValueError, CommandError) as refused:
            free = (path.with_name(f"{path.stem}-{n}{path.suffix}") for n in range(2, 1000))
            self.path = next((other for other in free if not other.exists()), None)
            where = self.path.name if self.path is not None else "nowhere"
            self.notice = f"{path.name} cannot be read and stays as it is; kept in {where}: {refused}"
            return
        self.table = table
        page = replace(self._page, table=table, report=report, kept=f"kept in {path.name}")
        shown = [replace(page, circuit=name) for name in circuit_names(table)]
        self._page = next((one for one in shown if one.tells), shown[0])

    def page(self, present: Present) -> ElectricalPage:
        """Give what the views show now, with the session's volts of this moment."""
        live: tuple[VoltReading, ...] = ()
        if present.newest is not None:
            live = tuple(newest_volts(present.newest).values())
            known = present.newest.settings.refrigerant
            if known and not self.table.refrigerant:  # declared after this began
                self.table = _replace(self.table, refrigerant=known)
        page = replace(self._page, table=self.table, report=self._report(live))
        if page.part != "typing" or not page.digits:
            return page
        view = "shorts" if not self._along(page.key) else "electrical"
        entry = page.entry(view)
        table, refused = self._with(page, entry.key, entry.unit)
        if table is None:
            return replace(page, refused=refused)
        try:
            return replace(page, if_kept=report_on(with_live(case_of(table), live)))
        except (ValueError, CommandError) as wrong:
            return replace(page, refused=str(wrong))

    @staticmethod
    def _along(key: str) -> bool:
        return key.startswith(("volts ", "motor "))

    def _report(self, live: Sequence[VoltReading]) -> ElectricalReport:
        seen = (self.table, tuple((r.point, r.volts, r.loaded) for r in live))
        if self._seen is None or self._seen[0] != seen:
            self._seen = (seen, report_on(with_live(case_of(self.table), live)))
        return self._seen[1]

    @property
    def typing(self) -> bool:
        """Whether the keypad is open."""
        return self._page.part == "typing"

    def act(self, act: str, view: str) -> None:
        """Do what a key or a touch asks for.

        Parameters
        ----------
        act
            Such as ``point volts fuse``, ``key 5``, ``key keep``, ``circuit`` or ``isolation 2``.
        view
            ``electrical`` or ``shorts``.
        """
        name, _, rest = act.partition(" ")
        page, self.notice = self._page, ""
        match name:
            case "enter":
                self._open(self._first_missing(view), view)
            case "point":
                self._open(rest, view)
            case "step":
                self._step(int(rest), view)
            case "key":
                self._key(rest, view)
            case "more":
                pages = -(-len(replace(page, table=self.table).entries(view)) // ON_PAGE)
                self._page = replace(page, first=(page.first + 1) % pages)
            case "branches":
                pages = max(-(-len(hunt_of(self.table).branch) // BRANCHES_ON_PAGE), 1)
                self._page = replace(page, branches_first=(page.branches_first + 1) % pages)
            case "show":
                self._page = replace(page, part="shown", digits="")
            case "isolation" if not rest:
                self._page = replace(page, part="isolation")
            case "calls" if not rest:
                self._page = replace(page, part="calls")
            case "isolation":
                self._keep(with_isolation(self.table, rest, f"{datetime.now():%H:%M}"))  # noqa: DTZ005
            case "calls":
                self._call(rest)
            case "f":
                self._function_key(int(rest), view)
            case "circuit":
                names = circuit_names(self.table)
                self._page = replace(page, circuit=str(next_of(names, page.circuit)), key="", first=0)
            case "loaded":
                self._page = replace(page, loaded=next_of((None, False, True), page.loaded))  # type: ignore[arg-type]
            case "supply" | "call" | "runs" | "earth" | "repaired" | "back":
                self._change(name, rest)
            case _:
                pass

    def _change(self, name: str, rest: str) -> None:
        page = replace(self._page, table=self.table)
        table, circuit = self.table, page.typed_circuit
        # A key of the keyboard means the value that is chosen.
        rest = rest or (
            page.key.split(" ")[1] if name == "repaired" and page.key.startswith("branch") else ""
        )
        rest = rest or (page.key if name == "back" and page.part == "typing" else "")
        if name in ("repaired", "back") and not rest:
            return
        match name:
            case "supply":
                plate = str(next_of(USUAL_PLATES, table.limits.plate))
                table = _replace(table, limits=LimitsTable(plate=plate, tap=table.limits.tap))
            case "call":
                table = with_circuit(table, _replace(circuit, call=next_of(_THREE, circuit.call)))
            case "runs":
                motor = motor_of(table, circuit)
                table = with_motor(table, _replace(motor, runs=next_of(_THREE, motor.runs)))
            case "earth":
                hunt = hunt_of(table)
                earthed = next_of(_THREE, hunt.common_earthed)
                table = _replace(table, short_hunt=_replace(hunt, common_earthed=earthed))
            case "repaired":
                table = repaired(table, int(rest))
            case _:
                table = with_value(table, self._page.circuit, rest, "")
        self._keep(table)

    def _open(self, key: str, view: str) -> None:
        keys = [entry.key for entry in replace(self._page, table=self.table).entries(view)]
        at = keys.index(key) if key in keys else 0
        self._page = replace(self._page, part="typing", key=keys[at], digits="", first=at // ON_PAGE)

    def _first_missing(self, view: str) -> str:
        entries = replace(self._page, table=self.table).entries(view)
        return next((entry.key for entry in entries if not entry.shown), entries[0].key)

    def _step(self, by: int, view: str) -> None:
        if self._page.part == "calls":
            many = min(len(calls_of(self.table)), CALLS_SHOWN)
            self._page = replace(self._page, call=(self._page.call + by) % many)
            return
        keys = [entry.key for entry in replace(self._page, table=self.table).entries(view)]
        at = keys.index(self._page.key) if self._page.key in keys else 0
        self._open(keys[(at + by) % len(keys)], view)

    def _key(self, key: str, view: str) -> None:
        page = replace(self._page, table=self.table)
        digits, entry = page.digits, page.entry(view)
        if key == "keep":
            self._take(page, view)
            return
        if key == "clear":
            digits = ""
        elif key == "back":
            digits = "" if digits == "open" else digits[:-1]
        elif key == "open":
            digits = "open" if entry.may_be_open else digits
        elif key in "0123456789." and len(key) == 1:
            digits = "" if digits == "open" else digits
            if not (key == "." and "." in digits) and len(digits) < MOST_DIGITS:
                digits += key
        self._page = replace(self._page, digits=digits, key=entry.key)

    def _with(self, page: ElectricalPage, key: str, unit: str) -> tuple[ElectricalTable | None, str]:
        """Give the table with the entry in it, or why it cannot be kept."""
        try:
            text = entry_text(page.digits, unit)
        except ValueError as refused:
            return None, str(refused)
        told = Typed(page.loaded, f"{datetime.now():%H:%M}", self.table.technician)  # noqa: DTZ005 the clock on the wall
        return with_value(self.table, page.circuit, key, text, told), ""

    def _take(self, page: ElectricalPage, view: str) -> None:
        entry = page.entry(view)
        table, refused = self._with(page, entry.key, entry.unit)
        if table is None:
            self.notice = refused
            return
        if not self._keep(table):
            return
        entries = replace(page, table=table).entries(view)
        at = [one.key for one in entries].index(entry.key)
        follow = entries[min(at + 1, len(entries) - 1)].key
        self._open(follow, view)

    def _call(self, which: str) -> None:
        """Take what a call did to the fuse, or a branch that it energises."""
        call, _, branch = which.partition(" ")
        name = calls_of(self.table)[int(call)]
        self._page = replace(self._page, call=int(call))
        branches = hunt_of(self.table).branch
        self._keep(with_call(self.table, name, branches[int(branch)].name if branch else ""))

    def _function_key(self, number: int, view: str) -> None:
        """Give a function key to the page that is shown."""
        page = self._page
        if page.part == "isolation" and number <= len(STATEMENTS):
            self.act(f"isolation {STATEMENTS[number - 1]}", view)
        elif page.part == "calls" and number <= BRANCHES_ON_PAGE:
            at = page.branches_first * BRANCHES_ON_PAGE + number - 1
            if at < len(hunt_of(self.table).branch):
                self.act(f"calls {page.call} {at}", view)
        elif page.part == "calls":
            self.act(f"calls {page.call}", view)

    def _keep(self, table: ElectricalTable) -> bool:
        """Take a changed table if it can be understood, and write it; says so where that fails."""
        try:
            report_on(case_of(table))
        except (ValueError, CommandError) as refused:
            self.notice = str(refused)
            return False
        self.table = table
        kept = "NOT KEPT: no session is open"
        if self.path is not None:
            try:
                write_table(self.path, table)
                kept = f"kept in {self.path.name}"
            except OSError as error:
                self.notice = f"{self.path} cannot be written: {error.strerror}; it is only on this screen"
                kept = "NOT KEPT: only on this screen"
        self._page = replace(self._page, kept=kept)
        return True
