"""The devices view: devices with their channels on the left, measuring points on the right, lines between."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.points import POINTS
from analysis.presets import PresetName, duration
from analysis.units import Quantity, from_si
from drivers.base import LinkEvent, LinkState
from logger.desktop.amounts import point_amount
from logger.desktop.frame_parts import bottom_bar, machine_words, time_words, top_line
from logger.desktop.key_page import Offer, key, offer
from logger.desktop.letters import text_width
from logger.desktop.present import Present
from logger.desktop.scene import (
    Align,
    Box,
    Hatch,
    Path,
    Rect,
    Role,
    Scene,
    Sheet,
    Target,
    Text,
    fitting,
)  # fmt: skip
from logger.desktop.shapes import dashed_square, rule, word_slab
from logger.desktop.state_line import StateLine, state_line

if TYPE_CHECKING:
    from logger.engine import Link

_LEFT, _CHANNEL_X, _POINT_X, _POINTS_LEFT, _RIGHT = 16.0, 456.0, 774.0, 792.0, 1264.0
_TOP, _BOTTOM = 130.0, 682.0
_WORDS = {
    LinkState.SEARCHING: "searching", LinkState.CONNECTING: "connecting", LinkState.LIVE: "live",
    LinkState.SILENT: "silent", LinkState.WAITING: "lost, trying again", LinkState.FAILED: "NEEDS YOU",
    LinkState.ENDED: "ended",
}  # fmt: skip
_PAST = {
    LinkState.SEARCHING: "was searched for", LinkState.CONNECTING: "was being connected",
    LinkState.SILENT: "silent from {}", LinkState.WAITING: "lost at {}", LinkState.FAILED: "failed at {}",
    LinkState.ENDED: "ended at {}",
}  # fmt: skip
_WELL = (LinkState.LIVE, LinkState.ENDED, LinkState.CONNECTING, LinkState.SEARCHING)


@dataclass(frozen=True, slots=True)
class _Row:
    """One measuring point as it is shown."""

    point: str
    channel: str
    y: float


def devices_scene(present: Present, *, choosing: bool = False, joining: str = "", page: int = 0) -> Scene:
    """Draw the devices view.

    Parameters
    ----------
    choosing
        Whether channels are offered as keys, to be joined to a point.
    joining
        The channel that waits for its point; then points are offered as keys.
    page
        Which page of keys.
    """
    sheet = Sheet()
    line = _line(present, choosing, joining)
    top_line(sheet, present, line, ("", "") if present.newest is None else _heading(present))
    if joining:
        question = f"which measuring point does {channel_words(present, joining)} feed?"
        points = [Offer(POINTS[p].label, f"point {p}") for p in _candidates(present)]
        offer(sheet, points, page, question, "cancel", "page")
    elif choosing:
        channels = [
            Offer(f"{c.partition('/')[0]}: {channel_words(present, c)}", f"channel {c}")
            for c in present.channels
        ]
        offer(sheet, channels, page, "which channel is to be joined?", "cancel", "page")
    else:
        _table(sheet, present)
    bottom_bar(sheet, present, "devices")
    return sheet.scene("devices", present.preset, present.missing)


def _line(present: Present, choosing: bool, joining: str) -> StateLine:
    line = state_line(present)
    if joining:
        return StateLine(line.sign, "JOINING a channel", f"{joining} waits for its measuring point")
    if choosing:
        return StateLine(
            line.sign, "JOINING a channel", "from this moment on; what was recorded stays as it is"
        )
    if present.newest is None:
        return line
    fitted = list(present.newest.points)
    read = sum(math.isfinite(present.value(name)) for name in fitted)
    verb = "were" if present.kind == "review" else "are being"
    told = f"{read} of {len(fitted)} measuring points {verb} read"
    return StateLine(line.sign, line.words, told if fitted else "no channel feeds a measuring point yet")


def _heading(present: Present) -> tuple[str, str]:
    assert present.newest is not None, "asked for only where there are results"
    held = present.newest.settings
    told = barometer_words(held.barometer_pa, present.preset)
    source = "barometer" if held.barometer_declared else "barometer assumed"
    return machine_words(present), f"{source} {told} · {time_words(present)}"


def channel_words(present: Present, channel: str) -> str:
    """Name a channel within its device: its id, and the label where the device gives one."""
    name = channel.partition("/")[2]
    label = present.labels.get(channel, "")
    return f"{label}  {name}" if label and label != name else name


def barometer_words(barometer_pa: float, preset: PresetName) -> str:
    """Write the barometer as finely as a gauge pressure needs it."""
    if preset == "us":
        return f"{from_si(Quantity.ABSOLUTE_PRESSURE, 'psia', barometer_pa):.2f} psia"
    return f"{barometer_pa / 100.0:.0f} hPa"


def _candidates(present: Present) -> list[str]:
    """Order points for joining: those without a channel first."""
    held = present.newest.settings.channel_of if present.newest is not None else {}
    return sorted(POINTS, key=lambda name: name in held)


def _table(sheet: Sheet, present: Present) -> None:
    sheet.add(Text(_LEFT, 117, "device and channel", 18, True))
    sheet.add(Text(_POINTS_LEFT, 117, "measuring point", 18, True))
    sheet.add(Text(1128, 117, "now", 18, True, align=Align.RIGHT))
    sheet.add(Text(_RIGHT, 117, "age", 18, True, align=Align.RIGHT))
    places = _channels(sheet, present)
    _points(sheet, present, places)
    bottom = _bottom(present)
    if present.channels:
        told = "touch them to join one to a point"
        sheet.add(Text(_LEFT + 528, 117, told, 16, role=Role.SECOND, align=Align.RIGHT))
        sheet.targets.append(Target(Rect(_LEFT, 92, 528, bottom - 76), "join"))
        match = Offer("match or zero", "match", "in one cup, in open air")
        key(sheet, Rect(_LEFT + 268, 624, 260, 76), match)
    if present.kind != "recording":
        told = "the demonstration is kept" if present.kind == "simulated" else "this session stays"
        key(sheet, Rect(_LEFT, 624, 260, 76), Offer("find devices", "visit new", told))


def _bottom(present: Present) -> float:
    """Give where the channels end: higher where there are keys below them."""
    return _BOTTOM - 70 if present.channels or present.kind != "recording" else _BOTTOM


def _channels(sheet: Sheet, present: Present) -> dict[str, float]:
    """Draw devices and channels; gives the height of each channel."""
    links = {link.name: link for link in present.links}
    names = list(dict.fromkeys([*links, *(c.partition("/")[0] for c in present.channels)]))
    if not names:
        sheet.add(Text(_LEFT, 150, "no device seen yet", 18, True))
        told = "evenrun desktop looks for devices; a set-up names them"
        sheet.add(Text(_LEFT, 176, told, 16, role=Role.SECOND))
        return {}
    count = len(names) + len(present.channels)
    bottom = _bottom(present)
    pitch = min(24.0, (bottom - _TOP) / max(count, 1))
    # Below the least pitch the rest is told as a number; joining offers every channel, page by page.
    pitch = max(pitch, 20.0)
    bottom = bottom + 1 if count * pitch <= bottom - _TOP + 1 else bottom - pitch
    places: dict[str, float] = {}
    y = _TOP
    left_out = 0
    for name in names:
        channels = [c for c in present.channels if c.partition("/")[0] == name]
        if y + pitch > bottom:
            left_out += 1 + len(channels)
            continue
        _device(sheet, present, name, links.get(name), y, pitch)
        y += pitch
        for channel in channels:
            if y + pitch > bottom:
                left_out += 1
                continue
            middle = y + pitch / 2
            label = fitting(channel_words(present, channel), 16, 400)
            sheet.add(Text(440, middle + 6, label, 16, align=Align.RIGHT))
            sheet.add(_dot(_CHANNEL_X, middle))
            places[channel] = middle
            y += pitch
    if left_out:
        sheet.add(Text(440, y + 16, f"and {left_out} more", 16, role=Role.SECOND, align=Align.RIGHT))
    return places


def _dot(x: float, y: float) -> Path:
    points = tuple((x + 5 * math.cos(n * math.pi / 6), y + 5 * math.sin(n * math.pi / 6)) for n in range(12))
    return Path(points, Role.TEXT, filled=True, name="dot")


def _device(sheet: Sheet, present: Present, name: str, link: Link | None, y: float, pitch: float) -> None:
    sheet.add(Box(Rect(_LEFT, y, 528, min(pitch, 22)), Role.PANEL))
    event = link.event if link is not None else None
    room = 528.0 - 16
    if event is not None and event.state not in _WELL:
        words = _stored_words(present, event) if present.kind == "review" else _WORDS[event.state]
        if event.state is LinkState.WAITING and event.attempt and present.kind != "review":
            words += f", try {event.attempt}"
        room -= _LEFT + 528 - word_slab(sheet, _LEFT + 526, y - 1, words, f"link {name}")
    else:
        words = _WORDS[event.state] if event is not None else "not connected yet"
        if present.kind == "review":
            words = _stored_words(present, event)
        rate = present.rates.get(name, math.nan)
        if math.isfinite(rate) and event is not None and event.state is LinkState.LIVE:
            words += f", {rate:.0f} readings per s"
        if link is not None and link.counts.faults:
            words += f", {link.counts.faults} bad kept out"
        sheet.add(Text(_LEFT + 520, y + 17, words, 16, role=Role.SECOND, align=Align.RIGHT, on=Role.PANEL))
        room -= text_width(words, 16) + 12
    shown = fitting(name, 16, room, bold=True)
    sheet.add(Text(_LEFT + 8, y + 17, shown, 16, True, on=Role.PANEL))


def _stored_words(present: Present, event: LinkEvent | None) -> str:
    """Say how a link of a stored session stood: nothing is tried again any more."""
    if event is None:
        return "was not connected"
    if event.state is LinkState.LIVE:
        return "was live until the end" if present.at_end else "was live"
    return _PAST[event.state].format(duration(event.t_mono_ns / 1e9))


def _points(sheet: Sheet, present: Present, places: dict[str, float]) -> None:
    held = present.newest.settings.channel_of if present.newest is not None else {}
    fitted = [name for name in POINTS if name in held]
    spare = [name for name in POINTS if name not in held]
    room = 15
    shown = (fitted + spare)[: max(room, len(fitted))]
    pitch = min(37.0, (690.0 - _TOP) / max(len(shown), 1))
    if len(shown) < 15:
        pitch = 37.0
    for number, name in enumerate(shown):
        row = _Row(name, held.get(name, ""), _TOP + pitch * (number + 0.5))
        _point(sheet, present, row)
        if pitch > 30:
            rule(sheet, _POINTS_LEFT, row.y + pitch / 2, _RIGHT - _POINTS_LEFT)
        if row.channel and row.channel in places:
            _join(sheet, present, row, places[row.channel])


def _silent(present: Present, row: _Row) -> bool:
    return bool(row.channel) and present.newest is not None and not math.isfinite(present.value(row.point))


def _point(sheet: Sheet, present: Present, row: _Row) -> None:
    label = fitting(POINTS[row.point].label, 16, 210, bold=bool(row.channel))
    if not row.channel:
        sheet.add(Text(_POINTS_LEFT, row.y + 6, label, 16, role=Role.SECOND))
        dashed_square(sheet, _POINT_X - 7, row.y - 7, 14, Role.MARK)
        sheet.add(Text(_RIGHT, row.y + 6, "not fitted", 16, role=Role.SECOND, align=Align.RIGHT))
        return
    sheet.add(Text(_POINTS_LEFT, row.y + 6, label, 16, True))
    if _silent(present, row):
        dashed_square(sheet, _POINT_X - 7, row.y - 7, 14, Role.OUT, 2.5)
        sheet.add(Hatch(Rect(1010, row.y - 10, 118, 20), step=8, name="no value"))
        word_slab(sheet, _RIGHT, row.y - 12, present.silence(row.point), row.point)
        return
    sheet.add(_dot(_POINT_X, row.y))
    newest = present.newest
    if newest is None:
        return
    value, u = present.value(row.point), present.expanded(row.point)
    shown = point_amount(row.point, value, newest.settings.barometer_pa, present.preset, u)
    sheet.add(Text(1128, row.y + 6, shown.text, 16, True, align=Align.RIGHT, of=row.point))
    column = present.column(row.point)
    age = float(column.age_s[-1]) if column is not None else math.nan
    if math.isfinite(age):
        sheet.add(
            Text(_RIGHT, row.y + 6, f"{age:.1f} s", 16, role=Role.SECOND, align=Align.RIGHT, of=row.point)
        )


def _join(sheet: Sheet, present: Present, row: _Row, y: float) -> None:
    silent = _silent(present, row)
    points = ((_CHANNEL_X, y), (560.0, y), (700.0, row.y), (_POINT_X, row.y))
    role = Role.OUT if silent else Role.EDGE
    sheet.add(Path(points, role, 3 if silent else 2, dashed=silent, name="join"))
