"""What stands around every view: the top line with the state, and the bottom bar with the keys."""

from __future__ import annotations

from analysis.presets import duration
from logger.desktop.letters import text_width
from logger.desktop.present import Mark, Present
from logger.desktop.scene import Align, Box, Path, Rect, Role, Sheet, Target, Text, fitting
from logger.desktop.shapes import rule, sign, word_slab
from logger.desktop.state_line import StateLine, state_line

VIEWS = (
    "levels", "trends", "compare", "devices", "electrical", "shorts", "typed", "session", "report", "cycle",
)  # fmt: skip
"""The order of the views; far stands beside them."""
SHELVED_MIN = 30
"""For so long an alarm waits when it is shelved here; it comes back by itself."""
SHELVE_FOR = {
    "work": "being worked on", "wrong": "the reading is wrong", "agreed": "agreed with the owner",
}  # fmt: skip
"""Why an alarm may wait: act to the reason that is kept."""
SHELVE_TOLD = {"work": "on it now", "wrong": "is wrong", "agreed": "with owner"}
WRITTEN_LATE_S = 5.0
"""From when a slab says that the disk is behind."""


def view_name(view: str) -> str:
    """Write a view's name."""
    return view.capitalize()


def top_line(
    sheet: Sheet, present: Present, line: StateLine | None = None, right: tuple[str, str] = ("", "")
) -> None:
    """Draw the state on the left, the machine and the recording on the right."""
    line = line or state_line(present)
    sheet.add(Box(Rect(0, 0, 1280, 88), Role.PANEL))
    rule(sheet, 0, 88, 1280)
    sign(sheet, line.sign, 20, 22)
    heading, facts = right if any(right) else (machine_words(present), recording_words(present))
    heading_px = 20
    words_px = 44 if text_width(line.words, 44, bold=True) <= 800 else 32
    words = fitting(line.words, words_px, 860, bold=True)
    sheet.add(Text(80, 48, words, words_px, True, on=Role.PANEL))
    room = 1264 - (80 + text_width(words, words_px, bold=True)) - 24
    sheet.add(
        Text(1264, 38, fitting(heading, heading_px, max(room, 120), bold=True), heading_px, True,
             align=Align.RIGHT, on=Role.PANEL)
    )  # fmt: skip
    reason = present.asking or present.notice or line.reason
    late = present.journal is not None and present.journal.behind_s > WRITTEN_LATE_S
    trouble = present.journal is not None and bool(present.journal.trouble)
    if late or trouble:
        journal = present.journal
        assert journal is not None, "only a journal can be late"
        text = "NOT WRITTEN: the disk refuses" if trouble else f"written {journal.behind_s:.0f} s ago"
        edge = word_slab(sheet, 1264, 54, text, "journal") - 12
    else:
        facts = fitting(facts, 18, 760)
        if (
            present.alarms or present.notice
        ):  # what must be done is never cut short: the facts make room for it
            room = 1160 - text_width(reason, 18)
            shorter = (facts, f"{present.water_words} · {time_words(present)}", time_words(present), "")
            facts = next(words for words in shorter if text_width(words, 18) <= room or not words)
        sheet.add(Text(1264, 70, facts, 18, role=Role.SECOND, align=Align.RIGHT, on=Role.PANEL))
        edge = 1264 - text_width(facts, 18) - 24
    sheet.add(Text(80, 76, fitting(reason, 18, edge - 80), 18, role=Role.SECOND, on=Role.PANEL))
    sheet.targets.append(Target(Rect(0, 0, 900, 88), "far"))
    sheet.targets.append(Target(Rect(1100, 0, 180, 88), "look"))


def machine_words(present: Present) -> str:
    """Say mode, refrigerant and machine."""
    parts = []
    if present.newest is not None:
        held = present.newest.settings
        parts.append(held.mode.upper() or "MODE NOT DECLARED")
        parts.append(held.refrigerant or "refrigerant not declared")
    parts.append(present.title.split(":")[0])
    return " · ".join(part for part in parts if part)


def time_words(present: Present) -> str:
    """Say what is seen, a recording or a stored session, and its moment."""
    if present.kind == "idle":
        return "nothing is recorded"
    word = {"recording": "recording", "simulated": "SIMULATED MACHINE", "review": "reviewing"}[present.kind]
    return f"{word} {duration(present.elapsed_us / 1e6)}"


