"""Painting a scene: the only code that turns its plain values into strokes."""

from __future__ import annotations

import logging
from functools import cache
from importlib.resources import files

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontDatabase, QImage, QPainter, QPen, QPolygonF
from shiboken6 import VoidPtr

from logger.desktop.looks import Look
from logger.desktop.scene import HEIGHT, WIDTH, Align, Box, Hatch, Path, Rect, Role, Scene, Text, Trace

_log = logging.getLogger(__name__)
FALLBACK = "DejaVu Sans"


@cache
def family() -> str:
    """Load the shipped fonts once; gives the family to draw with."""
    names: list[str] = []
    for weight in ("Regular", "Bold"):
        try:
            content = (files("logger.desktop") / "fonts" / f"B612-{weight}.otf").read_bytes()
        except OSError:
            break
        number = QFontDatabase.addApplicationFontFromData(content)
        names += QFontDatabase.applicationFontFamilies(number) if number >= 0 else []
    if len(names) < 2:
        _log.warning("The shipped fonts could not be loaded; %s is used.", FALLBACK)
        return FALLBACK
    return names[0]


@cache
def font(px: float, bold: bool) -> QFont:
    """Give a font of a size, without kerning, so that widths are those of :mod:`logger.desktop.letters`."""
    made = QFont(family())
    made.setPixelSize(round(px))
    made.setBold(bold)
    made.setKerning(False)
    made.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    made.setStyleStrategy(QFont.StyleStrategy.PreferAntialias)
    return made


def fit(width: float, height: float) -> tuple[float, float, float]:
    """Give scale and offsets that put the whole canvas into a space without reflowing it."""
    scale = min(width / WIDTH, height / HEIGHT)
    return scale, (width - scale * WIDTH) / 2.0, (height - scale * HEIGHT) / 2.0


def paint(painter: QPainter, scene: Scene, look: Look, width: float, height: float) -> None:
    """Paint a scene into a space of the given size; left-over space keeps the ground's colour."""
    painter.fillRect(QRectF(0, 0, width, height), _colour(look, Role.GROUND))
    scale, dx, dy = fit(width, height)
    painter.setRenderHints(QPainter.RenderHint.Antialiasing | QPainter.RenderHint.TextAntialiasing)
    painter.save()
    painter.translate(dx, dy)
    painter.scale(scale, scale)
    for item in scene.items:
        match item:
            case Text():
                _text(painter, item, look)
            case Box():
                _box(painter, item, look)
            case Path():
                _path(painter, item, look)
            case Hatch():
                _hatch(painter, item, look)
            case Trace():
                _trace(painter, item, look)
    painter.restore()


def picture(scene: Scene, look: Look, width: int = WIDTH, height: int = HEIGHT) -> QImage:
    """Paint a scene into a new image."""
    image = QImage(width, height, QImage.Format.Format_RGB32)
    painter = QPainter(image)
    paint(painter, scene, look, width, height)
    painter.end()
    return image


_COLOURS: dict[tuple[str, Role], QColor] = {}


def _colour(look: Look, role: Role) -> QColor:
    """Give a role's colour in a look, worked out once."""
    found = _COLOURS.get((look.name, role))
    if found is None:
        found = _COLOURS[look.name, role] = QColor(look.colour(role))
    return found


def _rect(rect: Rect) -> QRectF:
    return QRectF(rect.x, rect.y, rect.w, rect.h)


def _pen(look: Look, role: Role, px: float, dashed: bool) -> QPen:
    pen = QPen(_colour(look, role), px)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    pen.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
    if dashed:
        pen.setDashPattern([3.0, 2.0])
    return pen


def _text(painter: QPainter, text: Text, look: Look) -> None:
    painter.setFont(font(text.px, text.bold))
    painter.setPen(_colour(look, text.role))
    x = text.left if text.align is not Align.LEFT else text.x
    painter.drawText(QPointF(x, text.y), text.text)


