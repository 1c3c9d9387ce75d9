"""Where labels stand when levels lie close together: at the least-squares heights that keep their order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

ABOVE = 28.0
"""What a label needs above its line: the value."""
NAME, PRESSURE = 50.0 - ABOVE, 72.0 - ABOVE
"""What it needs below: the name, or the name and the pressure."""
LEAST_PITCH = 40.0


@dataclass(frozen=True, slots=True)
class Wish:
    """A label that would like its line at the height ``y``."""

    y: float
    below: float = NAME


@dataclass(frozen=True, slots=True)
class Placed:
    """Heights of the lines, in the order of the wishes, and which second lines had to go."""

    y: tuple[float, ...]
    below: tuple[float, ...]


def place(wishes: Sequence[Wish], top: float, bottom: float) -> Placed:
    """Place labels of one side and window.

    Each line comes as near to its wish as the others let it (least squares, pool adjacent violators, O(n)),
    the order never swaps, and none leaves the space. Where there are too many, pressures go first, then the
    distance falls to 40 px; type is never made smaller.

    Parameters
    ----------
    wishes
        Sorted by ``y``.
    top, bottom
        The space that labels may cover.

    Examples
    --------
    >>> place([Wish(200.0), Wish(204.0)], 100.0, 400.0).y
    (177.0, 227.0)
    """
    if not wishes:
        return Placed((), ())
    below = [wish.below for wish in wishes]
    if _needed(below) > bottom - top:
        below = [min(b, NAME) for b in below]
    if _needed(below) > bottom - top:
        pitch = min(LEAST_PITCH, (bottom - top) / len(below))
        below = [max(pitch - ABOVE, 0.0)] * len(below)
    steps = [0.0]
    for b in below[:-1]:
        steps.append(steps[-1] + b + ABOVE)
    free = [wish.y - step for wish, step in zip(wishes, steps, strict=True)]
    least = top + ABOVE
    most = bottom - below[-1] - steps[-1]
    heights = [min(max(z, least), most) for z in _pooled(free)]
    return Placed(tuple(z + step for z, step in zip(heights, steps, strict=True)), tuple(below))


def _needed(below: Sequence[float]) -> float:
    return sum(below) + ABOVE * len(below)


def _pooled(values: Sequence[float]) -> list[float]:
    """Give the rising sequence that is nearest to the values by least squares."""
    groups: list[list[float]] = []  # mean, count
    for value in values:
        groups.append([value, 1.0])
        while len(groups) > 1 and groups[-2][0] > groups[-1][0]:
            mean, count = groups.pop()
            before = groups[-1]
            before[0] = (before[0] * before[1] + mean * count) / (before[1] + count)
            before[1] += count
    return [mean for mean, count in groups for _ in range(int(count))]
