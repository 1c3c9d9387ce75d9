"""The guided page of a one-cup match and of gauge zeroing: what to do, how each stands, when it is even."""

from __future__ import annotations

import math

from analysis.zeroing import ACTS
from logger.desktop.frame_parts import bottom_bar, top_line
from logger.desktop.key_page import Offer, key, offer
from logger.desktop.match_page import MatchPage, Row
from logger.desktop.present import Present
from logger.desktop.scene import Align, Box, Path, Rect, Role, Scene, Sheet, Text, fitting, wrapped
from logger.desktop.shapes import rule, word_slab
from logger.desktop.state_line import StateLine, with_alarm

ROWS_ON_PAGE = 9
_LEFT, _RIGHT = 16.0, 1264.0
_TOP, _PITCH = 218.0, 36.0
_TRACK = Rect(600.0, 0.0, 260.0, 22.0)
_KEYS_Y = 622.0
_BACK = Rect(1064.0, _KEYS_Y, 200.0, 76.0)
STEPS = {
    "cup": ("all probes into one cup of water, stir", "stir on until every probe stands", "take the offsets"),
    "zero": ("gauges off the machine, open to the air", "wait until every zero stands", "take the zeros"),
}


def match_scene(present: Present, page: MatchPage) -> Scene:
    """Draw the page."""
    sheet = Sheet()
    top_line(sheet, present, with_alarm(present, _line(present, page)))
    if not page.live:
        _stored(sheet)
    elif not page.kind:
        _choice(sheet)
    elif page.kind == "zero" and not page.vented:
        _condition(sheet)
    elif page.choosing:
        _which(sheet, page)
    else:
        _steps(sheet, page)
        _rows(sheet, page)
        _told(sheet, page)
        _keys(sheet, page)
    bottom_bar(sheet, present, "devices")
    return sheet.scene("devices", present.preset, present.missing)


def _line(present: Present, page: MatchPage) -> StateLine:
    what = "readings stay as they are"
    if not page.live or not page.kind:
        return StateLine("reading", "OFFSETS", what)
    title = "ONE CUP" if page.kind == "cup" else "ZEROING"
    if page.taken:
        done = "matched" if page.kind == "cup" else "zeroed"
        return StateLine(
            "steady", f"{title}: {done}", f"offsets hold from {page.taken} on; they can be taken back"
        )
    if page.kind == "zero" and not page.vented:
        return StateLine("waiting", title, "never on a circuit under pressure")
    if page.ready:
        return StateLine("steady", f"{title}: {page.word}", what)
    return StateLine("settling", f"{title}: not yet", what)


def _stored(sheet: Sheet) -> None:
    lines = (
        "Probes are matched and gauges zeroed here while a recording runs.",
        "For a stored session: evenrun match SESSION --to the moment until which they stood in the cup.",
    )
    for number, line in enumerate(lines):
        sheet.add(Text(_LEFT, 134 + 28.0 * number, line, 18, bold=number == 0))
    key(sheet, _BACK, Offer("go back", "match back", "to the devices", chosen=True))


def _choice(sheet: Sheet) -> None:
    sheet.add(Text(_LEFT, 122, "what is to be compared?", 20, True))
    cup = Offer("probes in one cup", "match cup", "all thermometers in the same stirred water")
    zero = Offer("gauges to the air", "match zero", f"{ACTS[0].safe.value}: off the machine, port open")
    for number, one in enumerate((cup, zero)):
        key(sheet, Rect(_LEFT + 628.0 * number, 140, 620, 96), one)
    lines = (
        "Take cold tap water and stir: a probe that hangs beside the cup then stands out.",
        "In one cup all probes are at one temperature. What they differ by is theirs, and is taken out;",
        "then a difference such as the water's delta-T is known several times better than each probe alone.",
        "A gauge that is open to the air should read zero. What it reads instead is taken out.",
    )
    for number, line in enumerate(lines):
        sheet.add(Text(_LEFT, 284 + 26.0 * number, line, 18, role=Role.SECOND))
    key(sheet, _BACK, Offer("go back", "match back", "to the devices", chosen=True))


def _condition(sheet: Sheet) -> None:
    """Say the condition of the act before anything else, and ask for it."""
    act = ACTS[0]
    sheet.add(Text(_LEFT, 122, f"1 of 3: {STEPS['zero'][0]}", 20, True))
    tag = act.safe.value
    sheet.add(Box(Rect(_LEFT, 142, 190, 34), edge=Role.EDGE, px=2, radius=17))
    sheet.add(Text(_LEFT + 95, 165, tag, 18, True, align=Align.MIDDLE))
    for number, line in enumerate(wrapped(act.text, 20, 1220)):
        sheet.add(Text(_LEFT, 214 + 30.0 * number, line, 20))
    told = "Refrigerant injures and must not be vented: local codes and licensed practice decide."
    sheet.add(Text(_LEFT, 320, told, 18, role=Role.SECOND))
    key(sheet, Rect(_LEFT, _KEYS_Y, 620, 76), Offer("They are off the machine and open", "match vented",
        "every gauge that is to be zeroed", chosen=True))  # fmt: skip
    key(sheet, _BACK, Offer("go back", "match back", "to the choice"))


def _which(sheet: Sheet, page: MatchPage) -> None:
    """Offer every probe as a key; one that takes part has the strong outline and says so."""
    where = "in the cup" if page.kind == "cup" else "to be zeroed"
    offers = [
        Offer(name, f"match toggle {channel}", where if inside else "left out", chosen=inside)
        for channel, name, inside in page.which
    ]
    what = "probes are in the cup" if page.kind == "cup" else "gauges are open to the air"
    offer(
        sheet, offers, page.page, f"which {what}? touch to leave out or take in", "match chosen", "match page"
    )


