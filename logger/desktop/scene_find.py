"""The devices view before a recording: take what is around, say refrigerant and mode, and record."""

from __future__ import annotations

from logger.desktop.find_page import FindPage, Row
from logger.desktop.frame_parts import bottom_bar, top_line
from logger.desktop.key_page import Offer, key, offer
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
from logger.desktop.shapes import word_slab
from logger.desktop.state_line import StateLine

ROWS = 5
"""Devices on one page."""
KEYS = 7
"""Refrigerants that have a key of their own."""
_LEFT, _WIDE, _RIGHT, _FULL = 16.0, 620.0, 660.0, 604.0
_TOP, _PITCH, _TALL, _FOOT = 130.0, 84.0, 76.0, 618.0


def find_scene(present: Present, page: FindPage) -> Scene:
    """Draw it."""
    sheet = Sheet()
    top_line(sheet, present, _line(page), ("NEW VISIT", "nothing is recorded yet"))
    if page.question:
        offer(sheet, page.offers, page.page, page.question, "visit back", "visit turn")
    else:
        _around(sheet, page)
        _declared(sheet, page)
        _others(sheet, page)
    bottom_bar(sheet, present, "devices")
    return sheet.scene("devices", present.preset)


def _line(page: FindPage) -> StateLine:
    if page.busy:
        return StateLine("waiting", page.busy, "everything is kept")
    if page.waiting:
        name, _, why = page.waiting.partition(": ")
        return StateLine("waiting", f"WAITING for {name}", why)
    if page.taken:
        left_out = [
            *([] if page.refrigerant else ["which refrigerant is in it"]),
            *([] if page.mode else ["what is called for"]),
        ]
        told = f"not said yet: {' and '.join(left_out)}" if left_out else "START RECORDING begins the session"
        return StateLine("reading", "READY to record", told)
    if page.rows:
        count = len(page.rows)
        return StateLine(
            "waiting", f"FOUND {count} device{'s' if count > 1 else ''}", "touch what belongs to this visit"
        )
    if page.still_looking:
        return StateLine("waiting", "LOOKING for devices", "nothing is sent to a device that is not known")
    return StateLine(
        "waiting", "NO DEVICE found", "is it switched on, near, and not linked to another program?"
    )


