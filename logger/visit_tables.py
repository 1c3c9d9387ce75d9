"""The visit record as it is written: ``visit.toml``; amounts are texts with their unit.

These structures only say which keys there are; :mod:`logger.visit_file` gives them their meaning.
"""

from __future__ import annotations

import math
from typing import Literal

import msgspec


class VisitTable(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """``[visit]``."""

    report: str = ""
    site: str = ""
    machine: str = ""
    customer_words: str = ""
    technician: str = ""
    arrived: str = ""
    left: str = ""
    linked_callback: str = ""


class IsolationTable(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """``[[isolation]]``."""

    who: str
    when: str
    what: str
    second_supplies: tuple[str, ...] = ()
    proven_dead: str = ""


class MarkTable(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """``[[mark]]``: a note, at a moment of the session or at none."""

    text: str
    at: str = ""
    photos: tuple[str, ...] = ()


class ActionTable(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """``[[action]]``: found, and done about it."""

    found: str
    did: str = ""


class CleaningTable(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """``[[coil_cleaning]]``."""

    agent_class: str
    minutes: float = math.nan
    end_ph: float = math.nan
    rinsed: str = ""


class PressureTable(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """``[[purge.static]]``."""

    minutes: float
    pressure: str


class PurgeTable(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """``[[purge]]``."""

    what: str
    minutes_forward: float = math.nan
    minutes_reverse: float = math.nan
    dead_head_drop: str = ""
    flow: str = ""
    """While flushing, such as ``12 gpm``."""
    bore: str = ""
    """Inside diameter of the widest pipe that carries that flow alone, such as ``26.6 mm``."""
    static: tuple[PressureTable, ...] = ()


class LeakCheckTable(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """``[[leak_check]]``."""

    place: str
    found: Literal["tight", "leaks"]
    method: str = ""
    tried_on: str = ""
    """Known leak on which the method was tried first."""


class PartTable(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """``[[part]]``."""

    what: str
    before: str = ""
    after: str = ""
    number: str = ""


class TransferTable(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """``[[refrigerant.transfer]]``; a mass that was not weighed is left out, never guessed."""

    kind: Literal["recovered", "charged"]
    mass: str = ""
    cylinder: str = ""
    cylinder_before: str = ""
    cylinder_after: str = ""


class RefrigerantTable(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """``[refrigerant]``."""

    name: str = ""
    mass_before: str = ""
    mass_after: str = ""
    weighing_uncertainty: str = ""
    """Expanded (k = 2), of one weighing."""
    leak_test: str = ""
    vacuum: str = ""
    transfer: tuple[TransferTable, ...] = ()


class WorkTable(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """``[work]``."""

    labour_hours: float = math.nan
    travel_hours: float = math.nan
    distance_km: float = math.nan
    access_factor: float = math.nan
    access_why: str = ""
    labour_rate: float = math.nan
    travel_rate: float = math.nan
    currency: str = ""


class TemporaryTable(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """``[[temporary_repair]]``."""

    what: str
    since: str
    until: str = ""
    replaced: str = ""


class CalibrationTable(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """``[[calibration]]``."""

    instrument: str
    id: str
    date: str = ""


class UntestedTable(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """``[[not_tested]]``."""

    what: str
    why: str = ""


class OwnerTable(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """``[owner]``."""

    broken: Literal["yes", "no", ""] = ""
    broken_how: str = ""
    fixed: tuple[Literal["heating", "cooling"], ...] = ()
    not_fixed: str = ""
    watch: str = ""
    watch_approved_by: str = ""
    to_do: tuple[str, ...] = ()


class VisitFile(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """The whole file."""

    visit: VisitTable = VisitTable()
    isolation: tuple[IsolationTable, ...] = ()
    mark: tuple[MarkTable, ...] = ()
    action: tuple[ActionTable, ...] = ()
    coil_cleaning: tuple[CleaningTable, ...] = ()
    purge: tuple[PurgeTable, ...] = ()
    leak_check: tuple[LeakCheckTable, ...] = ()
    part: tuple[PartTable, ...] = ()
    refrigerant: RefrigerantTable = RefrigerantTable()
    work: WorkTable = WorkTable()
    temporary_repair: tuple[TemporaryTable, ...] = ()
    calibration: tuple[CalibrationTable, ...] = ()
    not_tested: tuple[UntestedTable, ...] = ()
    owner: OwnerTable = OwnerTable()
