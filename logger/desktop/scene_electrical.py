"""The electrical view: one circuit point by point, where its volts are first lost, and what to read next."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.electrical import ChainPoint, VoltReading
from analysis.electrical_chain import ChainVerdict, Kind, Loss, Outcome
from logger.desktop.electrical_line import ROWS_Y, draw_line
from logger.desktop.electrical_motor import draw_motor
from logger.desktop.electrical_pad import pad_page, said
from logger.desktop.electrical_page import ElectricalPage
from logger.desktop.electrical_parts import (
    LINE,
    acts_by_condition,
    caution,
    circle,
    flag,
    key,
    missing,
    paragraph,
    right_words,
    volts_words,
)
from logger.desktop.frame_parts import bottom_bar, top_line
from logger.desktop.letters import text_width
from logger.desktop.present import Present
from logger.desktop.scene import Align, Path, Rect, Role, Scene, Sheet, Target, Text, fitting, wrapped
from logger.desktop.shapes import dashed_square, rule
from logger.desktop.state_line import StateLine
from logger.electrical_file import points_of

MOST_IN_ROW = 9
LEAST_TOUCH = 76.0
_CALL = {None: "not said", True: "calls", False: "does not call"}
_RUNS = {None: "not said", True: "turns", False: "stands"}
_LOSS_WORDS = {
    Kind.RESISTANCE: "PART LOST",
    Kind.LOW: "TOO FEW",
    Kind.TAP: "WRONG TAP",
}


def electrical_scene(present: Present, page: ElectricalPage | None) -> Scene:
    """Draw the electrical view."""
    sheet = Sheet()
    if page is None:
        top_line(sheet, present, StateLine("reading", "NO ELECTRICAL READINGS", "nothing is typed"))
        bottom_bar(sheet, present, "electrical")
        return sheet.scene("electrical", present.preset)
    top_line(sheet, present, _state(page), right_words(present, page))
    if page.part == "typing":
        pad_page(sheet, page, "electrical")
    else:
        caution(sheet, page.report, Rect(16, 96, 1248, 76))
        _heading(sheet, page)
        _circuit(sheet, page)
        _verdict(sheet, page)
        _keys(sheet, page)
    bottom_bar(sheet, present, "electrical")
    return sheet.scene("electrical", present.preset)


def _state(page: ElectricalPage) -> StateLine:
    chain = page.chain
    name = page.circuit
    if chain is None:
        return StateLine(
            "waiting", "NO VOLTS READ yet", f"{name} circuit: nothing is judged that is not read"
        )
    how = "read under load" if chain.loaded else "read at no load, or the load is not said"
    reason = f"{name} circuit, {how}"
    last = next((p.shown for p in reversed(chain.points) if p.name in {r.point for r in chain.readings}), "")
    if chain.loss is not None and chain.loss.kind is Kind.NO_CALL:
        return StateLine("reading", "NO CALL: no fault so far", reason)
    if chain.loss is not None:
        return StateLine("reading", _loss_title(chain, chain.loss), reason)
    motor = page.motor
    if chain.outcome is Outcome.WHOLE and motor is not None and motor.supported:
        return StateLine("reading", f"NO LOSS; motor: {', '.join(motor.supported)}", reason)
    words = {
        Outcome.CHECK: "CHECK the readings: no loss is named",
        Outcome.WEAK: "WEAK: too few volts, no single loss",
        Outcome.HIGH: "TOO MANY VOLTS",
        Outcome.WHOLE: f"NO LOSS as far as {last}" if last else "NO LOSS in what is read",
    }.get(chain.outcome, chain.outcome.value.upper())
    return StateLine("reading", words, reason)


def _loss_title(chain: ChainVerdict, loss: Loss) -> str:
    head = "FIRST LOSS" if loss.kind is Kind.OPEN else "VOLTS LOST"
    if loss.named:
        inside = "in " if loss.named == "the unit's own control" else "at "
        return f"{head} {inside}{loss.named}"
    place = next(point.shown for point in chain.points if point.name == loss.at)
    if loss.after:
        after = next(point.shown for point in chain.points if point.name == loss.after)
        between = f"{head} between {after} and {place}"
        if text_width(between, 32, bold=True) <= 860:
            return between
    return f"{head} before {place}"


def _heading(sheet: Sheet, page: ElectricalPage) -> None:
    words = fitting(f"{page.circuit.capitalize()} circuit", 18, 400, bold=True)
    sheet.add(Text(16, 200, words, 18, True))
    x = 16 + text_width(words, 18, bold=True) + 24
    told = page.report.case.limits.text().replace("; ", " · ")
    sheet.add(Text(x, 200, fitting(told, 16, 1264 - x), 16, role=Role.SECOND))


def _rows(points: Sequence[ChainPoint]) -> list[list[ChainPoint]]:
    """Break a circuit into at most two rows: line side and control side, or halves of a long one."""
    sides = [[p for p in points if p.side == side] for side in ("line", "control")]
    rows = [side for side in sides if side]
    mixed = [p.side for p in points] != [p.side for row in rows for p in row]
    if mixed or (len(rows) == 1 and len(points) > MOST_IN_ROW):
        half = -(-len(points) // 2)
        return [list(points[:half]), list(points[half:])]
    return rows


def _circuit(sheet: Sheet, page: ElectricalPage) -> None:
    points = points_of(page.typed_circuit)
    chain = page.chain
    rows = _rows(points)
    lost_at, last_good = _where(points, chain)
    lost_name = points[lost_at].name if lost_at >= 0 else ""
    shown = {reading.point: reading for reading in chain.readings} if chain is not None else {}
    other = {
        reading.point
        for circuit in page.report.case.circuits
        if circuit.name == page.circuit
        for reading in circuit.readings
    }
    at = 0
    for y, row in zip(ROWS_Y, rows, strict=False):
        step = min(1248.0 / len(row), 190.0)
        lines = max(len(wrapped(point.shown, 16, step - 8, bold=True, lines=2)) for point in row)
        for place, point in enumerate(row):
            rect = Rect(16 + step * place, y, step, 54 + 18 * lines)
            unread = "other load" if point.name in other else "not measured"
            _point(sheet, point, shown.get(point.name) or unread, rect, at, lost_at)
            at += 1
        draw_line(
            sheet, row, y + 18, step, at - len(row), lost_at, lost_name, last_good, joined=at < len(points)
        )
    _expected(sheet, page, rows)
    if len(rows) == 1 and page.typed_circuit.kind in ("compressor", "pump", "fan"):
        draw_motor(sheet, page)


def _expected(sheet: Sheet, page: ElectricalPage, rows: Sequence[Sequence[ChainPoint]]) -> None:
    """Say which volts a sound circuit has, where the rows leave room for it."""
    limits = page.report.case.limits
    for row, y, words in ((rows[0], 282.0, "expected"), (rows[-1], 334.0, "expected below")):
        side = row[0].side
        if any(point.side != side for point in row) or (side == "line") is (y > 300.0):
            continue
        told = f"{limits.pull_in:g} V or more"
        if side == "line":
            told = f"{limits.supply_low:g} to {limits.supply_high:g} V" if limits.supply_known else ""
        if told and 16 + len(rows[0]) * min(1248.0 / len(rows[0]), 190.0) <= 1000.0:
            sheet.add(Text(1264, y, f"{words}: {told}", 16, role=Role.SECOND, align=Align.RIGHT))


def _where(points: Sequence[ChainPoint], chain: ChainVerdict | None) -> tuple[int, int]:
    """Give the place of the first loss, and of the last point known to have its volts; -1 where none is."""
    if chain is None:
        return -1, -1
    names = [point.name for point in points]
    read = [names.index(reading.point) for reading in chain.readings if reading.point in names]
    if chain.outcome is Outcome.CHECK:
        return -1, -1
    if chain.loss is None:
        return -1, max(read, default=-1)
    lost = names.index(chain.loss.at)
    last_good = max((place for place in read if place < lost), default=-1)
    # Without a call the control rightly gives nothing: no fault, so nothing is coloured.
    return (-1 if chain.loss.kind is Kind.NO_CALL else lost), last_good


def _point(
    sheet: Sheet, point: ChainPoint, reading: VoltReading | str, rect: Rect, at: int, lost_at: int
) -> None:
    x, y = rect.x + rect.w / 2, rect.y
    symbol = f"volts {point.name}"
    lost = at == lost_at
    if isinstance(reading, str):
        dashed_square(sheet, x - 9, y + 9, 18, Role.EDGE)
    else:
        role = Role.OUT if lost else Role.TEXT
        words = volts_words(reading.volts)
        px = 24 if text_width(words, 24, bold=True) <= rect.w - 6 else 18
        words = fitting(words, px, rect.w - 4, bold=True)
        sheet.add(Text(x, y, words, px, True, role, Align.MIDDLE, of=symbol))
        circle(
            sheet,
            x,
            y + 18,
            9,
            role,
            filled=reading.volts >= 5.0 and not 0 <= lost_at <= at,
            symbol=symbol if lost else "",
        )
    lines = wrapped(point.shown, 16, rect.w - 8, bold=lost, lines=2)
    for place, line in enumerate(lines):
        sheet.add(Text(x, y + 50 + 18 * place, line, 16, lost, align=Align.MIDDLE))
    told = reading if isinstance(reading, str) else _when(reading)
    told = fitting(told, 16, rect.w - 6)
    sheet.add(Text(x, y + rect.h, told, 16, role=Role.SECOND, align=Align.MIDDLE))
    if rect.w >= LEAST_TOUCH:
        sheet.targets.append(Target(Rect(rect.x, y - 26, rect.w, 122), f"electrical point {symbol}"))


def _when(reading: VoltReading) -> str:
    if reading.live:
        return "session"
    return " ".join(text for text in (reading.time, reading.who) if text) or "typed"


def _slab(sheet: Sheet, page: ElectricalPage) -> None:
    """Say over the first point without its volts that they are lost before it."""
    chain = page.chain
    if chain is None or chain.loss is None or chain.outcome is Outcome.CHECK:
        return
    if chain.loss.kind is Kind.NO_CALL:
        return
    points = points_of(page.typed_circuit)
    for y, row in zip(ROWS_Y, _rows(points), strict=False):
        step = min(1248.0 / len(row), 190.0)
        for place, point in enumerate(row):
            if point.name == chain.loss.at:
                word = _LOSS_WORDS.get(chain.loss.kind, "FIRST LOSS")
                flag(sheet, 16 + step * (place + 0.5), y - 47, word, f"volts {point.name}")


def _verdict(sheet: Sheet, page: ElectricalPage) -> None:
    _slab(sheet, page)
    chain = page.chain
    rule(sheet, 16, 506, 1248)
    told, acts = said(page, page.report, "electrical")
    lacking = chain.missing if chain is not None else ("every point of this circuit",)
    y = paragraph(sheet, Rect(16, 510, 484, 4.5 * LINE), told[:1].upper() + told[1:], bold=True)
    if chain is not None and chain.cleared:
        room = 618.0 - (y - 16) - (LINE if lacking else 0.0)
        if room >= LINE - 4:
            y = paragraph(sheet, Rect(16, y - 16, 484, room), f"cleared: {', '.join(chain.cleared)}")
    if y <= 618:
        missing(sheet, Rect(16, y - 16, 484, 618 - (y - 16)), lacking)
    sheet.add(Path(((512, 514), (512, 616)), Role.HAIRLINE, 2, name="rule"))
    acts_by_condition(sheet, acts, Rect(526, 510, 738, 110))


def _keys(sheet: Sheet, page: ElectricalPage) -> None:
    circuit, y = page.typed_circuit, 626.0
    key(sheet, Rect(16, y, 306, 76), "ENTER VOLTS", "or touch a point above", "enter", strong=True)
    key(sheet, Rect(330, y, 306, 76), f"{page.circuit} circuit", "touch for the next one", "circuit")
    plate = page.table.limits.plate
    if not plate and page.table.limits.supply:
        plate = f"{page.table.limits.supply} by {page.table.limits.source}"
    key(sheet, Rect(644, y, 306, 76), "plate voltage", plate or "not known: touch to choose", "supply")
    if circuit.kind in ("compressor", "pump", "fan"):
        motor = next((m for m in page.table.motor if m.name in (circuit.name, circuit.kind)), None)
        key(sheet, Rect(958, y, 306, 76), "the motor", _RUNS[motor.runs if motor else None], "runs")
    else:
        key(sheet, Rect(958, y, 306, 76), "the thermostat", _CALL[circuit.call], "call")