def _steps(sheet: Sheet, page: MatchPage) -> None:
    """Draw the three steps, the present one inside the strong outline."""
    for number, text in enumerate(STEPS[page.kind], 1):
        rect = Rect(_LEFT + 418.0 * (number - 1), 98, 412, 64)
        now = number == page.step and not page.taken
        sheet.add(Box(rect, Role.PANEL, Role.TEXT if now else Role.HAIRLINE, 4 if now else 2, 5))
        head = f"{number} of 3"
        done = number < page.step or bool(page.taken)
        sheet.add(Text(rect.x + 16, rect.y + 26, f"{head}, done" if done else head, 18, True, on=Role.PANEL))
        role = Role.TEXT if now else Role.SECOND
        sheet.add(Text(rect.x + 16, rect.y + 50, fitting(text, 18, 384), 18, role=role, on=Role.PANEL))


def _rows(sheet: Sheet, page: MatchPage) -> None:
    cup = page.kind == "cup"
    y = _TOP - 24
    sheet.add(Text(_LEFT, y, "probe" if cup else "gauge", 18, True))
    sheet.add(Text(560, y, "reads" if cup else "open to the air", 18, True, align=Align.RIGHT))
    where = f"off the middle, {page.scale}" if cup else f"off zero, {page.scale}"
    middle = _TRACK.x + _TRACK.w / 2
    sheet.add(Text(middle, y, fitting(where, 16, 300), 16, role=Role.SECOND, align=Align.MIDDLE))
    sheet.add(Text(1104, y, "to be added (k = 2)", 18, True, align=Align.RIGHT))
    pages = max(-(-len(page.rows) // ROWS_ON_PAGE), 1)
    begin = page.page % pages * ROWS_ON_PAGE
    for number, row in enumerate(page.rows[begin : begin + ROWS_ON_PAGE]):
        _row(sheet, row, _TOP + _PITCH * (number + 0.5))
        rule(sheet, _LEFT, _TOP + _PITCH * (number + 1), _RIGHT - _LEFT)


def _row(sheet: Sheet, row: Row, y: float) -> None:
    sheet.add(Text(_LEFT, y + 7, fitting(row.label, 18, 400, bold=True), 18, True))
    sheet.add(Text(560, y + 7, row.reads, 18, True, align=Align.RIGHT))
    _track(sheet, row, y)
    if row.offset:
        sheet.add(Text(1104, y + 7, row.offset, 18, True, align=Align.RIGHT))
    if row.good:
        sheet.add(Text(_RIGHT, y + 7, row.state, 18, role=Role.SECOND, align=Align.RIGHT))
    else:
        word_slab(sheet, _RIGHT, y - 12, row.state, f"match {row.label}")


def _track(sheet: Sheet, row: Row, y: float) -> None:
    """Draw where it lies: an upright block from the value less its scatter to the value and its scatter."""
    middle, half = _TRACK.x + _TRACK.w / 2, _TRACK.w / 2
    sheet.add(Path(((_TRACK.x, y), (_TRACK.right, y)), Role.MARK, 2, name="track"))
    sheet.add(Path(((middle, y - 11), (middle, y + 11)), Role.EDGE, 2, name="track"))
    for x, way in ((_TRACK.x, 1.0), (_TRACK.right, -1.0)):
        points = ((x + 5 * way, y - 9), (x, y - 9), (x, y + 9), (x + 5 * way, y + 9))
        sheet.add(Path(points, Role.EDGE, 2, name="end"))
    if not math.isfinite(row.off):
        return
    at = min(max(row.off, -1.0), 1.0)
    wide = max(2.0 * half * row.spread if math.isfinite(row.spread) else 0.0, 6.0)
    left = max(middle + half * at - wide / 2, _TRACK.x)
    right = min(middle + half * at + wide / 2, _TRACK.right)
    role = Role.TEXT if row.good else Role.OUT
    sheet.add(
        Box(Rect(left, y - 11, max(right - left, 6.0), 22), role, of=f"match {row.label}", name="value block")
    )
    if abs(row.off) > 1.0:
        way = math.copysign(1.0, row.off)
        x = _TRACK.right + 6 if way > 0 else _TRACK.x - 6
        sheet.add(Path(((x, y - 7), (x + 5 * way, y), (x, y + 7)), role, 3, name="beyond"))


def _told(sheet: Sheet, page: MatchPage) -> None:
    """Say what stands against it with the way out, or what is believed after it."""
    lines: list[str] = []
    for sentence in page.told:
        lines += wrapped(sentence[:1].upper() + sentence[1:], 18, _RIGHT - _LEFT)
    for number, line in enumerate(lines[:2]):
        sheet.add(Text(_LEFT, 574 + 26.0 * number, line, 18, bold=not page.ready))


def _keys(sheet: Sheet, page: MatchPage) -> None:
    told = page.takes if page.ready else "not even yet"
    taken = f"taken at {page.taken}" if page.taken else "nothing taken yet"
    inside = sum(one[2] for one in page.which)
    pages = max(-(-len(page.rows) // ROWS_ON_PAGE), 1)
    more = f"page {page.page % pages + 1} of {pages}" if pages > 1 else "all are shown"
    keys = (
        Offer("TAKE", "match take", told, chosen=page.ready),
        Offer("TAKE BACK", "match undo", taken),
        Offer("against", "match reference", page.reference or "the air"),
        Offer("which", "match which", f"{inside} of {len(page.which)} take part"),
        Offer("more", "match page", more),
        Offer("go back", "match back", "to the choice"),
    )
    for number, one in enumerate(keys):
        key(sheet, Rect(_LEFT + 209.6 * number, _KEYS_Y, 200, 76), one)
