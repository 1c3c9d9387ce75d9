"""The shorts view: the transformer on the left, every branch between R and C in ohms on the right."""

from __future__ import annotations

import math

from analysis.electrical_branches import COIL_OHM, LIVE_V, OPEN_OHM, BranchState, BranchVerdict
from logger.desktop.electrical_calls import calls_page
from logger.desktop.electrical_isolation import isolation_page
from logger.desktop.electrical_pad import pad_page, said
from logger.desktop.electrical_page import ElectricalPage
from logger.desktop.electrical_parts import (
    LINE,
    acts_by_condition,
    caution,
    circle,
    flag,
    key,
    ohms_words,
    paragraph,
    right_words,
    tag,
)
from logger.desktop.electrical_transformer import draw_transformer, transformer_words
from logger.desktop.electrical_visit import BRANCHES_ON_PAGE
from logger.desktop.frame_parts import bottom_bar, top_line
from logger.desktop.present import Present
from logger.desktop.scene import Align, Box, Path, Rect, Role, Scene, Sheet, Target, Text, fitting, wrapped
from logger.desktop.state_line import StateLine

PITCH, TOP = 78.0, 216.0
R_X, C_X = 440.0, 976.0
TO_C, TO_EARTH = 1052.0, 1190.0
_SLABS = {
    BranchState.EARTHED: "EARTHED", BranchState.SHORTED: "SHORTED", BranchState.LOW: "FEW OHMS",
    BranchState.OPEN_COIL: "COIL OPEN", BranchState.REFUSED: "REFUSED",
}  # fmt: skip
_EARTHED = {
    None: "is C bonded to earth? not said",
    True: "C is bonded to earth",
    False: "C is not bonded to earth",
}
_CLEAR = (BranchState.CLEAR, BranchState.OPEN_COIL)


def shorts_scene(present: Present, page: ElectricalPage | None) -> Scene:
    """Draw the shorts view."""
    sheet = Sheet()
    if page is None:
        top_line(sheet, present, StateLine("reading", "NO SHORT HUNT", "nothing is typed"))
        bottom_bar(sheet, present, "shorts")
        return sheet.scene("shorts", present.preset)
    top_line(sheet, present, _state(page), right_words(present, page))
    if page.part == "typing":
        pad_page(sheet, page, "shorts")
    elif page.part == "isolation":
        isolation_page(sheet, page)
    elif page.part == "calls":
        calls_page(sheet, page)
    else:
        caution(sheet, page.report, Rect(16, 96, 1248, 76))
        draw_transformer(sheet, page)
        _left(sheet, page)
        sheet.add(Path(((420, 184), (420, 616)), Role.HAIRLINE, 2, name="rule"))
        _branches(sheet, page)
        _keys(sheet, page)
    bottom_bar(sheet, present, "shorts")
    return sheet.scene("shorts", present.preset)


def _state(page: ElectricalPage) -> StateLine:
    found, isolation = page.report.hunt, page.report.case.isolation
    if isolation is None:
        reason = "not isolated: everything counts as live"
    elif isolation.complete:
        reason = f"isolated and proven dead {isolation.when} by {isolation.who}"
    else:
        reason = f"not proven dead: lacking {isolation.lacks()[0]}"
    leads = page.table.short_hunt.meter_leads if page.table.short_hunt is not None else ""
    if leads:
        reason = f"{reason}; meter leads {leads.replace('ohm', 'Ω')} taken off"
    if found is None:
        read = page.report.transformer is not None
        words = "SHORT HUNT, branches not measured" if read else "SHORT HUNT: nothing measured"
        return StateLine("waiting", words, reason)
    if found.questions:
        return StateLine("waiting", "CHECK: volts on a branch", reason)
    first = next((verdict for verdict in found.branches if verdict.at_fault), None)
    left = found.wanted - found.entered
    if left:
        words = f"SHORT HUNT, {left} value{'' if left == 1 else 's'} to enter"
        return StateLine("waiting", words, reason)
    if first is not None:
        named = next((v for v in found.branches if v.look_here_first), first)
        return StateLine("reading", f"{named.state.value.upper()}: {named.branch.name}", reason)
    if found.repair.startswith("proven"):
        return StateLine("reading", "REPAIR PROVEN", reason)
    if found.repair.startswith("not repaired"):
        return StateLine("reading", "NOT REPAIRED: too few volts R to C", reason)
    if any(verdict.branch.repaired for verdict in found.branches):
        return StateLine("reading", "REPAIRED, not yet proven", reason)
    return StateLine("reading", "NO BRANCH IS SHORT at rest", reason)


