"""The keypad page of the electrical and the shorts view: values left, pad in the middle, verdict right."""

from __future__ import annotations

from analysis.electrical_acts import acts_to_read
from analysis.electrical_transformer import TransformerReadings, judge_transformer
from analysis.finding_acts import Act, Safe
from logger.desktop.electrical_page import ElectricalPage, chain_in
from logger.desktop.electrical_parts import LINE, acts_by_condition, caution, key, paragraph, tag, typed_words
from logger.desktop.electrical_visit import ON_PAGE
from logger.desktop.letters import text_width
from logger.desktop.scene import Align, Box, Hatch, Path, Rect, Role, Sheet, Target, Text, fitting
from logger.electrical_file import points_of
from logger.electrical_report import ElectricalReport
from logger.electrical_typing import shown_unit

_KEYS = ("7", "8", "9", "4", "5", "6", "1", "2", "3", "open", "0", ".")
_ISOLATE = Act("isolate, prove dead and record it, then enter every branch", Safe.STOPPED)
_BRANCHES = Act("lift each branch at both ends and measure it", Safe.ISOLATED)
_LIFT = judge_transformer(TransformerReadings()).acts
LOADED = {None: "load not said", False: "no load", True: "under load"}


def pad_page(sheet: Sheet, page: ElectricalPage, view: str) -> None:
    """Draw the page on which values are typed."""
    _values(sheet, page, view)
    _pad(sheet, page, view)
    caution(sheet, page.report, Rect(700, 98, 564, 170))
    _verdict(sheet, page, view)
    _keys(sheet, page, view)


