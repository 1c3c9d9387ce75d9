"""A cup of water with several probes in it: how each stands, and what is known of them after a match.

How this is worked out from readings stands in :mod:`analysis.matching`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from analysis.correction import Correction, CupMatch
from analysis.measure import Channel
from analysis.still_mean import StillMean

MEAN, ICE = "mean", "ice"
"""References that are no probe."""


ICE_K = 273.15
AWAY = 0.005 / math.sqrt(3.0)
"""How fast a match wears off with the distance from the cup's temperature: the error of a thermometer of
IEC 60751 class B grows by 0.005 K per K (from memory), taken as rectangular. Used for all
probes of which no larger share of the reading is stated."""


class Lack(StrEnum):
    """Why a cup cannot be taken yet."""

    FEW_PROBES = "few probes"
    SHORT = "short"
    """Read for too short a time."""
    FEW_READINGS = "few readings"
    MOVES = "moves"
    CUP_DRIFTS = "cup drifts"
    STANDS_OUT = "stands out"
    NOT_ICE = "not ice"
    NO_GAIN = "no gain"


@dataclass(frozen=True, slots=True)
class Trouble:
    """What stands against taking the cup, worst first."""

    lack: Lack
    channels: tuple[str, ...] = ()
    """Which probes; none where it is the whole cup."""
    value: float = math.nan
    """How it stands [count, s, K, or K/s]."""
    limit: float = math.nan


@dataclass(frozen=True, slots=True)
class Probe:
    """One probe in the cup (SI)."""

    channel: Channel
    mean: StillMean
    moves: float
    """Drift against the others [K/s]."""
    held: float
    """The offset that holds already [K]."""
    off: float
    """How far it lies from the middle probe, held offsets added; of two, from the other [K]."""
    offset: float
    """What brings its indication to the reference [K]."""
    own: float
    """Standard uncertainty of ``a_i`` [K]."""
    steady: bool


@dataclass(frozen=True, slots=True)
class Cup:
    """A cup as it stands; ``troubles`` is empty when it is even enough to be taken."""

    reference: str
    """A channel, ``mean`` or ``ice``."""
    probes: tuple[Probe, ...]
    at: float
    """Temperature by the reference [K]."""
    shared: float
    """Standard uncertainty that all probes have in common [K]; NaN where none is stated."""
    u_reference: float
    """Standard uncertainty of the reference's mean in the cup [K]."""
    drift: float
    """Of the cup [K/s]."""
    window_s: float
    troubles: tuple[Trouble, ...]

    @property
    def even(self) -> bool:
        """Whether the cup may be taken."""
        return not self.troubles

    def u_offset(self, probe: Probe) -> float:
        """Give the standard uncertainty of a probe's offset towards the reference [K]."""
        return 0.0 if probe.channel.id == self.reference else math.hypot(probe.own, self.u_reference)

    def corrections(self, cup: str) -> dict[str, Correction]:
        """Give the offset of each probe with its evidence; none unless the cup is even.

        Parameters
        ----------
        cup
            Names the cup: its moment in UTC.
        """
        if not self.even:
            return {}
        return {
            probe.channel.id: Correction(
                probe.offset, CupMatch(self.at, probe.own, self.shared, _wears_off(probe), cup)
            )
            for probe in self.probes
        }


def _wears_off(probe: Probe) -> float:
    """Give how fast the match of a probe wears off; as stated where that is faster [K per K]."""
    return max(AWAY, probe.channel.uncertainty_parts[1])


def stated(probe: Probe) -> float:
    """Give the standard uncertainty that is stated for a probe at the cup's temperature [K]; NaN for none."""
    spec, unit = probe.channel.uncertainty, probe.channel.si_unit
    if spec is None:
        return math.nan
    return spec.standard((probe.mean.value - unit.offset) / unit.factor) * unit.factor


def stated_difference(one: Probe, other: Probe) -> float:
    """Give the standard uncertainty of two probes' difference as stated, unmatched [K]; NaN for none."""
    parts = []
    for probe in (one, other):
        shared = probe.channel.shared_uncertainty * probe.channel.si_unit.factor
        alike = bool(one.channel.calibration) and one.channel.calibration == other.channel.calibration
        step = probe.channel.resolution * probe.channel.si_unit.factor / math.sqrt(12.0)
        parts += [math.sqrt(max(stated(probe) ** 2 - (shared**2 if alike else 0.0), 0.0)), step]
    return math.hypot(*parts)


def difference_uncertainty(cup: Cup, one: str, other: str) -> float:
    """Give the standard uncertainty that a match leaves in the difference of two of its probes [K].

    Near the cup's temperature, with the resolution of the two new indications: as the analyser works it out.
    """
    parts = []
    for probe in cup.probes:
        if probe.channel.id in (one, other):
            step = probe.channel.resolution * probe.channel.si_unit.factor
            parts += [probe.own, step / math.sqrt(12.0)]
    return math.hypot(*parts)


def worst_pair(cup: Cup) -> tuple[Probe, Probe] | None:
    """Give the two probes whose difference is known least after the match; None where there are no two."""
    ranked = sorted(cup.probes, key=lambda probe: -probe.own)
    return (ranked[0], ranked[1]) if len(ranked) > 1 else None
