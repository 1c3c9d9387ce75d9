"""A machine over its visits: each quantity at like conditions, and whether it drifts.

Weighted straight line through ``n`` visits (time ``t_i``, value ``y_i``, standard uncertainty ``u_i``)::

    w_i = 1 / u_i^2,  b = sum w (t - t0)(y - y0) / sum w (t - t0)^2,  u_b = 1 / sqrt(sum w (t - t0)^2)

(weighted least squares; ``t0`` and ``y0`` weighted means). Where the values scatter by more than they should,
``s = sqrt(chi^2 / (n - 2))`` above 1, the slope must also be beyond Student's t times ``s u_b``.

A repair makes another machine of it: a stretch of the phase *as-left* begins a new series.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from analysis.derived import BY_SYMBOL
from analysis.fairness import judge_fairness, same_probes
from analysis.points import POINTS
from analysis.repeatability import Side, uncertainty_of_change
from analysis.units import Quantity
from analysis.windows import Stretch

YEAR_S = 365.25 * 86400.0
LEAST_VISITS = 3
LEAST_DAYS = 30.0
"""Fewer visits, or closer together, show no drift; our choice, no source."""
LIKE_FLOW = 0.10
"""An approach is only compared where the flows differ by no more; our choice, no source."""
COVERAGE = 2.0
_STUDENT = (12.71, 4.30, 3.18, 2.78, 2.57, 2.45, 2.36, 2.31, 2.26, 2.23)
"""Two-sided 95 % of Student's t for 1 to 10 degrees of freedom (GUM, JCGM 100:2008, table G.2)."""

TRENDS: tuple[tuple[str, str], ...] = (
    ("evaporating_approach", "heat_from_source"),
    ("condensing_approach", "heat_to_source"),
    ("superheat", ""),
    ("subcooling", ""),
    ("heat_to_load", ""),
    ("heat_from_load", ""),
    ("heat_from_source", ""),
    ("heat_to_source", ""),
    ("cop", ""),
    ("source_volume_flow", ""),
    ("source_static_pressure", ""),
)
"""What is followed, and the heat at which it is compared where it grows in proportion to heat."""


class Drift(StrEnum):
    """What may be said about one quantity."""

    DRIFTS = "drifts"
    NOT_SHOWN = "no drift shown"
    TOO_FEW = "too few visits"
    TOO_CLOSE = "visits too close together"
    NO_VALUE = "not measured"


@dataclass(frozen=True, slots=True)
class Dated:
    """One stretch of one visit."""

    name: str
    utc_us: int
    stretch: Stretch
    side: Side


@dataclass(frozen=True, slots=True)
class Entry:
    """One value of a trend (SI)."""

    name: str
    utc_us: int
    value: float
    u: float
    """Standard, of what does not cancel between visits."""


@dataclass(frozen=True, slots=True)
class Trend:
    """One quantity over the visits of a series."""

    symbol: str
    label: str
    quantity: Quantity
    entries: tuple[Entry, ...]
    drift: Drift
    slope: float = math.nan
    """Per year (SI)."""
    u_slope: float = math.nan
    """Standard (k = 1); the larger of what the uncertainties and what the scatter give."""
    limit: float = math.nan
    """A slope beyond this is a drift."""
    per: str = ""
    """Heat at which it is compared, as a symbol."""
    at_heat: float = math.nan
    """[W]"""


@dataclass(frozen=True, slots=True)
class Series:
    """The visits of one mode between two repairs."""

    mode: str
    reference: str
    """The visit that the others are held against."""
    matched: tuple[Dated, ...]
    unmatched: tuple[tuple[str, str], ...]
    """Visit and why it is not at like conditions."""
    trends: tuple[Trend, ...]
    newest: bool = True
    """False where a later repair has begun another series that has too few visits yet."""


def histories(visits: Sequence[Dated]) -> tuple[Series, ...]:
    """Follow a machine, heating and cooling apart.

    Parameters
    ----------
    visits
        Stretches of the same machine in any order; what is not steady cannot match, and the phase ``repair``
        is left out.

    Returns
    -------
    tuple of Series
        One for each mode: the latest series with at least three matched visits, else the latest.
    """
    found = []
    ordered = sorted((v for v in visits if v.stretch.settings.phase != "repair"), key=lambda v: v.utc_us)
    for mode in dict.fromkeys(visit.stretch.settings.mode for visit in ordered):
        parts: list[list[Dated]] = [[]]
        for visit in ordered:
            if visit.stretch.settings.mode == mode:
                if visit.stretch.settings.phase == "as-left" and parts[-1]:
                    parts.append([])
                parts[-1].append(visit)
        made = [_series(mode, part, newest=part is parts[-1]) for part in parts]
        long = [one for one in made if len(one.matched) >= LEAST_VISITS]
        found.append(long[-1] if long else made[-1])
    return tuple(found)


def _series(mode: str, visits: Sequence[Dated], *, newest: bool) -> Series:
    """Hold all visits against the one that has the most like it, the latest of equals."""
    like = [[_why_unlike(one, other) for other in visits] for one in visits]
    best = max(range(len(visits)), key=lambda n: (sum(not why for why in like[n]), n))
    matched = tuple(v for v, why in zip(visits, like[best], strict=True) if not why)
    unmatched = tuple((v.name, why) for v, why in zip(visits, like[best], strict=True) if why)
    reference = visits[best]
    trends = tuple(
        trend
        for symbol, heat in TRENDS
        if (trend := _trend(symbol, heat, matched or (reference,), reference)) is not None
    )
    return Series(mode, reference.name, matched, unmatched, trends, newest)


