"""SETUP.toml: which devices are read, where their channels sit on the machine, and what the site is."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any, Literal

import msgspec

from analysis.barometer import parse_barometer
from analysis.points import UnknownPointError, point
from analysis.pressure_table import pressure_table
from analysis.saturation import RefusedRefrigerant, SaturationCurve, UnknownRefrigerant, refrigerant
from analysis.timeline import Event
from analysis.units import UnitError
from logger.errors import CommandError, DamagedInputError
from logger.written_file import decode_written, read_written

DECLARED = ("refrigerant", "barometer", "fluid", "load_fluid", "source_coil", "mode", "phase")


class DeviceTable(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """One ``[[device]]``."""

    name: str
    kind: str = ""
    """Overrides the profile's own kind."""
    address: str = ""
    """Port, network address or Bluetooth identity; see ``evenrun scan``."""
    profile: str = ""
    """Name of a shipped profile, or path of a file beside the set-up."""
    options: dict[str, Any] = {}
    """What else the kind takes."""


class Setup(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """Everything that a recording needs to know."""

    title: str = ""
    refrigerant: str = ""
    pressure_table: str = ""
    """A refrigerant maker's pressure-temperature table (CSV) beside the set-up, instead of a shipped one."""
    barometer: str = ""
    """Local pressure ``94.32 kPa(a)`` or altitude ``600 m``."""
    fluid: str = ""
    """What flows on the source side: ``water``, ``propylene_glycol 25 % mass``."""
    load_fluid: str = ""
    source_coil: str = ""
    """One rated point of the source coil: ``0.60 L/s at 28.8 kPa``."""
    card: str = ""
    """The machine's unit card, a file beside the set-up; its text is kept with the session."""
    mode: Literal["", "heating", "cooling"] = ""
    phase: str = ""
    clock: Literal["computer", "device"] = "computer"
    """``device`` follows the time in a simulated machine's lines."""
    device: tuple[DeviceTable, ...] = ()
    assign: dict[str, str] = {}
    """Measuring point to channel, ``suction_pressure = "gauges/ps"``."""
    offset: dict[str, str] = {}
    """Channel to correction, ``"clamps/ts" = "-0.3 K"``."""

    def events(self) -> Iterable[Event]:
        """Give what is declared as events that hold from the start."""
        for kind in DECLARED:
            text = getattr(self, kind)
            if text:
                yield Event(0, 0, kind, "", text)
        for place, channel in self.assign.items():
            yield Event(0, 0, "assign", channel, place)
        for channel, text in self.offset.items():
            yield Event(0, 0, "offset", channel, text)


def load_setup(path: Path) -> tuple[Setup, str]:
    """Read a set-up; gives it and its text.

    Raises
    ------
    CommandError
        If it is missing or wrong; one sentence with the key and what to write.
    """
    text = read_written(path, "set-up")
    setup = decode_written(text, Setup, str(path))
    for problem in _problems(setup):
        raise DamagedInputError(f"{path}: {problem}")
    return setup, text


def _problems(setup: Setup) -> Iterable[str]:
    names = [device.name for device in setup.device]
    for name in names:
        if not re.fullmatch(r"[A-Za-z0-9_-]+", name):
            yield f"[[device]] name '{name}': use letters, digits, '-' and '_' only."
        if names.count(name) > 1:
            yield f"[[device]] name '{name}' stands twice; give each device a name of its own."
    for place, channel in setup.assign.items():
        try:
            point(place)
        except UnknownPointError as unknown:
            yield f"[assign] {unknown}"
        device, slash, _ = channel.partition("/")
        if not slash or device not in names:
            known = ", ".join(names) or "none yet"
            yield f"[assign] {place}: '{channel}' names no device; write DEVICE/CHANNEL (devices: {known})."
    for channel in {c for c in setup.assign.values() if list(setup.assign.values()).count(c) > 1}:
        yield f"[assign] channel '{channel}' feeds two measuring points; a channel feeds one."
    if setup.barometer:
        try:
            parse_barometer(setup.barometer)
        except UnitError as refused:
            yield f"barometer: {refused}"


def find_curve(name: str) -> SaturationCurve:
    """Find a refrigerant's saturation.

    Raises
    ------
    CommandError
        If it is not known, with near names, or refused, with the way out.
    """
    try:
        return refrigerant(name)
    except (UnknownRefrigerant, RefusedRefrigerant) as refused:
        raise CommandError(str(refused)) from None


def curve_of_table(name: str, text: str) -> SaturationCurve:
    """Make a refrigerant's saturation of the pressure-temperature table that a person gave.

    Raises
    ------
    PressureTableError
        If the table cannot be read or believed; one sentence with the line and the way out.
    """
    return pressure_table(text, name=name, source="the pressure-temperature table given with the set-up")
