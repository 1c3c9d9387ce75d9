"""Labels that glide to a new height, so that the eye can follow which one went where."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

GLIDE_S = 0.15
LEAST_PX = 8.0
"""A label that moves by less goes at once: a level that wanders needs no motion."""


@dataclass(slots=True)
class Glide:
    """Where labels are shown on their way from where they stood.

    Examples
    --------
    >>> glide = Glide()
    >>> glide.to({"suction": 100.0}, 0.0)
    >>> glide.to({"suction": 200.0}, 1.0)
    >>> [round(glide.at(1.0 + s)["suction"]) for s in (0.0, 0.075, 0.15)]
    [100, 150, 200]
    >>> glide.moving(1.1), glide.moving(1.2)
    (True, False)
    """

    _end: dict[str, float] = field(default_factory=dict)
    _begin: dict[str, tuple[float, float]] = field(default_factory=dict)
    """Labels on their way: the height they left, and when [s]."""

    def to(self, places: Mapping[str, float], now: float, *, smooth: bool = True) -> None:
        """Send labels to new places.

        Parameters
        ----------
        places
            Label to height; one that was not shown before appears in its place.
        now
            Clock [s].
        smooth
            Whether they may glide; otherwise they go at once.
        """
        shown = self.at(now)
        begin: dict[str, tuple[float, float]] = {}
        for name, y in places.items():
            if not smooth or name not in shown:
                continue
            if name in self._begin and self.moving(now) and abs(y - self._end[name]) < LEAST_PX:
                begin[name] = self._begin[name]  # a label under way keeps its pace
            elif abs(y - shown[name]) >= LEAST_PX:
                begin[name] = (shown[name], now)
        self._end, self._begin = dict(places), begin

    def at(self, now: float) -> dict[str, float]:
        """Give where every label is shown at a moment."""
        found = dict(self._end)
        for name, (y, since) in self._begin.items():
            share = min(max((now - since) / GLIDE_S, 0.0), 1.0)
            eased = share * share * (3.0 - 2.0 * share)
            found[name] = y + (self._end[name] - y) * eased
        return found

    def moving(self, now: float) -> bool:
        """Whether any label is on its way."""
        return any(now - since < GLIDE_S for _, since in self._begin.values())
