"""The line between the points of a circuit: thick as far as volts are known, ended where they are lost."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.electrical import ChainPoint
from logger.desktop.scene import Path, Role, Sheet

ROWS_Y = (258.0, 408.0)
"""Baselines of the volts of the two rows."""


def draw_line(
    sheet: Sheet, row: Sequence[ChainPoint], y: float, step: float, begin: int, lost_at: int, lost_name: str,
    last_good: int,
    *, joined: bool,
) -> None:  # fmt: skip
    """Draw the line between the points: thick as far as volts are known, thin and dashed after that."""
    for place in range(len(row) + (1 if joined else 0)):
        at = begin + place
        left = 16 + step * (place - 0.5) + 11
        right = 16 + step * (place + 0.5) - 11
        if place == 0 and begin == 0:
            continue
        if place == 0:
            left = 16.0
        if place == len(row):
            whole = at <= last_good or (at == lost_at and last_good == at - 1)
            _down(sheet, left, min(left + step / 2, 1264.0), y, whole and last_good >= 0)
            continue
        if lost_at >= 0 and last_good < at <= lost_at and last_good + 1 < lost_at:
            # Nothing was read in between, so the loss lies anywhere along here.
            lost = f"volts {lost_name}"
            sheet.add(Path(((left, y), (right, y)), Role.OUT, 2, dashed=True, of=lost, name="chain"))
        elif at == lost_at:
            _loss(sheet, lost_name, left, right, y)
        elif at <= last_good and (lost_at < 0 or at < lost_at):
            sheet.add(Path(((left, y), (right, y)), Role.TEXT, 5, name="chain"))
        else:
            sheet.add(Path(((left, y), (right, y)), Role.MARK, 2, dashed=True, name="chain"))


def _down(sheet: Sheet, left: float, right: float, y: float, whole: bool) -> None:
    """Lead the line down to the beginning of the second row."""
    low = ROWS_Y[1] + 18
    points = ((left, y), (right, y), (right, low - 72), (16.0, low - 72), (16.0, low))
    sheet.add(
        Path(points, Role.TEXT if whole else Role.MARK, 5 if whole else 2, dashed=not whole, name="chain")
    )


def _loss(sheet: Sheet, lost_name: str, left: float, right: float, y: float) -> None:
    """End the thick line in a bar, and go on thin and dashed."""
    symbol, middle = f"volts {lost_name}", (left + right) / 2
    sheet.add(Path(((left, y), (middle, y)), Role.TEXT, 5, name="chain"))
    sheet.add(Path(((middle, y - 14), (middle, y + 14)), Role.OUT, 5, of=symbol, name="loss"))
    sheet.add(Path(((middle + 8, y), (right, y)), Role.OUT, 2, dashed=True, of=symbol, name="chain"))
