"""The record of one visit: what was said, done, used and weighed, apart from all readings.

Nothing here is measured by the program. What was not entered stays unknown: a charge that was never weighed
has no mass, and a rate that was not given makes no price.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

from analysis.refrigerant_ledger import Ledger


@dataclass(frozen=True, slots=True)
class Isolation:
    """The machine was made safe by a person; never derived from readings."""

    who: str
    when: str
    what: str
    second_supplies: tuple[str, ...] = ()
    proven_dead: str = ""
    """How: tester tested, circuit tested, tester tested again."""


@dataclass(frozen=True, slots=True)
class Note:
    """A moment of the session, with what was seen and the photos of it."""

    text: str
    at_s: float = math.nan
    """Session time [s]; NaN where the note belongs to no moment."""
    photos: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Action:
    """Something that was found, and what was done about it."""

    found: str
    did: str = ""


@dataclass(frozen=True, slots=True)
class CoilCleaning:
    """A water coil was cleaned chemically."""

    agent_class: str
    minutes: float = math.nan
    end_ph: float = math.nan
    """pH of the last rinse water; NaN where it was not measured."""
    rinsed: str = ""


@dataclass(frozen=True, slots=True)
class Purge:
    """Air or dirt was flushed out of a loop."""

    what: str
    minutes_forward: float = math.nan
    minutes_reverse: float = math.nan
    dead_head_drop: float = math.nan
    """Fall of the cart's level when dead-headed [m]; shows air that is left."""
    static_pressures: tuple[tuple[float, float], ...] = ()
    """(Minutes after filling, gauge pressure [Pa])."""
    flow: float = math.nan
    """While flushing [m3/s]."""
    bore: float = math.nan
    """Inside diameter of the widest pipe that carries that flow alone [m]."""

    @property
    def velocity(self) -> float:
        """Velocity in that pipe, ``4 q / (pi d^2)`` [m/s]; NaN where flow or bore is not known.

        Examples
        --------
        >>> round(Purge("loop", flow=9 * 6.30902e-5, bore=1.049 * 0.0254).velocity / 0.3048, 2)
        3.34
        """
        return 4.0 * self.flow / (math.pi * self.bore**2) if self.bore > 0.0 else math.nan


@dataclass(frozen=True, slots=True)
class LeakCheck:
    """One place was looked at for a leak."""

    place: str
    found: Literal["tight", "leaks"]
    method: str = ""
    tried_on: str = ""
    """On which known leak the method was tried first."""


@dataclass(frozen=True, slots=True)
class Part:
    """A part was replaced, or its setting changed."""

    what: str
    before: str = ""
    after: str = ""
    number: str = ""


@dataclass(frozen=True, slots=True)
class Work:
    """Hours and ways as plain figures; a price only where a rate was given."""

    labour_h: float = math.nan
    travel_h: float = math.nan
    distance_m: float = math.nan
    access_factor: float = math.nan
    """By how much difficult access lengthened the work, agreed with the office."""
    access_why: str = ""
    labour_rate: float = math.nan
    """Per hour, in :attr:`currency`."""
    travel_rate: float = math.nan
    currency: str = ""

    @property
    def labour_price(self) -> float:
        """Labour times rate and access factor; NaN where hours or rate were not given.

        Examples
        --------
        >>> Work(labour_h=3.0, labour_rate=80.0).labour_price, Work(labour_h=3.0).labour_price
        (240.0, nan)
        """
        factor = self.access_factor if math.isfinite(self.access_factor) else 1.0
        return self.labour_h * self.labour_rate * factor

    @property
    def travel_price(self) -> float:
        """Travel hours times rate; NaN where one of them was not given."""
        return self.travel_h * self.travel_rate


@dataclass(frozen=True, slots=True)
class TemporaryRepair:
    """A repair that must not stay."""

    what: str
    since: str
    """Date, ISO 8601."""
    until: str = ""
    """When it must be replaced at the latest."""
    replaced: str = ""

    @property
    def open(self) -> bool:
        """Whether it still stands."""
        return not self.replaced


@dataclass(frozen=True, slots=True)
class Calibration:
    """What an instrument was calibrated by."""

    instrument: str
    id: str
    date: str = ""


@dataclass(frozen=True, slots=True)
class Untested:
    """Something that the visit did not test."""

    what: str
    why: str = ""


@dataclass(frozen=True, slots=True)
class ForOwner:
    """What the technician answers for towards the owner."""

    broken: Literal["yes", "no", ""] = ""
    broken_how: str = ""
    fixed: tuple[str, ...] = ()
    """Modes in which the technician holds it for fixed."""
    not_fixed: str = ""
    """What is still wrong."""
    watch: str = ""
    """Sentence on what to watch."""
    watch_approved_by: str = ""
    """Who approved that sentence; it is printed only then."""
    to_do: tuple[str, ...] = ()

    @property
    def approved_watch(self) -> str:
        """What to watch, where the technician approved it; nothing else may be printed.

        Examples
        --------
        >>> ForOwner(watch="The strainer.").approved_watch
        ''
        """
        return self.watch if self.watch_approved_by.strip() else ""


@dataclass(frozen=True, slots=True)
class VisitRecord:
    """One visit."""

    report: str = ""
    """Number of the report."""
    site: str = ""
    machine: str = ""
    customer_words: str = ""
    technician: str = ""
    arrived: str = ""
    left: str = ""
    linked_callback: str = ""
    """Number of the report that this visit comes back on."""
    isolations: tuple[Isolation, ...] = ()
    notes: tuple[Note, ...] = ()
    actions: tuple[Action, ...] = ()
    cleanings: tuple[CoilCleaning, ...] = ()
    purges: tuple[Purge, ...] = ()
    leak_checks: tuple[LeakCheck, ...] = ()
    parts: tuple[Part, ...] = ()
    ledger: Ledger = field(default_factory=Ledger)
    work: Work = Work()
    temporary_repairs: tuple[TemporaryRepair, ...] = ()
    calibrations: tuple[Calibration, ...] = ()
    untested: tuple[Untested, ...] = ()
    owner: ForOwner = ForOwner()

    @property
    def photos(self) -> tuple[tuple[str, str], ...]:
        """Photo file names with the text of the note that they belong to."""
        return tuple((photo, note.text) for note in self.notes for photo in note.photos)
