"""The session view: move through a session, play it, put right what was declared, open another one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.presets import duration
from logger.desktop.frame_parts import bottom_bar, top_line
from logger.desktop.history import ROW_US, History
from logger.desktop.key_page import Offer, key, offer
from logger.desktop.letters import text_width
from logger.desktop.present import Present
from logger.desktop.scene import Align, Box, Path, Rect, Role, Scene, Sheet, Target, Text, fitting
from logger.desktop.shapes import rule
from logger.desktop.state_line import StateLine, with_alarm

TRACK = Rect(16.0, 128.0, 1248.0, 60.0)
SPEEDS = (10, 60, 600)
_SLICES = 24
_UNIT_WORDS = {
    "hPa": "local pressure", "psia": "local pressure",
    "m": "height above the sea", "ft": "height above the sea",
}  # fmt: skip
_PAD = (("7", "8", "9"), ("4", "5", "6"), ("1", "2", "3"), (".", "0", "clear"))


@dataclass(frozen=True, slots=True)
class Entry:
    """A value that is being typed."""

    digits: str
    unit: str
    units: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SessionPage:
    """Everything that the view is drawn from, beside the moment itself."""

    stored: bool = True
    """Whether there is something to move through; a recording shows its newest moment."""
    declared: tuple[tuple[str, str, str], ...] = ()
    """Kind, what it is called, and what holds now."""
    whole: bool = True
    """Whether a change holds for the whole session, or from this moment on."""
    folder: str = ""
    """Where the session lies."""
    question: str = ""
    """What is being chosen; empty where nothing is."""
    offers: tuple[Offer, ...] = ()
    more: tuple[Offer, ...] = ()
    entry: Entry | None = None
    page: int = 0
    opening: bool = False
    """Whether a session is being chosen."""
    busy: str = ""
    changed: tuple[str, ...] = ()
    """What came out otherwise after the last change."""
    length_us: int = 0
    playing: float = 0.0


def session_scene(present: Present, history: History, page: SessionPage | None) -> Scene:
    """Draw the session view."""
    sheet = Sheet()
    top_line(sheet, present, with_alarm(present, _line(present, page)))
    if page is None:
        told = "there is no session here that could be moved through or put right"
        sheet.add(Text(16, 150, told, 18, role=Role.SECOND))
    elif page.question and page.entry is not None:
        _typing(sheet, page, page.entry)
    elif page.question:
        offer(sheet, page.offers, page.page, page.question, "session back", "session turn", page.more)
        if not page.offers:
            sheet.add(Text(16, 166, "there is no folder in it", 18, role=Role.SECOND))
    else:
        _track(sheet, present, history, page)
        if page.stored:
            _playing(sheet, page)
        _declared(sheet, page)
        _changed(sheet, page)
        _foot(sheet, page)
    bottom_bar(sheet, present, "session")
    return sheet.scene("session", present.preset, present.missing)


def _line(present: Present, page: SessionPage | None) -> StateLine | None:
    if page is None:
        return None
    if page.busy:
        return StateLine("reading", "SESSION", f"{page.busy}, one moment")
    if page.opening:
        return StateLine("reading", "OPENING a session", "the one that is shown stays as it is on the disk")
    if page.question:
        whole = "for the whole session" if page.whole else f"from {duration(present.elapsed_us / 1e6)} on"
        return StateLine("reading", "PUTTING RIGHT", f"it holds {whole}; readings stay as they are")
    if not page.stored:
        return StateLine("reading", "SESSION, recording", "what is declared holds from this moment on")
    return StateLine("reading", "SESSION", "all views show the moment that is chosen here")


def _track(sheet: Sheet, present: Present, history: History, page: SessionPage) -> None:
    """Draw the whole session with its phases and flags; a touch goes to a moment."""
    length = max(page.length_us, present.elapsed_us, 1)
    words = duration(present.elapsed_us / 1e6)
    sheet.add(Text(16, 118, "whole session", 16, True))
    told = f"{words} of {duration(length / 1e6)}" if page.stored else f"{words}, recording"
    sheet.add(Text(TRACK.right, 118, told, 18, True, align=Align.RIGHT))
    sheet.add(Box(TRACK, Role.PANEL))
    ends = [*(row for row, _ in history.phases[1:]), history.rows]

    def place(t_us: float) -> float:
        return TRACK.x + min(max(t_us / length, 0.0), 1.0) * TRACK.w

    for (row, name), upto in zip(history.phases, ends, strict=False):
        left, right = place(row * ROW_US), place(upto * ROW_US)
        if right - left < 2:
            continue
        sheet.add(Box(Rect(left, TRACK.y + 18, right - left, 28), Role.FOOT, Role.EDGE, 1.5))
        word = (name or "phase not declared").replace("-", " ")
        wide = text_width(word, 16, bold=True) + 16
        # The line of the moment must not go through the word.
        moment = place(present.elapsed_us)
        begin = moment + 4 if left - 4 <= moment <= left + wide else left
        if begin + wide < right:
            sheet.add(Text(begin + 8, TRACK.y + 38, word, 16, True, on=Role.FOOT))
    for mark in present.marks:
        x = place(mark.t_us)
        sheet.add(
            Path(((x - 6, TRACK.y), (x + 6, TRACK.y), (x, TRACK.y + 11)), Role.TEXT, filled=True, name="flag")
        )
    x = place(present.elapsed_us)
    sheet.add(Path(((x, TRACK.y), (x, TRACK.bottom)), Role.TEXT, 4, name="moment"))
    sheet.add(Path(((x - 9, TRACK.bottom + 12), (x + 9, TRACK.bottom + 12), (x, TRACK.bottom)), Role.TEXT,
                   filled=True, name="moment"))  # fmt: skip
    if page.stored:
        for part in range(_SLICES):
            moment = round(length * (part + 0.5) / _SLICES)
            rect = Rect(TRACK.x + TRACK.w * part / _SLICES, TRACK.y - 16, TRACK.w / _SLICES, 92)
            sheet.targets.append(Target(rect, f"moment {moment}"))


def _playing(sheet: Sheet, page: SessionPage) -> None:
    x = 16.0
    chosen = page.playing or 0.0
    keys = (
        (Offer("−1 min", "step -60"), 124), (Offer("−10 s", "step -10"), 124),
        (Offer("stop" if chosen else "play", f"speed {0 if chosen else SPEEDS[0]}", strong=True), 168),
        (Offer("+10 s", "step 10"), 124), (Offer("+1 min", "step 60"), 124),
        *(
            (Offer(f"{speed} times", f"speed {speed}", "real time", chosen=chosen == speed), 132)
            for speed in SPEEDS
        ),
        (Offer("end", "step 1e9", "newest"), 124),
    )  # fmt: skip
    for one, width in keys:
        key(sheet, Rect(x, 214, width, 76), one)
        x += width + 8


def _declared(sheet: Sheet, page: SessionPage) -> None:
    sheet.add(Text(16, 324, "declared", 18, True))
    told = "touch to put it right; readings stay as they are, and everything is worked out again"
    sheet.add(Text(110, 324, told, 16, role=Role.SECOND))
    for number, (kind, label, value) in enumerate(page.declared):
        row, column = divmod(number, 3)
        rect = Rect(16 + 419.0 * column, 336 + 84.0 * row, 410, 76)
        key(sheet, rect, Offer(value or "not declared", f"session choose {kind}", label))


def _changed(sheet: Sheet, page: SessionPage) -> None:
    """Say what came out otherwise."""
    if page.busy:
        sheet.add(Text(16, 534, page.busy, 18, True))
        return
    if not page.changed:
        return
    sheet.add(Text(16, 528, page.changed[0], 16, True))
    for number, line in enumerate(page.changed[1:7]):
        row, column = divmod(number, 2)
        sheet.add(Text(16 + 630.0 * column, 552 + 22.0 * row, fitting(line, 16, 610), 16))


def _foot(sheet: Sheet, page: SessionPage) -> None:
    rule(sheet, 16, 612, 1248)
    keys: Sequence[Offer] = (
        Offer("open another session", "session browse", "of this folder, or of another one"),
        Offer("the whole session", "session whole", "a change holds from the start on", chosen=page.whole),
        Offer("from this moment", "session since", "a change holds from here on", chosen=not page.whole),
    )  # fmt: skip
    if not page.stored:
        keys = ()
        told = "a session is opened once this recording has ended; nothing of it is lost meanwhile"
        sheet.add(Text(16, 644, told, 16, role=Role.SECOND))
        if page.folder:
            sheet.add(Text(16, 672, fitting(f"recorded in {page.folder}", 16, 1248), 16, role=Role.SECOND))
    for number, one in enumerate(keys):
        key(sheet, Rect(16 + 419.0 * number, 622, 410, 76), one)


def _typing(sheet: Sheet, page: SessionPage, entry: Entry) -> None:
    """Offer a pad for a value with its unit."""
    sheet.add(Text(16, 120, page.question, 20, True))
    sheet.add(Box(Rect(16, 140, 484, 96), Role.PANEL, Role.EDGE, 2))
    right = 480 - text_width(entry.unit, 22, bold=True)
    sheet.add(Text(right - 12, 212, entry.digits or "–", 64, True, align=Align.RIGHT, on=Role.PANEL))
    sheet.add(Text(480, 212, entry.unit, 22, True, align=Align.RIGHT, on=Role.PANEL))
    for number, unit in enumerate(entry.units):
        rect = Rect(16, 256 + 84.0 * number, 484, 76)
        key(sheet, rect, Offer(unit, f"session unit {unit}", _UNIT_WORDS[unit], chosen=unit == entry.unit))
    told = "the barometer as it reads at the site, not corrected to sea level"
    sheet.add(Text(16, 470, told, 16, role=Role.SECOND))
    for row, line in enumerate(_PAD):
        for column, digit in enumerate(line):
            rect = Rect(680 + 127.0 * column, 140 + 96.0 * row, 119, 88)
            key(sheet, rect, Offer(digit, f"session digit {digit}"))
    key(sheet, Rect(1072, 140, 192, 88), Offer("KEEP", "session keep", strong=True))
    key(sheet, Rect(1072, 236, 192, 88), Offer("go back", "session back"))