def _around(sheet: Sheet, page: FindPage) -> None:
    """Draw the devices; each keeps its place however many come."""
    sheet.add(Text(_LEFT, 117, "devices around", 18, True))
    sheet.add(Text(_LEFT + _WIDE, 117, page.looking, 16, role=Role.SECOND, align=Align.RIGHT))
    pages = max(-(-len(page.rows) // ROWS), 1)
    at = page.page % pages
    for number, row in enumerate(page.rows[at * ROWS : (at + 1) * ROWS]):
        _device(sheet, Rect(_LEFT, _TOP + _PITCH * number, _WIDE, _TALL), row)
    if not page.rows:
        told = (
            "A wired instrument: plug it in, then look again.",
            "A Bluetooth probe: switch it on, and end its link to any other device.",
            "An instrument on the network is named in a set-up:",
            "evenrun desktop --setup SETUP.toml",
        )
        for number, line in enumerate(told):
            sheet.add(Text(_LEFT, 154 + 26.0 * number, line, 16, role=Role.SECOND))
    lines = [line for told in page.troubles for line in wrapped(told, 16, _WIDE, lines=2)]
    for number, line in enumerate(lines[:3]):
        shown = fitting(f"{line} …", 16, _WIDE) if number == 2 and len(lines) > 3 else line
        sheet.add(Text(_LEFT, 565 + 20.0 * number, shown, 16, role=Role.SECOND))
    more = Offer("more", "visit turn", f"page {at + 1} of {pages}") if pages > 1 else None
    keys = [Offer("look again", "visit again", "for eight seconds"), more]
    if page.again:
        keys[1:1] = [Offer("as before", "visit before", page.again)]
    wide = (_WIDE - 16) / 3
    for number, one in enumerate(keys):
        if one is not None:
            key(sheet, Rect(_LEFT + (wide + 8) * number, _FOOT, wide, _TALL), one)


def _device(sheet: Sheet, rect: Rect, row: Row) -> None:
    """Draw a device as a key; a tick and the strong outline say that it is taken."""
    sheet.add(
        Box(rect, Role.KEY, Role.TEXT if row.taken else Role.EDGE, 4 if row.taken else 2, 5),
    )
    right = rect.right - 16
    if row.taken:
        points = ((right - 26, rect.y + 24), (right - 17, rect.y + 34), (right, rect.y + 12))
        sheet.add(Path(points, Role.TEXT, 4, name="taken"))
        right -= 40
    if row.trouble:
        right = word_slab(sheet, right, rect.y + 12, row.trouble, f"device {row.act}") - 12
    room = right - rect.x - 20
    sheet.add(Text(rect.x + 20, rect.y + 33, fitting(row.word, 20, room, bold=True), 20, True, on=Role.KEY))
    told = fitting(row.told, 16, _WIDE - 40)
    sheet.add(Text(rect.x + 20, rect.y + 61, told, 16, role=Role.SECOND, on=Role.KEY))
    sheet.targets.append(Target(rect, row.act))


def _declared(sheet: Sheet, page: FindPage) -> None:
    """Draw what is declared, which channels are joined, and the key that begins to record."""
    sheet.add(Text(_RIGHT, 117, "refrigerant", 18, True))
    wide = (_FULL - 24) / 4
    own = page.refrigerants[:KEYS]
    other = page.refrigerant if page.refrigerant not in (*own, "") else ""
    keys = [Offer(name, f"visit refrigerant {name}", chosen=name == page.refrigerant) for name in own]
    keys.append(
        Offer(other or "another", "visit list refrigerant", "another" if other else "", chosen=bool(other))
    )
    for number, one in enumerate(keys):
        row, column = divmod(number, 4)
        key(sheet, Rect(_RIGHT + (wide + 8) * column, _TOP + _PITCH * row, wide, _TALL), one)
    sheet.add(Text(_RIGHT, 318, "mode", 18, True))
    half = _RIGHT + 2 * (wide + 8)
    sheet.add(Text(half, 318, "source fluid", 18, True))
    for number, mode in enumerate(("heating", "cooling")):
        one = Offer(mode, f"visit mode {mode}", chosen=mode == page.mode)
        key(sheet, Rect(_RIGHT + (wide + 8) * number, 330, wide, _TALL), one)
    liquid, share = (page.fluid, "") if " %" not in page.fluid else _liquid_words(page.fluid)
    fluid = Offer(liquid or "not declared", "visit list fluid", share, chosen=bool(page.fluid))
    key(sheet, Rect(half, 330, 2 * wide + 8, _TALL), fluid)
    words = (
        f"{page.joined} of {page.channels} channels feed a measuring point" if page.channels
        else "channels and measuring points"
    )  # fmt: skip
    told = "look them through, and change what is wrong" if page.channels else "shown when a device speaks"
    key(sheet, Rect(_RIGHT, 430, _FULL, _TALL), Offer(words, "visit channels", told))
    _start(sheet, page, Rect(_RIGHT, 520, _FULL, 84))


def _liquid_words(fluid: str) -> tuple[str, str]:
    """Part a mixture's name from its share, so that both can be read whole."""
    words = fluid.split()
    return " ".join(words[:-3]), " ".join(words[-3:])


def _start(sheet: Sheet, page: FindPage, rect: Rect) -> None:
    ready = page.taken > 0
    count = f"{page.taken} device{'s' if page.taken > 1 else ''}"
    told = f"{count}, stored from the first reading on" if ready else "take a device first"
    sheet.add(Box(rect, Role.KEY, Role.TEXT if ready else Role.EDGE, 4 if ready else 2, 5))
    middle = rect.x + rect.w / 2
    sheet.add(Text(middle, rect.y + 38, "START RECORDING", 24, True, align=Align.MIDDLE, on=Role.KEY))
    sheet.add(Text(middle, rect.y + 66, told, 16, role=Role.SECOND, align=Align.MIDDLE, on=Role.KEY))
    sheet.targets.append(Target(rect, "visit start"))


def _others(sheet: Sheet, page: FindPage) -> None:
    """Offer what else the window can be opened on."""
    wide = (_FULL - 16) / 3
    keys = (
        Offer("last session", "visit last", page.last or "there is none yet"),
        Offer("plain gauges", "visit typed", "type what they show"),
        Offer("demo hall", "visit demo", "a simulated machine"),
    )
    for number, one in enumerate(keys):
        key(sheet, Rect(_RIGHT + (wide + 8) * number, _FOOT, wide, _TALL), one)