def _box(painter: QPainter, box: Box, look: Look) -> None:
    painter.setBrush(_colour(look, box.fill) if box.fill is not None else Qt.BrushStyle.NoBrush)
    if box.edge is None:
        painter.setPen(Qt.PenStyle.NoPen)
    else:
        painter.setPen(_pen(look, box.edge, box.px, box.dashed))
    if box.radius:
        painter.drawRoundedRect(_rect(box.rect), box.radius, box.radius)
    else:
        painter.drawRect(_rect(box.rect))


def _path(painter: QPainter, path: Path, look: Look) -> None:
    if len(path.points) == 2 and not path.filled and not path.dashed:
        (x0, y0), (x1, y1) = path.points
        half, colour = path.px / 2.0, _colour(look, path.role)
        if y0 == y1:  # a filled rectangle is far quicker than a wide line
            painter.fillRect(QRectF(min(x0, x1), y0 - half, abs(x1 - x0), path.px), colour)
            return
        if x0 == x1:
            painter.fillRect(QRectF(x0 - half, min(y0, y1), path.px, abs(y1 - y0)), colour)
            return
    polygon = QPolygonF([QPointF(x, y) for x, y in path.points])
    if path.filled:
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(_colour(look, path.role))
        painter.drawPolygon(polygon)
    else:
        painter.setPen(_pen(look, path.role, path.px, path.dashed))
        painter.drawPolyline(polygon)


def _hatch(painter: QPainter, hatch: Hatch, look: Look) -> None:
    rect = hatch.rect
    if rect.w <= 0 or rect.h <= 0:
        return
    painter.save()
    painter.setClipRect(_rect(hatch.clip or rect), Qt.ClipOperation.IntersectClip)
    painter.setPen(_pen(look, hatch.role, 2.0, False))
    start = rect.x - rect.h
    count = int((rect.w + rect.h) / hatch.step) + 1
    lines = []
    for number in range(count):
        x = start + number * hatch.step
        left, right = max(x, rect.x), min(x + rect.h, rect.right)
        if left < right:
            lines.append(QLineF(left, rect.bottom - (left - x), right, rect.bottom - (right - x)))
    painter.drawLines(lines)
    if hatch.edged:
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(QRectF(rect.x + 1, rect.y + 1, rect.w - 2, rect.h - 2))
    painter.restore()


def _trace(painter: QPainter, trace: Trace, look: Look) -> None:
    """Paint the envelope, then the mean line.

    A smooth line of two pixels is a hundred times slower than one of a single pixel, so the mean is drawn as
    several thin lines beside each other.
    """
    known = np.isfinite(trace.mean)
    if not known.any():
        return
    scale = painter.worldTransform().m11()
    passes = max(round(2.0 * scale), 2)
    painter.save()
    painter.setClipRect(_rect(trace.clip), Qt.ClipOperation.IntersectClip)
    thin = QPen(_colour(look, Role.TEXT), 1)
    thin.setCosmetic(True)
    if trace.dashed:
        thin.setDashPattern([6.0, 4.0])
    edges = np.flatnonzero(np.diff(np.concatenate([[False], known, [False]]).astype(np.int8)))
    for begin, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        x, low, high, mean = (part[begin:end] for part in (trace.x, trace.low, trace.high, trace.mean))
        if float(np.abs(high - low).max()) > 2.0:  # less is hidden by the line itself
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(_colour(look, Role.MARK))
            painter.drawPolygon(_polygon(np.concatenate([x, x[::-1]]), np.concatenate([low, high[::-1]])))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.setPen(thin)
        for number in range(passes):
            shift = (number - (passes - 1) / 2.0) / scale
            if end - begin == 1:
                y = float(mean[0]) + shift
                painter.drawLine(QLineF(float(x[0]) - 1, y, float(x[0]) + 1, y))
            else:
                painter.drawPolyline(_polygon(x, mean + shift))
    painter.restore()


def _polygon(x: np.ndarray, y: np.ndarray) -> QPolygonF:
    """Make a polygon of arrays without an object for each point."""
    polygon = QPolygonF()
    polygon.resize(x.size)
    memory = VoidPtr(polygon.data(), 16 * x.size, True)  # type: ignore[call-arg, arg-type]
    view = np.frombuffer(memory, np.float64)  # type: ignore[call-overload]
    view[0::2], view[1::2] = x, y
    return polygon