def _left(sheet: Sheet, page: ElectricalPage) -> None:
    """Say what the transformer's volts mean, what is held back, and what to do next."""
    verdict, found = page.report.transformer, page.report.hunt
    told = transformer_words(verdict)
    y = paragraph(sheet, Rect(16, 386, 392, 4 * LINE), told, bold=verdict is not None) - 8
    held = found.held_back if found is not None else ("new fuse", "new transformer")
    if held:
        release = found.release if found is not None else ("every branch is entered",)
        entered = f"{found.entered} of {found.wanted}" if found is not None else "no"
        words, told = "held back: new fuse, new transformer", f"until {'; '.join(release)}"
        told = f"{entered} values entered; {told}"
    else:
        assert found is not None, "without a hunt they are held back"
        words, told = "new parts are no longer held back", f"repair {found.repair}"
    lines = wrapped(told, 16, 364, lines=4)
    box = Rect(16, y, 392, 40 + LINE * len(lines))
    sheet.add(Box(box, edge=Role.EDGE, px=2, dashed=bool(held), name="held back"))
    sheet.add(Text(box.x + 14, y + 24, words, 16, True))
    paragraph(sheet, Rect(box.x + 14, y + 31, 364, LINE * len(lines)), told, role=Role.SECOND)
    _suspects(sheet, page, Rect(16, box.bottom + 8, 392, 618 - box.bottom - 8))


def _suspects(sheet: Sheet, page: ElectricalPage, room: Rect) -> None:
    """Say what is left of the branches, and what the calls that were tried say."""
    found, calls = page.report.hunt, page.report.elimination
    if found is None:
        return
    cleared = [v.branch.name for v in found.branches if v.state in _CLEAR or v.branch.repaired]
    left = [v.branch.name for v in found.branches if v.branch.name not in cleared]
    told = []
    if left:
        told.append(f"still suspect: {', '.join(left)}")
    if cleared:
        told.append(f"not short: {', '.join(cleared)}")
    if calls is not None and all(call.branches for call in page.report.case.calls):
        told.insert(0, f"calls tried: {calls.statement}")
    y = room.y
    for place, words in enumerate(told):
        if room.bottom - y < LINE - 4:
            return
        height = max(min(2 * LINE, room.bottom - y), LINE)
        y = paragraph(sheet, Rect(room.x, y, room.w, height), words, bold=place == 0) - 12


