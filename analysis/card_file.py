"""The unit card as it is written: ``unit.toml`` with every value as text, unit and source beside it.

These structures only say which keys there are; :mod:`analysis.unit_card` gives them their meaning.
"""

from __future__ import annotations

from typing import Literal

import msgspec


class UnitTable(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """``[unit]``: the plate."""

    title: str
    kind: Literal["water to water", "water to air"]
    serial: str = ""
    circuits: int = 1
    variable_speed_compressor: bool = False
    supply: str = ""
    """Rated voltage, such as ``230 V``."""
    source: str


class RefrigerantTable(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """``[refrigerant]``."""

    name: str
    charge: str = ""
    """Mass on the plate, such as ``1.03 kg``."""
    source: str


class MeteringTable(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """``[metering]``: what feeds the evaporator, in each mode."""

    heating: Literal["expansion valve", "fixed orifice", "not known"] = "not known"
    cooling: Literal["expansion valve", "fixed orifice", "not known"] = "not known"
    receiver: bool = False
    source: str


class SourceSideTable(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """``[source_side]``: what carries heat to or from the ground, lake or well."""

    loop: Literal["closed pressurised", "closed non-pressurised", "open"]
    fluid: str
    """``water``, ``propylene_glycol 25 % mass``."""
    water_regulating_valve: bool = False
    variable_speed_pump: bool = False
    pump_capacitor: str = ""
    """As marked on it, such as ``5.0 uF``."""
    source: str


class LoadSideTable(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """``[load_side]``, for water."""

    fluid: str = "water"
    source: str


class CutOutTable(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """``[low_temperature_cut_out]``."""

    setting: str
    at: Literal["evaporating temperature", "refrigerant liquid line", "leaving water"]
    source: str


class LimitTable(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """One ``[[limit]]``: the band of one quantity."""

    symbol: str
    mode: Literal["", "heating", "cooling"] = ""
    low: str = ""
    high: str = ""
    act_below: str = ""
    act_above: str = ""
    source: str


class PressureDropTable(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """``[pressure_drop]``: the source coil's table, one row of drops for each temperature."""

    flows: tuple[str, ...]
    temperatures: tuple[str, ...]
    drops: tuple[tuple[str, ...], ...]
    fluid: str = "water"
    source: str


class PerformanceTable(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """One ``[[performance]]``: capacity and power over the entering source temperature at one flow."""

    mode: Literal["heating", "cooling"]
    flow: str
    load_entering: str
    source_entering: tuple[str, ...]
    capacity: tuple[str, ...]
    """Heat to the load when heating, from the load when cooling."""
    power: tuple[str, ...]
    cop: tuple[float, ...] = ()
    """As printed; it is worked out again."""
    source: str


class CardFile(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """A whole ``unit.toml``."""

    unit: UnitTable
    refrigerant: RefrigerantTable
    metering: MeteringTable
    source_side: SourceSideTable
    load_side: LoadSideTable | None = None
    low_temperature_cut_out: CutOutTable | None = None
    limit: tuple[LimitTable, ...] = ()
    pressure_drop: PressureDropTable | None = None
    performance: tuple[PerformanceTable, ...] = ()