def _values(sheet: Sheet, page: ElectricalPage, view: str) -> None:
    entries, chosen = page.entries(view), page.entry(view)
    pages = -(-len(entries) // ON_PAGE)
    at = page.first % pages
    sheet.add(Text(16, 118, "which value?", 18, True))
    sheet.add(Text(284, 118, f"page {at + 1} of {pages}", 16, role=Role.SECOND, align=Align.RIGHT))
    for place, entry in enumerate(entries[at * ON_PAGE :][:ON_PAGE]):
        rect = Rect(16, 130 + 82 * place, 268, 76)
        strong = entry.key == chosen.key
        sheet.add(Box(rect, Role.KEY, Role.TEXT if strong else Role.EDGE, 4 if strong else 2, 5))
        name, _, which = entry.label.partition(", ")
        label = fitting(name, 18, 232, bold=True)
        sheet.add(Text(32, rect.y + 33, label, 18, True, on=Role.KEY))
        told = typed_words(entry.shown) if entry.shown else "not measured"
        told = f"{which}: {told}" if which else told
        sheet.add(Text(32, rect.y + 60, fitting(told, 16, 226), 16, role=Role.SECOND, on=Role.KEY))
        if strong:
            points = ((266, rect.y + 48), (272, rect.y + 56), (266, rect.y + 64))
            sheet.add(Path(points, Role.TEXT, 4))
        sheet.targets.append(Target(rect, f"electrical point {entry.key}"))
    key(sheet, Rect(16, 622, 268, 76), "more values", "", "more")


def _pad(sheet: Sheet, page: ElectricalPage, view: str) -> None:
    entry = page.entry(view)
    sheet.add(Text(300, 118, fitting(entry.label, 18, 372, bold=True), 18, True))
    sheet.add(Box(Rect(300, 130, 372, 90), Role.GROUND, Role.TEXT, 4, 3))
    px = 64 if len(page.digits) < 6 else 44
    sheet.add(Text(320, 197, page.digits, px, True))
    x = 320 + text_width(page.digits, px, bold=True) + 3
    sheet.add(Path(((x, 150), (x, 204)), Role.TEXT, 3))
    if page.digits != "open":
        sheet.add(Text(654, 197, shown_unit(entry.unit), 36, True, align=Align.RIGHT))
    for place, word in enumerate(_KEYS):
        rect = Rect(300 + 127 * (place % 3), 230 + 94 * (place // 3), 119, 88)
        sheet.add(Box(rect, Role.KEY, Role.EDGE, 2, 5))
        if word == "open" and not entry.may_be_open:
            sheet.add(Hatch(Rect(rect.x + 30, rect.y + 30, 59, 28), name="no value"))
            continue
        size, drop = (24, 53) if word == "open" else (38, 58)
        sheet.add(Text(rect.x + 59, rect.y + drop, word, size, True, align=Align.MIDDLE, on=Role.KEY))
        sheet.targets.append(Target(rect, f"electrical key {word}"))
    for rect, word, strong in (
        (Rect(300, 606, 119, 90), "clear", False),
        (Rect(427, 606, 246, 90), "KEEP", True),
    ):
        sheet.add(Box(rect, Role.KEY, Role.TEXT if strong else Role.EDGE, 4 if strong else 2, 5))
        middle, size = rect.x + rect.w / 2, 30 if strong else 24
        sheet.add(Text(middle, rect.y + 56, word, size, True, align=Align.MIDDLE, on=Role.KEY))
        sheet.targets.append(Target(rect, f"electrical key {word.lower()}"))


def _verdict(sheet: Sheet, page: ElectricalPage, view: str) -> None:
    entry = page.entry(view)
    sheet.add(Text(700, 298, "read it", 16, role=Role.SECOND))
    tag(sheet, 766, 298, fitting(entry.condition, 16, 470))
    title = "if kept" if page.digits else "as typed so far"
    sheet.add(Text(700, 332, title, 18, True))
    if page.refused:
        paragraph(sheet, Rect(700, 344, 564, 90), page.refused)
        return
    told, acts = said(page, page.if_kept or page.report, view)
    y = paragraph(sheet, Rect(700, 344, 564, 4.5 * LINE), told)
    acts_by_condition(sheet, acts, Rect(700, y - 4, 564, 600 - y), "evenrun electrical lists them")


def said(page: ElectricalPage, report: ElectricalReport, view: str) -> tuple[str, tuple[Act, ...]]:
    """Say what readings mean and what to do next, for the circuit or the hunt."""
    if view == "shorts":
        if report.hunt is None and report.transformer is None:
            return "nothing is measured yet", (*_LIFT, *_measure(page))
        if report.hunt is None:
            assert report.transformer is not None, "one of them is there"
            return report.transformer.statement, (*report.transformer.acts, *_measure(page))
        return report.hunt.statement, report.hunt.acts
    chain = chain_in(report, page.circuit)
    motor = next((m for m in report.motors if m.name in (page.circuit, page.typed_circuit.kind)), None)
    told = chain.statement if chain is not None else "no volts are read yet"
    acts = chain.acts if chain is not None else acts_to_read(points_of(page.typed_circuit), [], [])
    if motor is not None:
        told, acts = f"{told}; motor: {motor.statement}", (*acts, *motor.acts)
    return told, acts


def _measure(page: ElectricalPage) -> tuple[Act, ...]:
    """Advise to measure the branches, or to isolate first."""
    isolation = page.report.case.isolation
    return (_BRANCHES,) if isolation is not None and isolation.complete else (_ISOLATE,)


def _keys(sheet: Sheet, page: ElectricalPage, view: str) -> None:
    entry, y = page.entry(view), 622.0
    third = "CHAIN" if view == "electrical" else "BRANCHES"
    if view == "electrical":
        key(sheet, Rect(700, y, 182, 76), "read", LOADED[page.loaded], "loaded")
    elif entry.key.startswith("branch "):
        number = int(entry.key.split(" ")[1])
        done = "yes" if page.branches[number - 1].repaired else "no"
        key(sheet, Rect(700, y, 182, 76), "repaired", done, f"repaired {number}")
    else:
        earthed = {None: "not said", True: "yes", False: "no"}[
            page.table.short_hunt.common_earthed if page.table.short_hunt is not None else None
        ]
        key(sheet, Rect(700, y, 182, 76), "C is earthed", earthed, "earth")
    key(sheet, Rect(891, y, 182, 76), "take back", "last value here", f"back {entry.key}")
    key(sheet, Rect(1082, y, 182, 76), third, "show it", "show", strong=True)
