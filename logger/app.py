"""The only place that builds things: adapters, clock, session, analyser and engine from a set-up."""

from __future__ import annotations

import importlib.metadata
import re
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from analysis.analyser import Analyser
from analysis.barometer import parse_barometer
from analysis.pressure_table import PressureTableError
from analysis.saturation import SaturationCurve
from analysis.settings import SettingsError, settings_over_time
from analysis.unit_card import UnitCard
from drivers.base import Adapter, Clock, ProfileError, ProfileMissingError, Timing
from drivers.clock import FollowedClock, SystemClock
from drivers.profile import Profile, find_profile, shipped_profiles
from drivers.registry import Context, Wanted, make_adapter
from logger.alarm_watch import AlarmWatch
from logger.descriptor import SessionHeader
from logger.engine import Engine
from logger.errors import CommandError, DamagedInputError, NotAvailableError
from logger.session_card import card_of
from logger.session_errors import SessionError
from logger.session_writer import SessionWriter
from logger.setup_file import DeviceTable, Setup, curve_of_table, find_curve
from logger.written_file import read_written


@dataclass(frozen=True, slots=True)
class Recording:
    """A recording that is ready to run."""

    engine: Engine
    folder: Path
    setup: Setup
    card: UnitCard | None = None
    """The machine's unit card."""
    curves: Mapping[str, SaturationCurve] = field(default_factory=dict)
    """Saturation of the declared refrigerant, as the findings need it."""


DESCRIBE_THEMSELVES = ("ble_gatt", "ble_broadcast")
"""Kinds that need no profile where the device itself says what it sends."""
_KEY = re.compile(r"""(\bkey\s*=\s*)("[^"\n]*"|'[^'\n]*')""")


def without_keys(setup_text: str) -> str:
    """Take broadcast keys out of a set-up's text, since the session is for others to read.

    Examples
    --------
    >>> without_keys('options = { key = "231d39c1" }')
    'options = { key = "not kept" }'
    """
    return _KEY.sub(r'\1"not kept"', setup_text)


def version() -> str:
    """Give evenrun's version as installed."""
    return importlib.metadata.version("evenrun")


def open_recording(
    setup: Setup,
    setup_text: str,
    folder: Path,
    *,
    beside: Path,
    adapters: Sequence[Adapter] | None = None,
    timing: Timing | None = None,
    card_text: str = "",
    start_utc_ns: int | None = None,
) -> Recording:
    """Make the session folder and everything that fills it.

    Parameters
    ----------
    setup, setup_text
        The set-up and its text as the person wrote it; the text is kept in the session.
    folder
        Of the new session; must not exist.
    beside
        Where relative paths in the set-up start from.
    adapters
        Instead of those that the set-up names.
    card_text
        The machine's unit card, where the set-up does not name a file of it.
    start_utc_ns
        UTC of t = 0 where the clock follows a simulated machine; now by default.

    Raises
    ------
    CommandError
        One sentence with the way out; nothing is left behind.
    """
    table_text = read_pressure_table(setup, beside)
    curves = curves_of(setup, table_text)
    clock: Clock = SystemClock()
    if setup.clock == "device":
        clock = FollowedClock(time.time_ns() if start_utc_ns is None else start_utc_ns)
    timing = timing or Timing()
    context = Context(clock, timing)
    built = list(adapters) if adapters is not None else make_adapters(setup, beside, context)
    card_text = card_text or read_card_text(setup, beside)
    header = SessionHeader(
        title=setup.title,
        software=f"evenrun {version()}",
        libraries={f"saturation of {name}": curve.source for name, curve in curves.items()},
        setup=without_keys(setup_text),
        unit_card=card_text,
        pressure_tables={setup.refrigerant: table_text} if table_text else {},
        barometer_pa=parse_barometer(setup.barometer) if setup.barometer else None,
    )
    try:
        settings_over_time(setup.events(), {})
    except SettingsError as refused:
        raise DamagedInputError(f"The set-up: {refused}") from None
    try:
        writer = SessionWriter.create(folder, header, clock)
    except SessionError as error:
        raise NotAvailableError(str(error)) from None
    analyser = Analyser({}, settings_over_time((), {}), curves)
    card = card_of(card_text, "the unit card") if card_text else None
    engine = Engine(built, writer, analyser, clock, timing, context, AlarmWatch(card))
    engine.declare(list(setup.events()))
    return Recording(engine, folder, setup, card, curves)


def curves_of(setup: Setup, table_text: str) -> Mapping[str, SaturationCurve]:
    """Give the saturation of the declared refrigerant; none where none is declared."""
    if not setup.refrigerant:
        return {}
    try:
        if not table_text:
            return {setup.refrigerant: find_curve(setup.refrigerant)}
        return {setup.refrigerant: curve_of_table(setup.refrigerant, table_text)}
    except PressureTableError as refused:
        raise DamagedInputError(f"{setup.pressure_table}: {refused}") from None
    except CommandError as refused:
        raise DamagedInputError(f"The set-up's refrigerant: {refused}") from None


def read_pressure_table(setup: Setup, beside: Path) -> str:
    """Read the pressure-temperature table that a set-up names; blank where it names none."""
    if not setup.refrigerant or not setup.pressure_table:
        return ""
    path = beside / setup.pressure_table
    return read_written(path, "pressure table")


def read_card_text(setup: Setup, beside: Path) -> str:
    """Read the unit card that a set-up names, and hold it against itself; blank where it names none."""
    if not setup.card:
        return ""
    path = beside / setup.card
    text = read_written(path, "unit card")
    card_of(text, str(path))
    return text


def make_adapters(setup: Setup, beside: Path, context: Context) -> list[Adapter]:
    """Build the adapters that the ``[[device]]`` tables of a set-up ask for."""
    adapters = []
    for device in setup.device:
        profile = _profile(device, beside)
        try:
            wanted = Wanted(device.name, profile, device.address, device.options)
            adapters.append(make_adapter(wanted, context, kind=device.kind))
        except ProfileError as refused:
            raise DamagedInputError(f"[[device]] {device.name}: {refused}") from None
    return adapters


def _profile(device: DeviceTable, beside: Path) -> Profile:
    """Find the profile of a device: a shipped one by its name, or a file beside the set-up."""
    if not device.profile and device.kind in DESCRIBE_THEMSELVES:
        return Profile(title=device.name, kind=device.kind)
    if not device.profile:
        known = ", ".join(shipped_profiles())
        raise CommandError(
            f"[[device]] {device.name} has no profile; name a shipped one ({known}) or a .toml file."
        )
    reference = device.profile
    if reference.endswith(".toml"):
        reference = str(beside / reference)
    try:
        return find_profile(reference)
    except ProfileMissingError as refused:
        raise NotAvailableError(str(refused)) from None
    except ProfileError as refused:
        raise DamagedInputError(str(refused)) from None