def recording_words(present: Present) -> str:
    """Say phase, length of the recording, and how far it is on the disk."""
    parts = []
    if present.newest is not None and present.newest.settings.phase:
        parts.append(f"phase: {present.newest.settings.phase.replace('-', ' ')}")
    if present.newest is not None:
        parts.append(present.water_words)
    parts.append(time_words(present))
    if present.journal is not None:
        parts.append(f"written {max(present.journal.behind_s, 0.0):.0f} s ago")
    if present.lost:
        parts.append(f"{present.lost} not analysed")
    return " · ".join(parts)


def bottom_bar(sheet: Sheet, present: Present, view: str) -> None:
    """Draw the keys: mark, changed, looked, undo, and the views' arrows."""
    sheet.add(Box(Rect(0, 708, 1280, 92), Role.PANEL))
    last = present.marks[-1] if present.marks else None
    told = f"last: {_mark_words(last)}" if last else "flags the present moment"
    idle = present.kind == "idle"
    told = "nothing is recorded yet" if idle else told
    _key(sheet, Rect(16, 714, 408, 78), "MARK NOW", told, "mark", strong=not idle)
    if present.backdating:
        for x, seconds in ((432, 5), (562, 15), (692, 30)):
            _key(sheet, Rect(x, 714, 124, 78), f"−{seconds} s", "move it back", f"back {seconds}")
    elif present.calling is not None:
        _alarm_keys(sheet, present, present.calling.rule.title)
    else:
        _key(sheet, Rect(432, 714, 208, 78), "I changed", "a part or setting", "changed")
        _key(sheet, Rect(648, 714, 168, 78), "I looked", "by eye", "looked")
    _key(sheet, Rect(824, 714, 152, 78), "Undo", "last mark", "undo")
    for x, act, way in ((992, "previous view", -1.0), (1188, "next view", 1.0)):
        rect = Rect(x, 714, 76, 78)
        sheet.add(Box(rect, Role.KEY, Role.EDGE, 2, 5))
        middle = x + 38
        points = ((middle - 10 * way, 738), (middle - 10 * way, 770), (middle + 13 * way, 754))
        sheet.add(Path(points, Role.TEXT, filled=True))
        sheet.targets.append(Target(rect, act))
    number = VIEWS.index(view) + 1
    name_px = 22 if text_width(view_name(view), 22, bold=True) <= 116 else 18
    sheet.add(Text(1128, 750, view_name(view), name_px, True, align=Align.MIDDLE, on=Role.PANEL))
    told = f"view {number} of {len(VIEWS)}"
    sheet.add(Text(1128, 776, told, 16, role=Role.SECOND, align=Align.MIDDLE, on=Role.PANEL))


def _alarm_keys(sheet: Sheet, present: Present, title: str) -> None:
    """Draw what can be done about an alarm that nobody has answered yet."""
    if present.shelving:
        for x, word, act in zip((432, 562, 692), ("Working", "Reading", "Agreed"), SHELVE_FOR, strict=True):
            _key(sheet, Rect(x, 714, 124, 78), word, SHELVE_TOLD[act], f"alarm {act}")
    else:
        _key(sheet, Rect(432, 714, 208, 78), "Alarm seen", title, "alarm seen", strong=True)
        _key(sheet, Rect(648, 714, 168, 78), "It may wait", f"{SHELVED_MIN} min", "alarm wait")


def _key(sheet: Sheet, rect: Rect, word: str, told: str, act: str, *, strong: bool = False) -> None:
    edge, px = (Role.TEXT, 4.0) if strong else (Role.EDGE, 2.0)
    sheet.add(Box(rect, Role.KEY, edge, px, 5))
    middle = rect.x + rect.w / 2
    told = fitting(told, 16, rect.w - 20)
    sheet.add(Text(middle, rect.y + 34, word, 24, True, align=Align.MIDDLE, on=Role.KEY))
    sheet.add(Text(middle, rect.y + 62, told, 16, role=Role.SECOND, align=Align.MIDDLE, on=Role.KEY))
    sheet.targets.append(Target(rect, act))


def _mark_words(mark: Mark) -> str:
    text = f" “{mark.text}”" if mark.text else ""
    return f"{duration(mark.t_us / 1e6)}{text}"