def _why_unlike(one: Dated, other: Dated) -> str:
    fairness = judge_fairness(one.stretch, other.stretch, one.side.channels, other.side.channels)
    return ", ".join(f"{c.label} {c.alike.value}" for c in fairness.blocking)


def _trend(symbol: str, heat: str, visits: Sequence[Dated], reference: Dated) -> Trend | None:
    """Follow one quantity; None where no visit has it."""
    row = BY_SYMBOL[symbol] if symbol in BY_SYMBOL else POINTS[symbol]
    at_heat = _value(heat, reference) if heat else math.nan
    entries = [_entry(symbol, heat, at_heat, visit, reference) for visit in visits]
    known = [entry for entry in entries if entry is not None]
    if not any(_value(symbol, visit) == _value(symbol, visit) for visit in visits):
        return None
    kind = row.quantity
    label = f"{row.label}, at like heat" if heat else row.label
    common = (symbol, label, kind, tuple(known))
    if not known:
        return Trend(*common, Drift.NO_VALUE, per=heat, at_heat=at_heat)
    if len(known) < LEAST_VISITS:
        return Trend(*common, Drift.TOO_FEW, per=heat, at_heat=at_heat)
    if (known[-1].utc_us - known[0].utc_us) / 1e6 < LEAST_DAYS * 86400.0:
        return Trend(*common, Drift.TOO_CLOSE, per=heat, at_heat=at_heat)
    slope, u, limit = fit(
        [e.utc_us / 1e6 / YEAR_S for e in known], [e.value for e in known], [e.u for e in known]
    )
    drift = Drift.DRIFTS if abs(slope) > limit else Drift.NOT_SHOWN
    return Trend(*common, drift, slope, u, limit, heat, at_heat)


def _value(symbol: str, visit: Dated) -> float:
    mean = visit.stretch.derived.get(symbol) or visit.stretch.points.get(symbol)
    return mean.value if mean is not None else math.nan


def _entry(symbol: str, heat: str, at_heat: float, visit: Dated, reference: Dated) -> Entry | None:
    value, u = _value(symbol, visit), _u(symbol, visit, reference)
    if heat:
        moved = _value(heat, visit)
        flows = _value("source_volume_flow", visit), _value("source_volume_flow", reference)
        if not moved > 0.0 or abs(flows[0] - flows[1]) > LIKE_FLOW * abs(flows[1]):
            return None
        # At one flow an approach grows in proportion to the heat through it.
        factor = at_heat / moved
        u = math.hypot(u * factor, value * factor * _u(heat, visit, reference) / moved)
        value *= factor
    return Entry(visit.name, visit.utc_us, value, u) if math.isfinite(value) else None


def _u(symbol: str, visit: Dated, reference: Dated) -> float:
    """Give what of a visit's uncertainty does not cancel against the reference (k = 1)."""
    fed = visit.stretch.settings.channel_of
    same = same_probes(reference.stretch, visit.stretch, reference.side.channels, visit.side.channels)
    # A visit against itself: the errors of the same probes cancel, those of others count in full.
    taken = {name: same.get(name, False) for name in fed}
    u = uncertainty_of_change(symbol, visit.stretch, visit.stretch, visit.side, visit.side, taken)
    return u / math.sqrt(2.0)


def fit(t: Sequence[float], y: Sequence[float], u: Sequence[float]) -> tuple[float, float, float]:
    """Lay the weighted straight line.

    Parameters
    ----------
    t, y, u
        Time, value and standard uncertainty of at least three visits; where an uncertainty is not known, all
        count alike and the scatter alone decides.

    Returns
    -------
    (slope, standard uncertainty of the slope, limit beyond which the slope is a drift)

    Examples
    --------
    >>> slope, u, limit = fit([0.0, 1.0, 2.0], [5.0, 5.5, 6.0], [0.1, 0.1, 0.1])
    >>> round(slope, 3), round(u, 4), round(limit, 3)
    (0.5, 0.0707, 0.141)
    """
    promised = all(math.isfinite(one) and one > 0.0 for one in u)
    w = [1.0 / one**2 for one in u] if promised else [1.0] * len(t)
    total = math.fsum(w)
    t0 = math.fsum(a * b for a, b in zip(w, t, strict=True)) / total
    y0 = math.fsum(a * b for a, b in zip(w, y, strict=True)) / total
    stt = math.fsum(a * (b - t0) ** 2 for a, b in zip(w, t, strict=True))
    slope = math.fsum(a * (b - t0) * (c - y0) for a, b, c in zip(w, t, y, strict=True)) / stt
    internal = 1.0 / math.sqrt(stt)
    left = [c - y0 - slope * (b - t0) for b, c in zip(t, y, strict=True)]
    free = len(t) - 2
    scatter = math.sqrt(math.fsum(a * r * r for a, r in zip(w, left, strict=True)) / free)
    student = _STUDENT[min(free, len(_STUDENT)) - 1]
    if not promised:
        return slope, scatter * internal, student * scatter * internal
    if scatter <= 1.0:
        return slope, internal, COVERAGE * internal
    return slope, scatter * internal, max(COVERAGE, student * scatter) * internal
