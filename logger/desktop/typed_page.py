"""What the typed view is drawn from."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from analysis.points import POINTS
from analysis.presets import PRESETS, PresetName
from analysis.units import Quantity
from logger.typed_form import FORM_POINTS
from logger.typed_sheet import TypedSheet


@dataclass(frozen=True, slots=True)
class TypedPage:
    """Everything that the view is drawn from."""

    sheet: TypedSheet
    point: str = FORM_POINTS[0]
    digits: str = ""
    page: int = 0
    now_s: float = 0.0
    began: datetime = datetime(2026, 1, 1)  # noqa: DTZ001 a wall clock, shown as the person's own
    """Wall clock at t = 0."""


def entry_unit(point: str, preset: PresetName) -> str:
    """Name the unit in which a point is typed; a pressure as its gauge shows it."""
    quantity = POINTS[point].quantity
    quantity = Quantity.GAUGE_PRESSURE if quantity is Quantity.ABSOLUTE_PRESSURE else quantity
    return PRESETS[preset][quantity].unit


def may_be_negative(point: str) -> bool:
    """Whether the minus key makes sense."""
    return POINTS[point].quantity in (Quantity.TEMPERATURE, Quantity.ABSOLUTE_PRESSURE)
