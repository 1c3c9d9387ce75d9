"""What stands against taking the offsets of a cup, each with its limit, in the order of putting it right."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import combinations
from statistics import median

from analysis.cup import (
    ICE,
    ICE_K,
    Cup,
    Lack,
    Probe,
    Trouble,
    difference_uncertainty,
    stated,
    stated_difference,
)
from analysis.units import Quantity
from analysis.usual_uncertainty import ASSUMED_U

LEAST_READINGS = 12
"""So many readings of each probe: fewer say too little about its scatter (common practice, no source)."""
LEAST_SHARE = 0.8
"""Of the window that a probe's readings must cover."""
MOVES_K_PER_S = 0.1 / 60.0
"""Largest drift of a probe against the others, two standard uncertainties included. One that closes in with
a time constant of 30 s is then within 0.05 K of the cup: half of what matched probes are usually good to
(common practice, no source)."""
COOLS_K_PER_S = 0.3 / 60.0
"""Largest drift of the cup: 0.3 L of water 10 K off the room's air drifts so (our estimate). Faster, and
probes that follow unlike quickly differ by it."""
STANDS_OUT_K = 1.0
"""So far off the others a probe may always lie: what clamp thermometers are usually good to (common practice,
no source)."""
STANDS_OUT = 3.0
"""Further off than so many standard uncertainties, a probe is not believed to be in the cup, or is damaged:
0.3 % of good ones lie outside (GUM table G.1)."""


def cup_troubles(cup: Cup, middle: float) -> Iterable[Trouble]:
    """Find what stands against taking the cup.

    Parameters
    ----------
    cup
        As it stands.
    middle
        Median of the probes' means, offsets that hold already added [K].
    """
    probes = cup.probes
    least = 1 if cup.reference == ICE else 2
    if len(probes) < least:
        yield Trouble(Lack.FEW_PROBES, (), len(probes), least)
        return
    least_s = LEAST_SHARE * cup.window_s
    short = [probe for probe in probes if probe.mean.seconds < least_s]
    few = [probe for probe in probes if probe.mean.rows < LEAST_READINGS]
    if short:
        yield Trouble(Lack.SHORT, _ids(short), min(probe.mean.seconds for probe in short), least_s)
    elif few:
        yield Trouble(Lack.FEW_READINGS, _ids(few), min(p.mean.rows for p in few), LEAST_READINGS)
    if short or few:
        return
    moving = sorted((p for p in probes if not p.steady), key=lambda p: (-abs(p.moves), -abs(p.mean.slope)))
    if moving:
        yield Trouble(Lack.MOVES, _ids(moving), moving[0].moves, MOVES_K_PER_S)
    if abs(cup.drift) > COOLS_K_PER_S:
        yield Trouble(Lack.CUP_DRIFTS, (), cup.drift, COOLS_K_PER_S)
    # One that still closes in lies off the others because of that; said is what is to be put right first.
    still = [p for p in probes if p.steady] if len(probes) > 2 or not moving else []
    out = sorted((p for p in still if abs(p.off) > _may_be_off(p, probes)), key=lambda p: -abs(p.off))
    if out:
        yield Trouble(Lack.STANDS_OUT, _ids(out), out[0].off, _may_be_off(out[0], probes))
    if cup.reference == ICE:
        limit = max(STANDS_OUT_K, STANDS_OUT * min(_believed(probe) for probe in probes))
        if abs(middle - ICE_K) > limit:
            yield Trouble(Lack.NOT_ICE, (), middle - ICE_K, limit)
    if not _gains(cup):
        yield Trouble(Lack.NO_GAIN)


def _ids(probes: Iterable[Probe]) -> tuple[str, ...]:
    return tuple(probe.channel.id for probe in probes)


def _believed(probe: Probe) -> float:
    """Give what is stated for a probe, or what an ordinary one is good for [K]."""
    promised = stated(probe)
    return promised if math.isfinite(promised) else ASSUMED_U[Quantity.TEMPERATURE][0]


def _may_be_off(probe: Probe, probes: Sequence[Probe]) -> float:
    """Give how far a probe may lie from the others [K]."""
    others = median(_believed(one) for one in probes)
    return max(STANDS_OUT_K, STANDS_OUT * math.hypot(_believed(probe), others))


def _gains(cup: Cup) -> bool:
    """Whether a difference, or a lone probe in ice water, is known better after the match than as stated."""
    if len(cup.probes) == 1:
        (only,) = cup.probes
        return not math.hypot(only.own, cup.shared) >= stated(only)
    return any(
        not difference_uncertainty(cup, a.channel.id, b.channel.id) >= stated_difference(a, b)
        for a, b in combinations(cup.probes, 2)
    )
