"""The heat balance between the sides that are measured: whether it closes, and what closes it worst.

What enters the refrigerant must leave it: heat of the evaporating side + power = heat of the condensing side.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from analysis.elementwise import FloatOrArray, elementwise, only_where

CLOSES_WITHIN = 0.08
DOUBTFUL_WITHIN = 0.15
LIMITS_SOURCE = "field suggestion, common practice, no source"
_COVERAGE = 2.0


class BalanceGrade(StrEnum):
    """How well a heat balance closes."""

    CLOSES = "closes"
    DOUBTFUL = "doubtful"
    NOT_TRUSTED = "not_trusted"
    CANNOT_SAY = "cannot_say"


@dataclass(frozen=True, slots=True)
class HeatTerm:
    """One heat rate or power of the balance.

    Parameters
    ----------
    name
        Its symbol or name.
    value
        Heat into the refrigerant [W]: positive entering (evaporating side, power), negative leaving.
    contributions
        Standard uncertainty that each measured input brings to this term [W].
    """

    name: str
    value: float
    contributions: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class HeatBalance:
    """A graded heat balance.

    Attributes
    ----------
    closure
        (leaving - entering) / leaving [1]; heat lost by the shell makes it negative.
    u
        Standard uncertainty of the closure [1].
    grade
        With the limits of this module.
    worst_term, worst_input, worst_share
        The term and its input with the largest share of the variance, and that share [1].
    reason
        One sentence.
    """

    closure: float
    u: float
    grade: BalanceGrade
    worst_term: str
    worst_input: str
    worst_share: float
    reason: str


@elementwise
def closure(heat_leaving: FloatOrArray, heat_entering: FloatOrArray, power: FloatOrArray) -> FloatOrArray:
    """Relative closure (leaving - entering - power) / leaving.

    Parameters
    ----------
    heat_leaving
        Heat of the condensing side as a positive number [W].
    heat_entering
        Heat of the evaporating side as a positive number [W].
    power
        Power that ends in the refrigerant [W], not negative.

    Returns
    -------
    FloatOrArray
        Closure [1].

    Examples
    --------
    The hall as left: 12.1 kW to the floor, 9.3 kW from the brine, 2.96 kW.

    >>> round(closure(12100.0, 9300.0, 2960.0), 3)
    -0.013
    """
    leaving, entering, power = map(np.asarray, (heat_leaving, heat_entering, power))
    possible = (leaving > 0) & (entering >= 0) & (power >= 0)
    return only_where(possible, (leaving - entering - power) / leaving)


def heat_balance(terms: Sequence[HeatTerm]) -> HeatBalance:
    """Grade a heat balance and name what makes it most uncertain.

    Within 8 % it closes, to 15 % it is doubtful, beyond it is not trusted. When the closure's own expanded
    uncertainty is above 15 % a small closure is luck, and nothing is said.

    Parameters
    ----------
    terms
        All heat rates and powers of the balance; at least one enters and one leaves.

    Returns
    -------
    HeatBalance
        Grade and reason.

    Examples
    --------
    >>> hall = heat_balance([
    ...     HeatTerm("source_heat", 9300.0, {"source_flow": 450.0, "source_temperature_change": 480.0}),
    ...     HeatTerm("load_heat", -12100.0, {"load_flow": 360.0, "load_temperature_change": 310.0}),
    ...     HeatTerm("compressor_power", 2960.0, {"power_meter": 30.0})])
    >>> hall.grade.value, round(hall.closure, 3), hall.worst_input
    ('closes', -0.013, 'source_temperature_change')
    """
    missing = [term.name for term in terms if not np.isfinite(term.value)]
    unstated = [
        term.name
        for term in terms
        if not term.contributions or not all(np.isfinite(u) and u >= 0 for u in term.contributions.values())
    ]
    leaving = -sum(term.value for term in terms if term.value < 0)
    entering = sum(term.value for term in terms if term.value > 0)
    if missing or leaving <= 0 or entering <= 0:
        what = f"{' and '.join(missing)} is not known" if missing else "no heat enters or none leaves"
        return _unknown(f"no balance: {what}")
    value = (leaving - entering) / leaving
    if unstated:
        return _unknown(f"no grade: the uncertainty of {' and '.join(unstated)} is not stated", value)
    # d closure / d entering = -1 / leaving; d closure / d leaving = entering / leaving^2.
    variances = {
        (term.name, name): (u * (1 / leaving if term.value >= 0 else entering / leaving**2)) ** 2
        for term in terms
        for name, u in term.contributions.items()
    }
    total = sum(variances.values())
    u = total**0.5
    (worst_term, worst_input), largest = max(variances.items(), key=lambda item: item[1])
    share = largest / total if total > 0 else float("nan")
    off, own = abs(value), _COVERAGE * u
    stated = f"closure {100 * value:.1f} % +- {100 * own:.1f} %"
    if own > DOUBTFUL_WITHIN and off - own <= DOUBTFUL_WITHIN:
        grade, meaning = BalanceGrade.CANNOT_SAY, "too uncertain to grade"
    elif off <= CLOSES_WITHIN:
        grade, meaning = BalanceGrade.CLOSES, f"within {100 * CLOSES_WITHIN:.0f} %"
    elif off <= DOUBTFUL_WITHIN:
        grade, meaning = BalanceGrade.DOUBTFUL, f"above {100 * CLOSES_WITHIN:.0f} %: doubtful"
    else:
        grade, meaning = BalanceGrade.NOT_TRUSTED, f"above {100 * DOUBTFUL_WITHIN:.0f} %: not trusted"
    reason = f"{stated}, {meaning} ({LIMITS_SOURCE}); most uncertain: {worst_input} of {worst_term}"
    return HeatBalance(value, u, grade, worst_term, worst_input, share, reason)


def _unknown(reason: str, value: float = float("nan")) -> HeatBalance:
    nan = float("nan")
    return HeatBalance(value, nan, BalanceGrade.CANNOT_SAY, "", "", nan, reason)
