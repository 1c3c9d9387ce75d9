"""A made-up typed visit of the hall, the afternoon before the recording: for pictures and for audits."""

from __future__ import annotations

from datetime import datetime

from analysis.presets import PresetName
from logger.desktop.bands import bands_of
from logger.desktop.present import Present
from logger.desktop.staged import HALL_CARD
from logger.desktop.typed_page import TypedPage
from logger.typed_sheet import declare

_ROWS = {
    "si": (
        (0.0, "source_leaving_temperature", "-2.4 degC"), (30.0, "source_entering_temperature", "4.0 degC"),
        (60.0, "source_pressure_drop", "10 kPa"), (120.0, "suction_pressure", "5.2 bar(g)"),
        (180.0, "discharge_pressure", "24.5 bar(g)"), (240.0, "liquid_temperature", "30.7 degC"),
        (300.0, "source_entering_temperature", "4.0 degC"),
        (360.0, "source_leaving_temperature", "-2.3 degC"),
        (420.0, "suction_temperature", "-2.4 degC"),
    ),
    "us": (
        (0.0, "suction_pressure", "75.4 psig"), (60.0, "discharge_pressure", "355 psig"),
        (120.0, "liquid_temperature", "87.3 degF"), (180.0, "source_entering_temperature", "39.2 degF"),
        (240.0, "source_leaving_temperature", "27.9 degF"), (420.0, "suction_temperature", "27.7 degF"),
    ),
}  # fmt: skip
_DIGITS = {"si": "5.2", "us": "75.4"}


def staged_typed(preset: PresetName = "si", *, digits: str | None = None) -> tuple[Present, TypedPage]:
    """Type the visit; ``digits`` stand in the entry."""
    sheet = declare(
        refrigerant="R410A", mode="heating", barometer="94.32 kPa(a)", fluid="propylene_glycol 25 % mass",
        coil="0.60 L/s at 28.8 kPa", who="technician A",
    )  # fmt: skip
    for t_s, point, text in _ROWS[preset]:
        sheet.enter(t_s, point, text)
    entry = _DIGITS[preset] if digits is None else digits
    began = datetime(2026, 1, 13, 15, 16)  # noqa: DTZ001 a wall clock, shown as the person's own
    page = TypedPage(sheet, "suction_pressure", entry, 0, 540.0, began)
    bands = bands_of(HALL_CARD.bands, "heating")
    return Present(elapsed_us=540_000_000, title="typed visit", preset=preset, bands=bands), page
