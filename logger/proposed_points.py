"""Which measuring point a channel most likely feeds, by its words and quantity: a proposal, never more."""

from __future__ import annotations

import re
from collections.abc import Iterable

from analysis.measure import Channel
from analysis.points import POINTS, Point

_FILLERS = frozenset({"line", "water", "coil", "pressure", "temperature", "voltage", "r", "to", "c", "loop"})
"""Words that tell no two points of one quantity apart, or that people leave out."""
_SAME = {
    "entering": "in", "inlet": "in", "leaving": "out", "outlet": "out", "brine": "source", "ground": "source",
    "floor": "load", "low": "suction", "high": "discharge", "outdoor": "ambient",
}  # fmt: skip
"""Words of the trade for the same (common practice, no source)."""


def proposed_points(channels: Iterable[Channel]) -> dict[str, str]:
    """Propose which channel feeds which measuring point.

    A channel is proposed where its name is a measuring point's, or where the words of its name and label
    hold all that tell a point of its quantity apart from the others. Where two points fit alike, none is
    proposed; a point that two channels fit goes to the first.

    Parameters
    ----------
    channels
        In the order of their devices.

    Returns
    -------
    dict
        Measuring point to channel.

    Examples
    --------
    >>> from analysis.units import Quantity
    >>> proposed_points([Channel("board/t1", Quantity.TEMPERATURE, "degC", label="brine inlet")])
    {'source_entering_temperature': 'board/t1'}
    >>> proposed_points([Channel("board/t2", Quantity.TEMPERATURE, "degC", label="probe 2")])
    {}
    """
    proposed: dict[str, str] = {}
    for channel in channels:
        name = _best(channel)
        if name:
            proposed.setdefault(name, channel.id)
    return proposed


def _best(channel: Channel) -> str:
    fitting = [point for point in POINTS.values() if point.accepts(channel.quantity)]
    own = channel.id.partition("/")[2]
    if any(point.name == own for point in fitting):
        return own
    words = _words(f"{own} {channel.label}")
    scored = [(len(_telling(point)), point.name) for point in fitting if _telling(point) <= words]
    most = max((score for score, _ in scored), default=0)
    best = [name for score, name in scored if score == most]
    return best[0] if len(best) == 1 else ""


def _telling(point: Point) -> frozenset[str]:
    """Give the words that tell a point apart from others of its quantity."""
    words = frozenset(_words(point.label)) - _FILLERS
    return words - {"air"} if "ambient" in words else words


def _words(text: str) -> set[str]:
    parts = re.findall(r"[a-z]+|\d+", text.lower().replace("_", " "))
    return {_SAME.get(part, part) for part in parts}
