"""The uncertainty of a change: what remains of the instruments' errors in a difference of two sessions.

Formula (GUM, JCGM 100:2008, 5.2.2 with fully correlated inputs), for ``d = f(x_left) - f(x_found)``::

    u_d^2 = sum over sessions (s^2 / n_eff)
          + sum_i [(c_i,left u_rep,i)^2 + (c_i,found u_rep,i)^2]
          + sum_i  (c_i,left u_i,left - c_i,found u_i,found)^2        the same probe in the same place
          + sum_i [(c_i,left u_i,left)^2 + (c_i,found u_i,found)^2]   another probe
          + sum over calibrations g of (sum_i in g  c_i u_shared,i)^2

Of another probe the part that it shares with others of its calibration or of its cup goes into the last line,
with its sign, and not into the one before: a difference of two probes of one cup does not carry it.
The third line vanishes where the instrument errs by a fixed amount; an error in proportion to the reading
remains in proportion to the change. ``u_rep`` is how well an instrument repeats when it is put on again.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.circumstances import Circumstances
from analysis.derived import BY_SYMBOL
from analysis.elementwise import FloatArray
from analysis.measure import Channel
from analysis.measured import common_error
from analysis.points import POINTS
from analysis.settings import Settings
from analysis.uncertainty import propagate
from analysis.units import Quantity
from analysis.windows import Mean, Stretch

REPOSITION_K = 0.3 / 1.8
"""Putting a temperature probe on again, each time, standard: 0.3 °F. Common practice, no source."""
REPEAT_FRACTION = 0.25
"""How well any other instrument repeats (zero, hysteresis, connection), as a fraction of its own standard
uncertainty. Common practice, no source."""

CircumstancesOf = Callable[[Settings], Circumstances]


@dataclass(frozen=True, slots=True)
class Side:
    """One session, as far as a comparison needs it."""

    stretches: Sequence[Stretch]
    channels: Mapping[str, Channel]
    circumstances: CircumstancesOf
    """Makes of the declared settings what the functions of derived values need."""


def effective_rows(mean: Mean) -> float:
    """Say how many independent rows a stretch is worth.

    ``n_eff = n (1 - rho) / (1 + rho)``, never more than n and never less than one. A sample's rho comes out
    too small by about (1 + 4 rho)/n (Marriott and Pope 1954, Biometrika 41, page 390; from memory), which is
    put right first, so that short stretches are not overrated.

    Examples
    --------
    >>> round(effective_rows(Mean(0.0, 0.0, 1.0, 100_000, 0.5)), -2)
    33300.0
    >>> effective_rows(Mean(0.0, 0.0, 1.0, 600, 0.999))
    1.0
    """
    n = mean.rows
    if n < 6 or not math.isfinite(mean.rho):
        return 1.0
    rho = min(max((mean.rho + 1.0 / n) / (1.0 - 4.0 / n), 0.0), 1.0)
    return max(n * (1.0 - rho) / (1.0 + rho), 1.0)


def variance_of_mean(mean: Mean) -> float:
    """Give the variance of a mean over rows that depend on each other.

    ``s^2 / n_eff``, times ``nu / (nu - 2)`` with ``nu = n_eff - 1`` (at least 3) since the spread itself is
    known from few rows only (GUM Supplement 1, JCGM 101:2008, 6.4.9.4: a scaled and shifted t-distribution).

    Examples
    --------
    >>> variance_of_mean(Mean(0.0, 0.0, 2.0, 5, float("nan")))
    12.0
    """
    if not mean.rows:
        return math.nan
    n_eff = effective_rows(mean)
    nu = max(n_eff - 1.0, 3.0)
    return mean.spread**2 / n_eff * nu / (nu - 2.0)


def instrument_part(mean: Mean) -> float:
    """Give the instruments' part of a mean's standard uncertainty; NaN where nothing is promised.

    Examples
    --------
    >>> round(instrument_part(Mean(300.0, 0.5, 3.0, 100)), 6)
    0.4
    """
    if not (mean.rows and math.isfinite(mean.u)):
        return math.nan
    return math.sqrt(max(mean.u**2 - mean.spread**2 / mean.rows, 0.0))


def uncertainty_of_change(
    symbol: str,
    found: Stretch,
    left: Stretch,
    side_found: Side,
    side_left: Side,
    same_probe: Mapping[str, bool],
) -> float:
    """Work out the standard uncertainty (k = 1) of ``as left - as found`` of one quantity.

    Parameters
    ----------
    symbol
        A measuring point or a derived value.
    found, left
        The two stretches.
    side_found, side_left
        The sessions that they belong to.
    same_probe
        Measuring point to whether the same probe sat on it in both sessions.

    Returns
    -------
    float
        In SI; NaN where a value is missing or nothing is promised about an instrument in it.
    """
    a, b = _Inputs.of(symbol, found, side_found), _Inputs.of(symbol, left, side_left)
    if a is None or b is None:
        return math.nan
    n = len(a.values)

    def difference(*values: FloatArray) -> FloatArray:
        return b.function(*values[n:]) - a.function(*values[:n])

    independent = [*a.repeat, *b.repeat]
    shared: list[dict[int, FloatArray]] = []
    for i, (name, u_found) in enumerate(zip(a.names, a.instrument, strict=True)):
        j = b.names.index(name) if name in b.names else -1
        alike = j >= 0 and same_probe.get(name, name.startswith(_PARAMETER))
        if alike and math.isfinite(u_found) and math.isfinite(b.instrument[j]):
            shared.append({i: np.array([u_found]), n + j: np.array([b.instrument[j]])})
    together: dict[str, dict[int, FloatArray]] = {}
    for begin, one, other in ((0, a, b), (n, b, a)):
        for i, name in enumerate(one.names):
            if name in other.names and same_probe.get(name, name.startswith(_PARAMETER)):
                continue
            calibration, common = one.common[i]
            own = math.sqrt(max(one.instrument[i] ** 2 - common**2, 0.0))
            independent[begin + i] = math.hypot(independent[begin + i], own)
            if calibration:
                together.setdefault(calibration, {})[begin + i] = np.array([common])
    shared += together.values()
    arrays = [np.array([value]) for value in (*a.values, *b.values)]
    _, u = propagate(difference, arrays, [np.array([part]) for part in independent], shared)
    return math.sqrt(a.of_mean + b.of_mean + float(u[0]) ** 2)


_PARAMETER = "parameter "


@dataclass(frozen=True, slots=True)
class _Inputs:
    """What one value of one stretch is worked out from."""

    names: tuple[str, ...]
    values: tuple[float, ...]
    repeat: tuple[float, ...]
    instrument: tuple[float, ...]
    common: tuple[tuple[str, float], ...]
    """Of each input the calibration or cup, and the error that it shares with others of that."""
    function: Callable[..., FloatArray]
    of_mean: float
    """Variance of the mean over rows that depend on each other."""

    @classmethod
    def of(cls, symbol: str, stretch: Stretch, side: Side) -> _Inputs | None:
        mean = stretch.points.get(symbol) if symbol in POINTS else stretch.derived.get(symbol)
        if mean is None or not mean.rows:
            return None
        of_mean = variance_of_mean(mean)
        if symbol in POINTS:
            return cls(
                (symbol,), (mean.value,), (_repeat(symbol, stretch, side),), (instrument_part(mean),),
                (_common(symbol, stretch, side),), np.asarray, of_mean,
            )  # fmt: skip
        row, points = BY_SYMBOL[symbol], stretch.inputs[symbol]
        known = dataclasses.replace(side.circumstances(stretch.settings), fed_by=points)
        parameters = row.parameters(known)

        def function(*values: FloatArray) -> FloatArray:
            return np.asarray(row.function(known, *values))

        return cls(
            (*points, *(f"{_PARAMETER}{n}" for n in range(len(parameters)))),
            (*(stretch.points[name].value for name in points), *(value for value, _ in parameters)),
            (*(_repeat(name, stretch, side) for name in points), *(0.0 for _ in parameters)),
            (*(instrument_part(stretch.points[name]) for name in points), *(u for _, u in parameters)),
            (*(_common(name, stretch, side) for name in points), *(("", 0.0) for _ in parameters)),
            function,
            of_mean,
        )


def _common(name: str, stretch: Stretch, side: Side) -> tuple[str, float]:
    """Give calibration or cup of a point's probe, and the error that it shares (k = 1)."""
    channel = side.channels.get(stretch.settings.channel_of.get(name, ""))
    return ("", 0.0) if channel is None else common_error(stretch.settings, channel)


def _repeat(name: str, stretch: Stretch, side: Side) -> float:
    """Give what of one instrument does not cancel (k = 1), rounding of its indication included."""
    if POINTS[name].quantity is Quantity.TEMPERATURE:
        again = REPOSITION_K
    else:
        again = REPEAT_FRACTION * instrument_part(stretch.points[name])
    channel = side.channels.get(stretch.settings.channel_of.get(name, ""))
    if channel is None:
        return again
    scale = stretch.settings.scale.get(channel.id, 1.0)
    # Half a step of the indication, rectangular (GUM F.2.2.1).
    return math.hypot(again, channel.resolution * channel.si_unit.factor * abs(scale) / math.sqrt(12.0))
