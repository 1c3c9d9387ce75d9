"""The temperature axis of the levels view: one window or two folded ones, at one of three scales."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

SCALES = (10.0, 8.0, 6.0)
"""Pixels per kelvin, the largest that holds all expected levels first."""
TOP, FOLD, BOTTOM = 182.0, 392.0, 622.0
WARM, COLD, WHOLE = 200.0, 220.0, 440.0
"""Heights of the two folded windows and of a single one [px]."""
MARGIN_K = 1.5
"""Room beyond the outermost expected level."""


@dataclass(frozen=True, slots=True)
class Window:
    """A stretch of the axis: the temperature at its upper edge, and where it is on the screen."""

    top_k: float
    y: float
    height: float
    px_per_k: float

    @property
    def bottom(self) -> float:
        """Lower edge [px]."""
        return self.y + self.height

    @property
    def bottom_k(self) -> float:
        """Temperature at the lower edge."""
        return self.top_k - self.height / self.px_per_k

    def y_of(self, t: float) -> float:
        """Height of a temperature on the screen."""
        return self.y + (self.top_k - t) * self.px_per_k

    def holds(self, t: float) -> bool:
        """Whether a temperature lies in it."""
        return self.bottom_k <= t <= self.top_k


@dataclass(frozen=True, slots=True)
class Axis:
    """The windows from warm to cold, and when they were chosen."""

    windows: tuple[Window, ...]
    px_per_k: float
    set_us: int = 0

    def place(self, t: float) -> tuple[Window, float, int]:
        """Give window, height and whether the level lies beyond: 1 above, -1 below, 0 inside."""
        for window in self.windows:
            if window.holds(t):
                return window, window.y_of(t), 0
        nearest = min(self.windows, key=lambda w: max(t - w.top_k, w.bottom_k - t))
        beyond = 1 if t > nearest.top_k else -1
        return nearest, nearest.y if beyond > 0 else nearest.bottom, beyond


def choose_axis(expected: Iterable[float], set_us: int = 0) -> Axis:
    """Choose windows and scale so that all expected levels have room.

    Parameters
    ----------
    expected
        Temperatures that are expected in this phase [K]; those that are not finite do not count.
    set_us
        Moment of the choice.

    Examples
    --------
    >>> hall = choose_axis([263.3, 270.0, 277.2, 303.2, 308.2, 315.0])
    >>> len(hall.windows), hall.px_per_k
    (2, 10.0)
    >>> len(choose_axis([273.15, 280.0, 297.0, 312.0]).windows)
    1
    """
    levels = sorted(t for t in expected if math.isfinite(t)) or [273.15, 293.15]
    for scale in SCALES:
        if levels[-1] - levels[0] + 2 * MARGIN_K <= WHOLE / scale:
            return Axis((_centred(levels, TOP, WHOLE, scale),), scale, set_us)
        cut = _cut(levels, scale)
        if cut:
            cold, warm = levels[:cut], levels[cut:]
            windows = (_centred(warm, TOP, WARM, scale), _centred(cold, BOTTOM - COLD, COLD, scale))
            return Axis(windows, scale, set_us)
    # Nothing holds them all: two windows about the outer groups, and the rest is parked at an edge.
    scale = SCALES[-1]
    cut = _widest(levels)
    windows = (
        _centred(levels[cut:], TOP, WARM, scale), _centred(levels[:cut], BOTTOM - COLD, COLD, scale)
    )  # fmt: skip
    return Axis(windows, scale, set_us)


def _cut(levels: Sequence[float], scale: float) -> int:
    """Index of the first warm level, at the widest distance that lets both windows hold theirs; 0 if none."""
    fitting = [
        n
        for n in range(1, len(levels))
        if levels[n - 1] - levels[0] + 2 * MARGIN_K <= COLD / scale
        and levels[-1] - levels[n] + 2 * MARGIN_K <= WARM / scale
    ]
    return max(fitting, key=lambda n: levels[n] - levels[n - 1], default=0)


def _widest(levels: Sequence[float]) -> int:
    return max(range(1, len(levels)), key=lambda n: levels[n] - levels[n - 1], default=0)


def _centred(levels: Sequence[float], y: float, height: float, scale: float) -> Window:
    """Put a group of levels into the middle of a window, its edge on a whole degree."""
    middle = (levels[0] + levels[-1]) / 2.0
    top = round(middle + height / scale / 2.0 - 273.15) + 273.15
    return Window(top, y, height, scale)
