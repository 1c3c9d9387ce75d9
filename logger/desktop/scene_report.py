"""The report view: who reads it, which judgements are approved, on which paper; and where the file is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import PurePath
from typing import TYPE_CHECKING

from logger.desktop.frame_parts import bottom_bar, top_line
from logger.desktop.letters import text_width
from logger.desktop.present import Present
from logger.desktop.scene import (
    Align,
    Box,
    Path,
    Rect,
    Role,
    Scene,
    Sheet,
    Target,
    Text,
    fitting,
    wrapped,
)  # fmt: skip
from logger.desktop.shapes import dashed_square, rule
from logger.desktop.state_line import StateLine, with_alarm

if TYPE_CHECKING:  # what makes reports is loaded when one is made
    from logger.reports.making import Reader
    from logger.reports.paper import Paper

_LEFT, _KEY = 16.0, 300.0
_X, _W = 348.0, 916.0
_ROW = 150.0
_READERS = (
    ("owner", "one page in plain words"), ("office", "work, parts, weights"),
    ("technician", "all that was measured"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Judgement:
    """A sentence of judgement as the view shows it."""

    key: str
    question: str
    text: str
    drafted: bool
    approved: bool = False


@dataclass(frozen=True, slots=True)
class ReportPage:
    """Everything that the view is drawn from."""

    reader: Reader = "owner"
    paper: Paper = "a4"
    kind: str = "html"
    sentences: tuple[Judgement, ...] = ()
    facts: tuple[str, ...] = ()
    """What the page rests on."""
    lacking: tuple[str, ...] = ()
    """Why there is not enough for a report."""
    reading: str = ""
    """The sentence that is shown whole."""
    busy: str = ""
    written: str = ""
    """Path of the file that was written last."""
    trouble: str = ""


def report_scene(present: Present, page: ReportPage | None) -> Scene:
    """Draw the report view."""
    sheet = Sheet()
    top_line(sheet, present, with_alarm(present, _line(page)))
    if page is None:
        told = "a report needs a recording: open one with evenrun desktop SESSION"
        sheet.add(Text(16, 150, told, 18, role=Role.SECOND))
    else:
        _keys(sheet, page)
        if page.lacking:
            _list(sheet, "not enough for a report:", page.lacking)
        elif page.reader == "owner":
            _sentences(sheet, page)
        else:
            _list(sheet, "what the page rests on", page.facts)
            told = "no sentence of judgement needs approval: who reads this page can check it"
            sheet.add(Text(_X, 560, told, 16, role=Role.SECOND))
        _outcome(sheet, page)
    bottom_bar(sheet, present, "report")
    return sheet.scene("report", present.preset)


def _line(page: ReportPage | None) -> StateLine:
    if page is None:
        return StateLine("reading", "REPORT: nothing to report", "")
    if page.busy:
        return StateLine("reading", f"REPORT for the {page.reader}", f"{page.busy}, one moment")
    if page.lacking:
        return StateLine("reading", "NOT ENOUGH for a report", "what is missing stands below")
    if page.reader != "owner":
        return StateLine(
            "reading", f"REPORT for the {page.reader}", "numbers, sources and what was not tested"
        )
    approved = sum(one.approved for one in page.sentences)
    told = f"{approved} of {len(page.sentences)} judgements approved; the others are not printed"
    if not page.sentences:
        told = "no judgement is stated or drafted; the page says what was measured"
    return StateLine("reading", "REPORT for the owner", told)


def _keys(sheet: Sheet, page: ReportPage) -> None:
    sheet.add(Text(_LEFT, 122, "who reads it", 18, True))
    for number, (reader, told) in enumerate(_READERS):
        rect = Rect(_LEFT, 134 + 82.0 * number, _KEY, 76)
        _key(sheet, rect, reader, told, f"report reader {reader}", chosen=page.reader == reader)
    sheet.add(Text(_LEFT, 402, "paper and file", 18, True))
    half = (_KEY - 8) / 2
    choices = (
        ("A4", "210 x 297 mm", "paper a4", page.paper == "a4"),
        ("letter", "8.5 x 11 in", "paper letter", page.paper == "letter"),
        ("HTML", "opens anywhere", "file html", page.kind == "html"),
        ("PDF", "prints as it is", "file pdf", page.kind == "pdf"),
    )
    for number, (word, told, act, chosen) in enumerate(choices):
        row, column = divmod(number, 2)
        rect = Rect(_LEFT + (half + 8) * column, 414 + 82.0 * row, half, 76)
        _key(sheet, rect, word, told, f"report {act}", chosen=chosen)
    if not page.lacking and not page.busy:
        rect = Rect(_LEFT, 600, _KEY, 88)
        _key(sheet, rect, "WRITE IT", "a new file, none is replaced", "report write", chosen=True)


def _key(sheet: Sheet, rect: Rect, word: str, told: str, act: str, *, chosen: bool) -> None:
    """Draw a key; a chosen one has the strong outline."""
    sheet.add(Box(rect, Role.KEY, Role.TEXT if chosen else Role.EDGE, 4 if chosen else 2, 5))
    middle, y = rect.x + rect.w / 2, rect.y + rect.h / 2
    sheet.add(Text(middle, y - 2, word, 22, True, align=Align.MIDDLE, on=Role.KEY))
    told = fitting(told, 16, rect.w - 12)
    sheet.add(Text(middle, y + 24, told, 16, role=Role.SECOND, align=Align.MIDDLE, on=Role.KEY))
    sheet.targets.append(Target(rect, act))


def _sentences(sheet: Sheet, page: ReportPage) -> None:
    sheet.add(Text(_X, 122, "judgements: printed only as you approve them", 18, True))
    if not page.sentences:
        words = "no record of a visit states one, and the readings support none" if not page.busy else ""
        sheet.add(Text(_X, 160, words, 16, role=Role.SECOND))
        return
    shown = [one for one in page.sentences if one.key == page.reading] or list(page.sentences)
    height = _ROW if len(shown) > 1 or not page.reading else 3 * _ROW
    for number, one in enumerate(shown):
        _sentence(sheet, one, 134 + (_ROW + 4) * number, height, whole=bool(page.reading))


def _sentence(sheet: Sheet, one: Judgement, y: float, height: float, *, whole: bool) -> None:
    sheet.add(Box(Rect(_X, y, _W, height), Role.PANEL))
    sheet.add(Text(_X + 16, y + 28, one.question, 20, True, on=Role.PANEL))
    origin = "drafted by evenrun" if one.drafted else "from the record of the visit"
    sheet.add(Text(_X + 250, y + 28, origin, 16, role=Role.SECOND, on=Role.PANEL))
    room = _W - 240.0
    most = int((height - 50) // 23)
    lines = wrapped(one.text, 18, room)
    cut = len(lines) > most
    for number, line in enumerate(lines[:most]):
        if cut and number == most - 1:
            break
        sheet.add(Text(_X + 16, y + 58 + 23.0 * number, line, 18, on=Role.PANEL))
    rect = Rect(_X + _W - 200, y + 10, 188, 80)
    if cut and not whole:
        told = "touch to read it whole; then it can be approved"
        sheet.add(Text(_X + 16, y + 58 + 23.0 * (most - 1), told, 16, role=Role.SECOND, on=Role.PANEL))
        _key(sheet, rect, "read", "the whole text", f"report read {one.key}", chosen=False)
    elif one.approved:
        _key(sheet, rect, "approved", "touch to take back", f"report approve {one.key}", chosen=True)
    else:
        _key(sheet, rect, "approve", "as it stands", f"report approve {one.key}", chosen=False)
    if whole:
        _key(sheet, Rect(rect.x, y + 100, 188, 80), "back", "to all of them", "report read", chosen=False)
        return
    x = rect.x
    words = "will be printed" if one.approved else "is not printed"
    if one.approved:
        sheet.add(Path(((x, y + 116), (x + 7, y + 124), (x + 20, y + 106)), Role.TEXT, 4, name="sign"))
    else:
        dashed_square(sheet, x + 1, y + 107, 16, Role.TEXT)
    sheet.add(Text(x + 30, y + 121, words, 16, one.approved, on=Role.PANEL))


def _list(sheet: Sheet, heading: str, lines: Sequence[str]) -> None:
    sheet.add(Text(_X, 122, heading, 18, True))
    y = 156.0
    for line in lines:
        for part in wrapped(line, 16, _W, lines=3):
            if y > 540:
                return
            sheet.add(Text(_X, y, part, 16))
            y += 22
        rule(sheet, _X, y - 8, _W)
        y += 16


def _outcome(sheet: Sheet, page: ReportPage) -> None:
    """Say where the file is, or why there is none."""
    if page.trouble:
        sheet.add(Text(_X, 622, "NOT WRITTEN", 18, True))
        for number, line in enumerate(wrapped(page.trouble, 16, _W, lines=3)):
            sheet.add(Text(_X, 646 + 20.0 * number, line, 16))
    elif page.written:
        path = PurePath(page.written)
        sheet.add(Text(_X, 630, fitting(f"written: {path.name}", 20, _W, bold=True), 20, True))
        sheet.add(Text(_X, 656, _tail(f"in {path.parent}", 16, _W), 16, role=Role.SECOND))
        told = (
            "open it with a browser, or print it from there" if path.suffix == ".html" else "print or send it"
        )
        sheet.add(Text(_X, 680, told, 16, role=Role.SECOND))
    elif page.busy:
        sheet.add(Text(_X, 630, page.busy, 18, True))


def _tail(text: str, px: float, width: float) -> str:
    """Shorten a path at its beginning, where it is too wide: its end says where to look."""
    if text_width(text, px) <= width:
        return text
    while text and text_width("…" + text, px) > width:
        text = text[1:]
    return "…" + text