def _branches(sheet: Sheet, page: ElectricalPage) -> None:
    typed = page.branches
    found = page.report.hunt
    pages = max(-(-len(typed) // BRANCHES_ON_PAGE), 1)
    first = page.branches_first % pages * BRANCHES_ON_PAGE
    here = typed[first:][:BRANCHES_ON_PAGE]
    sheet.add(Text(440, 200, "Branches, all in parallel", 18, True))
    tag(sheet, 690, 200, "isolated and proven dead")
    if pages > 1:
        sheet.add(Text(914, 200, f"{first // BRANCHES_ON_PAGE + 1}/{pages}", 16, role=Role.SECOND))
    for x, words in ((TO_C, "to C"), (TO_EARTH, "to earth")):
        sheet.add(Text(x, 200, words, 16, True, align=Align.MIDDLE))
    bottom = TOP + PITCH * len(here) - 22
    for x, words in ((R_X, "R"), (C_X, "C")):
        sheet.add(Path(((x, TOP + 14), (x, bottom)), Role.TEXT, 5, name="rail"))
        sheet.add(Text(x, 200 if words == "C" else TOP + 8, words, 16, True, align=Align.MIDDLE))
    sheet.add(Text(R_X, 610, legend(), 16, role=Role.SECOND))
    earthed = page.table.short_hunt.common_earthed if page.table.short_hunt is not None else None
    sheet.add(Text(C_X + 26, 610, _EARTHED[earthed], 16, role=Role.SECOND))
    if earthed:
        _earth(sheet, C_X, bottom, Role.TEXT)
    for place, branch in enumerate(here):
        verdict = found.branches[first + place] if found is not None else None
        switch = branch.load == "switch"
        _branch(sheet, verdict, branch.name, switch, TOP + PITCH * place + 26, first + place + 1, branch.time)


def _branch(
    sheet: Sheet, verdict: BranchVerdict | None, name: str, switch: bool, y: float, number: int, time: str
) -> None:
    fault = verdict is not None and (verdict.at_fault or verdict.state in _SLABS)
    repaired = verdict is not None and verdict.branch.repaired
    refused = verdict is not None and verdict.state is BranchState.REFUSED
    flagged, fault = fault and not repaired, fault and not repaired and not refused
    symbol = f"branch {number}"
    role, px = (Role.OUT, 5.0) if fault else (Role.TEXT, 3.0)
    of = symbol if fault else ""
    begin, middle, end = R_X + 20, 760.0, C_X - 20
    for x1, x2 in ((R_X, begin - 6), (end + 6, C_X)):
        sheet.add(Path(((x1, y), (x2, y)), Role.TEXT, 3, name="wire"))
    for x in (begin, end):
        circle(sheet, x, y, 6, role, filled=False, symbol=of)
    wide = 34.0 if switch else 42.0
    for x1, x2 in ((begin + 6, middle - wide), (middle + wide, end - 6)):
        sheet.add(Path(((x1, y), (x2, y)), role, px, of=of, name="branch"))
    if switch:
        tip = (middle + wide - 6, y - 18)
        sheet.add(Path(((middle - wide, y), tip), role, 3, of=of, name="switch"))
    else:
        sheet.add(Box(Rect(middle - wide, y - 13, 2 * wide, 26), Role.GROUND, role, 3, of=of, name="coil"))
    sheet.add(Text(begin + 14, y - 12, fitting(name, 16, 230, bold=True), 16, True))
    told = "repaired" if repaired else time or ("lift it at both ends" if verdict is None else "")
    sheet.add(Text(begin + 14, y + 24, fitting(told, 16, 230), 16, role=Role.SECOND))
    for x, side, value in (
        (TO_C, "to_common", verdict.branch.to_common if verdict is not None else math.nan),
        (TO_EARTH, "to_earth", verdict.branch.to_earth if verdict is not None else math.nan),
    ):
        _cell(sheet, x, y, value, symbol, side, bad=fault and _bad(verdict, side))
    if flagged and verdict is not None:
        if verdict.state is BranchState.EARTHED:
            _earth(sheet, middle - 90, y, Role.OUT)
        word = _SLABS.get(verdict.state, "CHECK")
        flag(sheet, 1190 if verdict.state is BranchState.EARTHED else 1052, y + 12, word, symbol)
        if verdict.look_here_first:
            x = TO_C if verdict.state is BranchState.EARTHED else TO_EARTH
            sheet.add(Text(x, y + 30, "look here first", 16, True, align=Align.MIDDLE))
        elif verdict.state is BranchState.REFUSED:
            why = f"{verdict.branch.volts:g} V on it" if verdict.branch.volts > LIVE_V else "not proven dead"
            sheet.add(Text(TO_EARTH, y + 30, why, 16, True, align=Align.MIDDLE))


def _bad(verdict: BranchVerdict | None, side: str) -> bool:
    if verdict is None:
        return False
    wanted = "to_earth" if verdict.state is BranchState.EARTHED else "to_common"
    return side == wanted or (verdict.state is BranchState.EARTHED and verdict.branch.to_common < 10.0)


def _cell(sheet: Sheet, x: float, y: float, ohm: float, symbol: str, side: str, *, bad: bool) -> None:
    if math.isnan(ohm):
        sheet.add(Box(Rect(x - 44, y - 18, 88, 30), edge=Role.EDGE, px=2, dashed=True, name="missing"))
        sheet.add(Text(x, y + 3, "enter", 16, True, align=Align.MIDDLE))
    else:
        role = Role.OUT if bad else Role.TEXT
        words = "open" if ohm > OPEN_OHM else ohms_words(ohm)
        sheet.add(Text(x, y + 4, words, 22, bad or words != "open", role, Align.MIDDLE, of=symbol))
    sheet.targets.append(Target(Rect(x - 68, y - 38, 136, 77), f"electrical point {symbol} {side}"))


def _earth(sheet: Sheet, x: float, y: float, role: Role) -> None:
    sheet.add(Path(((x, y), (x, y + 14)), role, 3, name="earth"))
    for place, half in enumerate((15.0, 10.0, 5.0)):
        level = y + 14 + 6 * place
        sheet.add(Path(((x - half, level), (x + half, level)), role, 3, name="earth"))


def _keys(sheet: Sheet, page: ElectricalPage) -> None:
    y = 626.0
    key(sheet, Rect(16, y, 128, 76), "ENTER", "a value", "enter", strong=True)
    isolation = page.report.case.isolation
    told = "not entered" if isolation is None else "complete" if isolation.complete else "not complete"
    key(sheet, Rect(152, y, 138, 76), "isolation", told, "isolation")
    tried = len(page.report.case.calls)
    key(sheet, Rect(298, y, 126, 76), "fuse tries", f"{tried} call{'' if tried == 1 else 's'}", "calls")
    x = 428.0
    if len(page.branches) > BRANCHES_ON_PAGE:
        key(sheet, Rect(432, y, 118, 76), "more", "branches", "branches")
        x = 554.0
    _told, acts = said(page, page.report, "shorts")
    acts_by_condition(sheet, acts, Rect(x + 8, y, 1256 - x, 74))


def legend() -> str:
    """Say the limits that the ohms are held against, with their source."""
    return f"coil {COIL_OHM[0]:g} to {COIL_OHM[1]:g} Ω · open: above 2 MΩ · common practice"
