"""One-cup match: what several thermometers read while all stand in one stirred cup, and what follows of it.

In the middle of the window probe ``i`` reads ``m_i = T + e_i + a_i`` (``e_i``: its fixed error, ``a_i``: what
the cup leaves unknown). Its offset is ``m_ref - m_i``, with ``m_ref`` of a chosen probe, the mean of all, or
the ice point. What remains of its error is ``-a_i``, its own, and the reference's error, which all probes of
the cup share and which a difference of two of them therefore loses::

    u(a_i)^2 = u_A^2 + resolution^2 / 12 + CUP_K^2 / 3 + (slope of the cup * UNLIKE_LAG_S)^2 / 3
             + (slope against the others * LAG_S)^2
    shared^2 = u(reference)^2 + u(a_ref)^2

The first line by GUM 4.2 and 4.3.7, with ``u_A`` from :mod:`analysis.still_mean`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from statistics import median

from analysis.cup import ICE, ICE_K, MEAN, Cup, Probe, stated
from analysis.cup_troubles import LEAST_READINGS, LEAST_SHARE, MOVES_K_PER_S, cup_troubles
from analysis.measure import Channel
from analysis.still_mean import Series, StillMean, resolution_of, still_mean

WINDOW_S = 60.0
"""Length of the window, where the probes read often enough."""
LONGEST_S = 300.0
STEPS = 1.5
"""One step of an indication in the middle of a window tilts the line by so many resolutions per window:
the exact figure of least squares. So much is the resolution's and no drift."""
LAG_S = 30.0
"""Time constant of a probe in stirred water: the slowest usual one (common practice, no source)."""
UNLIKE_LAG_S = 15.0
"""By how much the time constants of probes in one cup differ (common practice, no source)."""
CUP_K = 0.05
"""Within what the water of a stirred cup is one temperature (common practice, no source)."""
ICE_BOUND_K = 0.1
"""Within what a stirred slush of crushed ice and tap water is at 0 °C. ASTM E563 prepares the ice point to
some hundredths of a kelvin (from memory); dissolved salts of tap water lower it by a few hundredths."""


def window_of(channels: Sequence[Channel]) -> float:
    """Give the length of the window that the slowest of these channels needs [s].

    Examples
    --------
    >>> from analysis.units import Quantity
    >>> window_of([Channel("a", Quantity.TEMPERATURE, "degC", expected_interval_s=10.0)])
    150.0
    """
    slowest = max((channel.expected_interval_s for channel in channels), default=1.0)
    return min(max(WINDOW_S, slowest * LEAST_READINGS / LEAST_SHARE), LONGEST_S)


def cup_match(
    series: Sequence[Series], end_s: float, *, reference: str = MEAN, window_s: float | None = None
) -> Cup:
    """Work out how probes stand against each other in one cup.

    Parameters
    ----------
    series
        Each probe's indications, scaled, without offset; those of the last :data:`LONGEST_S`. Offsets that
        hold already count where the probe is the reference or part of it, so that a second match in the same
        cup finds the same.
    end_s
        End of the window, on the same time base [s].
    reference
        A channel's id, ``mean`` for the mean of all, or ``ice``.
    window_s
        Length of the window [s]; what the slowest probe needs by default.

    Raises
    ------
    ValueError
        If the reference is none of the probes.

    Examples
    --------
    Two probes 0.2 K apart, each good to 0.15 K (k = 1); their difference loses all of it but the cup's part:

    >>> import numpy as np
    >>> from analysis.cup import difference_uncertainty
    >>> from analysis.measure import Specification
    >>> from analysis.units import Quantity
    >>> good = Specification(fixed=0.3)
    >>> t = np.arange(0.0, 61.0)
    >>> cup = cup_match([
    ...     Series(Channel(n, Quantity.TEMPERATURE, "degC", uncertainty=good), t, np.full(61, 285.0 + off))
    ...     for n, off in (("water/in", 0.1), ("water/out", -0.1))], 60.0)
    >>> cup.even, [round(probe.offset, 3) for probe in cup.probes], round(cup.shared, 3)
    (True, [-0.1, 0.1], 0.108)
    >>> round(difference_uncertainty(cup, "water/in", "water/out"), 3)
    0.041
    """
    ids = [one.channel.id for one in series]
    if reference not in (MEAN, ICE, *ids):
        raise ValueError(f"'{reference}' is none of {', '.join(ids)}")
    window_s = window_s or window_of([one.channel for one in series])
    middle_s = end_s - window_s / 2.0
    inside = [one.within(end_s - window_s, end_s) for one in series]
    means = [still_mean(one, middle_s) for one in inside]
    slopes = [mean.slope for mean in means if math.isfinite(mean.slope)]
    drift = median(slopes) if slopes else math.nan
    # Ice water stands at its own temperature: a probe that moves in it moves by itself.
    calm = 0.0 if reference == ICE else drift
    probes = tuple(_probe(one, mean, drift, calm, window_s) for one, mean in zip(inside, means, strict=True))
    at, shared, u_reference = _reference(reference, probes)
    heard = [probe.mean.value + probe.held for probe in probes if math.isfinite(probe.mean.value)]
    middle = median(heard) if heard else math.nan
    # Of two probes the middle lies half way between them: what counts is how far they are from each other.
    apart = 2.0 if len(heard) == 2 else 1.0
    probes = tuple(
        replace(probe, offset=at - probe.mean.value, off=apart * (probe.mean.value + probe.held - middle))
        for probe in probes
    )
    cup = Cup(reference, probes, at, shared, u_reference, drift, window_s, ())
    return replace(cup, troubles=tuple(cup_troubles(cup, middle)))


def _probe(one: Series, mean: StillMean, drift: float, calm: float, window_s: float) -> Probe:
    """Judge one probe by itself, against what stands still [K/s]."""
    step = resolution_of(one)
    moves = mean.slope - calm
    truly = max(abs(moves) - STEPS * step / window_s, 0.0)
    own = math.hypot(
        mean.u,
        step / math.sqrt(12.0),
        CUP_K / math.sqrt(3.0),
        drift * UNLIKE_LAG_S / math.sqrt(3.0),
        truly * LAG_S,
    )
    steady = truly + 2.0 * mean.u_slope <= MOVES_K_PER_S
    return Probe(one.channel, mean, moves, one.held, math.nan, math.nan, own, steady)


def _reference(reference: str, probes: Sequence[Probe]) -> tuple[float, float, float]:
    """Give the cup's temperature by the reference, the uncertainty that all share, and that of its mean."""
    if reference == ICE:
        return ICE_K, ICE_BOUND_K / math.sqrt(3.0), 0.0
    if reference != MEAN:
        (probe,) = (one for one in probes if one.channel.id == reference)
        return probe.mean.value + probe.held, math.hypot(stated(probe), probe.own), probe.own
    n = len(probes)
    u_mean = math.sqrt(sum(probe.own**2 for probe in probes)) / max(n, 1)
    together: dict[str, float] = {}
    alone = 0.0
    for number, probe in enumerate(probes):
        shared = probe.channel.shared_uncertainty * probe.channel.si_unit.factor
        alone += stated(probe) ** 2 - shared**2
        calibration = probe.channel.calibration or f" {number}"
        together[calibration] = together.get(calibration, 0.0) + shared
    of_mean = math.sqrt(alone + sum(part**2 for part in together.values())) / max(n, 1)
    at = sum(probe.mean.value + probe.held for probe in probes) / n if n else math.nan
    return at, math.hypot(of_mean, u_mean), u_mean
