"""The trends view: the whole session as a strip, and four lanes over one time axis."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.derived import BY_SYMBOL
from analysis.points import POINTS
from analysis.presets import duration
from analysis.timeline import Event
from analysis.units import Quantity
from logger.desktop.amounts import amount
from logger.desktop.bands import Band
from logger.desktop.frame_parts import bottom_bar, top_line
from logger.desktop.history import ROW_US, History
from logger.desktop.lanes import Lane, Range, lanes_of, range_of, spans_without
from logger.desktop.letters import text_width
from logger.desktop.present import Present
from logger.desktop.pyramid import Pyramid
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
    Trace,
    fitting,
)  # fmt: skip
from logger.desktop.trend_side import side_panel

X, W = 176.0, 744.0
_LANES = ((248.0, 72.0), (326.0, 72.0), (404.0, 136.0), (546.0, 94.0))
_SLICES = 24


@dataclass(frozen=True, slots=True)
class TrendWindow:
    """Which part of the session is shown."""

    span_s: float = 0.0
    """Length; 0 for the whole session."""
    centre_us: int | None = None
    """Middle; the newest moment at its end by default."""
    lanes: tuple[str, ...] = ()

    def seconds(self, now_us: int) -> tuple[float, float]:
        """Give begin and end of the window in session time [s]."""
        end = max(now_us / 1e6, 1.0)
        if not self.span_s or self.span_s >= end:
            return 0.0, end
        if self.centre_us is None:
            return end - self.span_s, end
        begin = min(max(self.centre_us / 1e6 - self.span_s / 2.0, 0.0), end - self.span_s)
        return begin, begin + self.span_s


def trends_scene(
    present: Present, history: History, window: TrendWindow | None = None, events: Sequence[Event] = ()
) -> Scene:
    """Draw the trends view.

    Parameters
    ----------
    history
        The series.
    events
        Events beside the readings; dropouts are drawn with their exact length.
    """
    window = window or TrendWindow()
    sheet = Sheet()
    top_line(sheet, present)
    lanes = lanes_of(present, history, window.lanes)
    if not history.rows or not lanes:
        sheet.add(Text(16, 150, "recording starts with the first reading", 20, True))
        told = "trends grow from left to right; nothing is drawn before there is a reading"
        sheet.add(Text(16, 180, told, 16, role=Role.SECOND))
        bottom_bar(sheet, present, "trends")
        return sheet.scene("trends", present.preset, present.missing)
    end_us = max(history.rows * ROW_US, 1)
    begin, end = window.seconds(end_us)
    _overview(sheet, present, history, begin, end, end_us)
    _phases(sheet, history, begin, end)
    for number, (lane, (y, h)) in enumerate(zip(lanes, _LANES, strict=False)):
        sheet.targets.append(Target(Rect(0, y - 3, X, max(h, 72) + 6), f"lane {number}"))
        _lane(sheet, present, history, lane, Rect(X, y, W, h), (begin, end), events)
    if present.kind == "review":
        _moment(sheet, present.elapsed_us / 1e6, begin, end)
    _flags(sheet, present, begin, end)
    _times(sheet, begin, end)
    side_panel(sheet, present, lanes, window.span_s)
    bottom_bar(sheet, present, "trends")
    return sheet.scene("trends", present.preset, present.missing)


def _x(t_s: float, begin: float, end: float) -> float:
    return X + (t_s - begin) / max(end - begin, 1e-9) * W


def trace_of(
    series: Pyramid, lane: Range, rect: Rect, begin: float, end: float, of: str = "", sign: float = 1.0
) -> Trace:
    """Turn a series into what is painted in a lane."""
    view = series.view(math.floor(begin), math.ceil(end) + 1, int(rect.w))
    x = rect.x + ((view.first + view.last) / 2.0 - begin) / max(end - begin, 1e-9) * rect.w

    def y(values: np.ndarray) -> np.ndarray:
        return rect.bottom - 4 - (sign * values - lane.low) / (lane.high - lane.low) * (rect.h - 8)

    return Trace(x, y(view.mean), y(view.low), y(view.high), rect, of=of)


def _overview(
    sheet: Sheet, present: Present, history: History, begin: float, end: float, end_us: int
) -> None:
    rect = Rect(X, 132, W, 40)
    name = (
        "evaporating_temperature"
        if "evaporating_temperature" in history.series
        else next(iter(history.series))
    )
    sheet.add(Text(16, 148, "whole session", 16, True))
    sheet.add(Text(16, 168, fitting(_label(name), 16, 150), 16, role=Role.SECOND))
    sheet.add(Box(rect, Role.PANEL))
    scale = range_of(history.series[name], _quantity(name), None)
    sheet.add(trace_of(history.series[name], scale, rect, 0.0, end_us / 1e6))
    for mark in present.marks:
        x = _x(mark.t_us / 1e6, 0.0, end_us / 1e6)
        sheet.add(Path(((x - 6, 119), (x + 6, 119), (x, 128)), Role.TEXT, filled=True, name="flag"))
    left, right = _x(begin, 0.0, end_us / 1e6), _x(end, 0.0, end_us / 1e6)
    if right - left < W - 1:
        sheet.add(Box(Rect(left, 128, max(right - left, 6), 48), edge=Role.TEXT, px=3, name="window"))
    for part in range(3):
        t = end_us / 1e6 * part / 2
        align = (Align.LEFT, Align.MIDDLE, Align.RIGHT)[part]
        sheet.add(Text(X + W * part / 2, 194, duration(t), 16, role=Role.SECOND, align=align))
    for part in range(_SLICES):
        moment = round(end_us * (part + 0.5) / _SLICES)
        sheet.targets.append(Target(Rect(X + W * part / _SLICES, 112, W / _SLICES, 88), f"moment {moment}"))


def _phases(sheet: Sheet, history: History, begin: float, end: float) -> None:
    sheet.add(Text(16, 231, "phase", 16, True))
    ends = [*(row for row, _ in history.phases[1:]), history.rows]
    for (row, name), upto in zip(history.phases, ends, strict=True):
        left, right = max(_x(row, begin, end), X), min(_x(upto, begin, end), X + W)
        if right - left < 2:
            continue
        sheet.add(Box(Rect(left, 212, right - left, 28), Role.FOOT, Role.EDGE, 1.5))
        word = (name or "not declared").replace("-", " ")
        if text_width(word, 16, bold=True) < right - left - 8:
            sheet.add(Text((left + right) / 2, 232, word, 16, True, align=Align.MIDDLE, on=Role.FOOT))


def _lane(
    sheet: Sheet, present: Present, history: History, lane: Lane, rect: Rect,
    span: tuple[float, float], events: Sequence[Event],
) -> None:  # fmt: skip
    begin, end = span
    series = history.series[lane.symbol]
    sheet.add(Box(rect, Role.PANEL))
    scale = range_of(
        series, lane.quantity, lane.band, lane.sign, present.freezing_point() if lane.freezing else math.nan
    )
    if lane.band is not None:
        _band(sheet, lane.band, scale, rect)
    name = fitting(lane.label, 16, 150, bold=True)
    middle = rect.y + rect.h / 2
    sheet.add(Text(16, middle + 4, name, 16, True))
    if lane.freezing and math.isfinite(present.freezing_point()):
        told = amount(Quantity.TEMPERATURE, present.freezing_point(), present.preset).text
        sheet.add(Text(16, middle + 26, "freezes at", 16, role=Role.SECOND))
        sheet.add(Text(16, middle + 46, told, 16, role=Role.SECOND))
    _figures(sheet, present, lane, scale, rect)
    gaps = spans_without(present, series, lane.symbol, events, begin, end)
    trace = trace_of(series, scale, rect, begin, end, lane.symbol, lane.sign)
    hidden = np.zeros(trace.x.size, bool)
    for left_s, right_s, _ in gaps:
        hidden |= (trace.x > _x(left_s, begin, end) + 0.5) & (trace.x < _x(right_s, begin, end) - 0.5)
    blank = np.where(hidden, np.nan, trace.mean)
    sheet.add(Trace(trace.x, blank, trace.low, trace.high, rect, of=lane.symbol))
    if lane.freezing and math.isfinite(present.freezing_point()):
        _freezing(sheet, present, scale, rect)
    for left_s, right_s, words in gaps:
        left, right = max(_x(left_s, begin, end), X), min(_x(right_s, begin, end), X + W)
        sheet.add(Hatch(Rect(left, rect.y, max(right - left, 2.0), rect.h), step=8, name="dropout"))
        if rect.h > 90 and right + text_width(words, 16) + 10 < X + W:
            sheet.add(Text(right + 6, rect.y + 46, words, 16, role=Role.SECOND, on=Role.PANEL))


def _y(value: float, scale: Range, rect: Rect) -> float:
    return rect.bottom - 4 - (value - scale.low) / (scale.high - scale.low) * (rect.h - 8)


def _band(sheet: Sheet, band: Band, scale: Range, rect: Rect) -> None:
    ends = (band.low, band.high)
    top = rect.y if not math.isfinite(ends[1]) else max(_y(ends[1], scale, rect), rect.y)
    bottom = rect.bottom if not math.isfinite(ends[0]) else min(_y(ends[0], scale, rect), rect.bottom)
    if bottom - top < 2:
        return
    sheet.add(Box(Rect(rect.x, top, rect.w, bottom - top), Role.BAND, name="allowed"))
    for y, limit in ((top, ends[1]), (bottom, ends[0])):
        if math.isfinite(limit):
            sheet.add(Path(((rect.x, y), (rect.right, y)), Role.EDGE, 1, dashed=True, name="limit"))


def _figures(sheet: Sheet, present: Present, lane: Lane, scale: Range, rect: Rect) -> None:
    """Write two figures at the lane's edge, in the unit shown, at round values."""
    for value, text in scale.figures(lane.quantity, present, max(2, int(rect.h // 34))):
        y = min(max(_y(value, scale, rect), rect.y + 8), rect.bottom - 4)
        sheet.add(Path(((rect.x - 6, y), (rect.x, y)), Role.MARK, 2, name="tick"))
        figure = Text(rect.x - 10, y + 5, text, 16, role=Role.SECOND, align=Align.RIGHT)
        if not sheet.texts_in(figure.box):
            sheet.add(figure)


def _freezing(sheet: Sheet, present: Present, scale: Range, rect: Rect) -> None:
    y = _y(present.freezing_point(), scale, rect)
    if not rect.y < y < rect.bottom:
        return
    sheet.add(Path(((rect.x, y), (rect.right, y)), Role.EDGE, 2, name="freezing"))
    sheet.add(Hatch(Rect(rect.x, y + 1, rect.w, 9), step=9, edged=False, clip=rect, name="freezing"))


def _moment(sheet: Sheet, t_s: float, begin: float, end: float) -> None:
    """Draw the moment that the other views show."""
    x = min(max(_x(t_s, begin, end), X), X + W)
    sheet.add(Path(((x, 242), (x, 644)), Role.TEXT, 2, name="moment"))
    sheet.add(Path(((x - 7, 238), (x + 7, 238), (x, 248)), Role.TEXT, filled=True, name="moment"))


def _flags(sheet: Sheet, present: Present, begin: float, end: float) -> None:
    sheet.add(Text(16, 661, "flags", 16, True))
    free = X - 99.0
    for mark in present.marks:
        x = _x(mark.t_us / 1e6, begin, end)
        if not X <= x <= X + W:
            continue
        sheet.add(Path(((x, 242), (x, 644)), Role.TEXT, 1.5, dashed=True, name="flag"))
        w = text_width(str(mark.number), 16, bold=True) + 14
        left = min(max(x - w / 2, free + 2), X + W - w)
        if left < free:
            continue
        sheet.add(Box(Rect(left, 644, w, 22), Role.TEXT, name="flag"))
        sheet.add(Text(left + w / 2, 661, str(mark.number), 16, True, Role.GROUND, Align.MIDDLE, Role.TEXT))
        free = left + w


def _times(sheet: Sheet, begin: float, end: float) -> None:
    sheet.add(Text(16, 692, "elapsed", 16, role=Role.SECOND))
    for part in range(5):
        t = begin + (end - begin) * part / 4
        align = Align.LEFT if not part else Align.RIGHT if part == 4 else Align.MIDDLE
        sheet.add(Text(X + W * part / 4, 692, duration(t), 16, role=Role.SECOND, align=align))


def _label(name: str) -> str:
    return (POINTS[name].label if name in POINTS else BY_SYMBOL[name].label).split(" (")[0]


def _quantity(name: str) -> Quantity:
    return POINTS[name].quantity if name in POINTS else BY_SYMBOL[name].quantity
