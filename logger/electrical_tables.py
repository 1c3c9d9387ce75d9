"""The tables of ELECTRICAL.toml: every key that a technician may write, and no other."""

from __future__ import annotations

import math
from typing import Literal

import msgspec

from analysis.electrical_circuits import USUAL_SAFETIES

NAN = math.nan


class _Table(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """A table whose unknown keys are refused."""


class LimitsTable(_Table, frozen=True, kw_only=True):
    """``[limits]``: plate or supply range, and who says so."""

    plate: str = ""
    """``230 V``, or a range ``208-230 V``: plus and minus 10 %."""
    supply: str = ""
    """``207-253 V`` instead of the plate."""
    source: str = "plate"
    tap: str = ""
    """What the transformer's primary is connected for."""
    pull_in: str = ""
    pull_in_source: str = "card"


class SupplyTable(_Table, frozen=True, kw_only=True):
    """One second supply."""

    name: str
    isolated: bool | None = None


class IsolationTable(_Table, frozen=True, kw_only=True):
    """``[isolation]``: a person's entry that the machine is made safe."""

    who: str = ""
    when: str = ""
    proven_dead: bool = False
    meter_proved_before: bool = False
    meter_proved_after: bool = False
    second_supplies: tuple[SupplyTable, ...] | None = None


class ReadingTable(_Table, frozen=True, kw_only=True):
    """``[[circuit.reading]]``: volts at one point."""

    point: str
    volts: str
    loaded: bool | None = None
    time: str = ""
    who: str = ""


class AcrossTable(_Table, frozen=True, kw_only=True):
    """``[[circuit.across]]``: volts straight across the part before a point."""

    point: str
    volts: str
    loaded: bool | None = None


class PointTable(_Table, frozen=True, kw_only=True):
    """``[[circuit.point]]``: one point of a circuit of its own kind."""

    name: str
    part: str
    side: Literal["line", "control"] = "line"
    role: Literal["", "transformer", "fuse", "safety", "control", "contact", "supply"] = ""
    closed_by: str = ""


class CircuitTable(_Table, frozen=True, kw_only=True):
    """``[[circuit]]``."""

    name: str
    kind: Literal["control", "compressor", "pump", "fan", "own"]
    call: bool | None = None
    """Whether the thermostat called while it was read."""
    safeties: tuple[str, ...] = USUAL_SAFETIES
    coil_volts: str = ""
    """Volts of the coil that closes this circuit's contact, where no control circuit gives them."""
    point: tuple[PointTable, ...] = ()
    reading: tuple[ReadingTable, ...] = ()
    across: tuple[AcrossTable, ...] = ()


class LoadTable(_Table, frozen=True, kw_only=True):
    """One load of the transformer [VA]."""

    name: str
    sealed_va: float
    inrush_va: float = 0.0


class TransformerTable(_Table, frozen=True, kw_only=True):
    """``[transformer]``."""

    primary: str = ""
    secondary: str = ""
    """With its leads on."""
    lifted: str = ""
    """With its secondary leads lifted."""
    va: float = 0.0
    fuse: str = ""
    loads: tuple[LoadTable, ...] = ()
    time: str = ""
    who: str = ""


class BranchTable(_Table, frozen=True, kw_only=True):
    """``[[short_hunt.branch]]``."""

    name: str
    load: Literal["switch", "coil"] = "switch"
    to_common: str = ""
    """As the meter shows it, or ``open``."""
    to_earth: str = ""
    lifted: bool = True
    volts: str = ""
    repaired: bool = False
    time: str = ""
    who: str = ""


class AfterTable(_Table, frozen=True, kw_only=True):
    """``[short_hunt.after]``: R to C after the repair."""

    at_rest: str = ""
    under_load: str = ""


class CallTable(_Table, frozen=True, kw_only=True):
    """``[[short_hunt.call]]``: a call that was tried, and whether it blew the fuse."""

    name: str
    branches: tuple[str, ...]
    blew: bool


class ShortHuntTable(_Table, frozen=True, kw_only=True):
    """``[short_hunt]``."""

    common_earthed: bool | None = None
    meter_leads: str = ""
    """Ohms of the meter's own leads, taken off every entry."""
    branch: tuple[BranchTable, ...] = ()
    after: AfterTable | None = None
    call: tuple[CallTable, ...] = ()


class WindingsTable(_Table, frozen=True, kw_only=True):
    """``windings`` of a motor."""

    c_s: str = ""
    c_r: str = ""
    s_r: str = ""
    to_earth: str = ""
    least_to_earth: str = ""
    earth_source: str = "card"
    shell_hot: bool | None = None
    stopped_h: float = NAN


class MotorTable(_Table, frozen=True, kw_only=True):
    """``[[motor]]``."""

    name: str
    terminals: str = ""
    terminals_starting: str = ""
    supply_starting: str = ""
    amps: str = ""
    rated_amps: str = ""
    locked_amps: str = ""
    runs: bool | None = None
    capacitor: str = ""
    capacitor_marked: str = ""
    capacitor_volts: str = ""
    """Across the run capacitor while it runs; with amps and frequency instead of a measured capacitance."""
    capacitor_amps: str = ""
    frequency: str = ""
    start_capacitor: str = ""
    start_capacitor_marked: str = ""
    pressure_ratio: float = NAN
    windings: WindingsTable = WindingsTable()


class ElectricalTable(_Table, frozen=True, kw_only=True):
    """The whole file."""

    title: str = ""
    technician: str = ""
    refrigerant: str = ""
    limits: LimitsTable = LimitsTable()
    isolation: IsolationTable | None = None
    phase_volts: tuple[str, ...] = ()
    circuit: tuple[CircuitTable, ...] = ()
    transformer: TransformerTable | None = None
    short_hunt: ShortHuntTable | None = None
    motor: tuple[MotorTable, ...] = ()
