"""Fairness: whether two sessions are alike enough that a difference says something about the machine.

Only boundary conditions decide: what comes to the machine from outside and does not depend on its health.
Flow, heat, superheat and the like are outcomes; a repair may change them, and they never make a pair unfair.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import Enum

from analysis.correction import CupMatch
from analysis.liquids import Liquid
from analysis.measure import Channel
from analysis.points import POINTS
from analysis.settings import Settings
from analysis.units import Quantity
from analysis.windows import Mean, Stretch

ENTERING_LIMIT_K = 3.0 / 1.8
"""Entering temperatures may differ by 3 °F (1.67 K). Common practice, no source."""
VOLTAGE_LIMIT = 0.05
"""A supply voltage that differs by more than 5 % is stated. Common practice, no source."""
LIMITS_SOURCE = "common practice, no published source"

_ENTERING_SOURCE = ("source_entering_temperature",)
_ENTERING_LOAD = ("load_entering_temperature", "return_air_temperature")


class Alike(Enum):
    """How a condition of one session stands to that of the other."""

    ALIKE = "alike"
    UNLIKE = "unlike"
    NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True)
class Condition:
    """One condition, as it was in both sessions."""

    name: str
    label: str
    alike: Alike
    blocks: bool
    """Whether differences cannot be judged because of it."""
    as_found: float | str | None
    """A number in SI, a word, or None where it is not known."""
    as_left: float | str | None
    quantity: Quantity | None = None
    limit: float | None = None
    """Largest difference that is allowed [SI; for the supply voltage a fraction]."""
    remark: str = ""


@dataclass(frozen=True, slots=True)
class Fairness:
    """All conditions, and what they mean together."""

    conditions: tuple[Condition, ...]
    same_probe: Mapping[str, bool]
    """Measuring point, where both sessions have it, to whether one and the same channel fed it."""

    @property
    def fair(self) -> bool:
        """Whether differences may be judged."""
        return not self.blocking

    @property
    def blocking(self) -> tuple[Condition, ...]:
        """Conditions because of which they may not."""
        return tuple(condition for condition in self.conditions if condition.blocks)


def judge_fairness(
    as_found: Stretch,
    as_left: Stretch,
    channels_found: Mapping[str, Channel],
    channels_left: Mapping[str, Channel],
) -> Fairness:
    """Hold the boundary conditions of two stretches against each other.

    Parameters
    ----------
    as_found, as_left
        The stretches that are compared.
    channels_found, channels_left
        Channels of each session by id.

    Returns
    -------
    Fairness
        With one condition each for mode, steadiness, refrigerant, entering source water, entering load water
        or return air, supply voltage and probes, and for each fluid that is declared.

    Notes
    -----
    Limits: entering temperatures within 3 °F, supply voltage within 5 % (common practice, no source).
    """
    same = same_probes(as_found, as_left, channels_found, channels_left)
    conditions = [
        _mode(as_found, as_left),
        _steadiness(as_found, as_left),
        _refrigerant(as_found, as_left),
        _entering("source", _ENTERING_SOURCE, as_found, as_left),
        _entering("load", _ENTERING_LOAD, as_found, as_left),
        *_fluid("source", as_found.settings.source_liquid, as_left.settings.source_liquid),
        *_fluid("load", as_found.settings.load_liquid, as_left.settings.load_liquid),
        *_voltage(as_found, as_left),
        _probes(same),
    ]
    return Fairness(tuple(conditions), same)


def same_probes(
    as_found: Stretch,
    as_left: Stretch,
    channels_found: Mapping[str, Channel],
    channels_left: Mapping[str, Channel],
) -> dict[str, bool]:
    """Say for each point of both stretches whether the same probe sat on it.

    A channel of the same id with another specification, source or correction is another instrument, or the
    same one after a new calibration: its errors are no longer the old ones and do not cancel.
    """
    found: dict[str, bool] = {}
    for name, id_found in as_found.settings.channel_of.items():
        id_left = as_left.settings.channel_of.get(name)
        if id_left is None:
            continue
        one, other = channels_found.get(id_found), channels_left.get(id_left)
        found[name] = (
            id_found == id_left
            and one is not None
            and other is not None
            and (one.quantity, one.unit, one.uncertainty, one.source)
            == (other.quantity, other.unit, other.uncertainty, other.source)
            and _correction(as_found.settings, id_found) == _correction(as_left.settings, id_left)
        )
    return found


def _correction(held: Settings, channel: str) -> tuple[float, float, CupMatch | None]:
    return held.scale.get(channel, 1.0), held.offset.get(channel, 0.0), held.matched.get(channel)


def _words(name: str, label: str, one: str, other: str, *, undeclared_blocks: bool, remark: str) -> Condition:
    """Compare two declarations."""
    if one and other:
        alike = Alike.ALIKE if one == other else Alike.UNLIKE
        blocks = alike is Alike.UNLIKE
    else:
        alike, blocks = Alike.NOT_KNOWN, undeclared_blocks or bool(one or other)
    return Condition(
        name,
        label,
        alike,
        blocks,
        one or None,
        other or None,
        remark=remark if alike is Alike.NOT_KNOWN else "",
    )


def _mode(one: Stretch, other: Stretch) -> Condition:
    return _words(
        "mode", "mode", one.settings.mode, other.settings.mode, undeclared_blocks=True,
        remark="declare it with: evenrun correct SESSION mode heating (or cooling)",
    )  # fmt: skip


def _refrigerant(one: Stretch, other: Stretch) -> Condition:
    return _words(
        "refrigerant", "refrigerant", one.settings.refrigerant, other.settings.refrigerant,
        undeclared_blocks=False, remark="declare it with: evenrun correct SESSION refrigerant NAME",
    )  # fmt: skip


def _steadiness(one: Stretch, other: Stretch) -> Condition:
    both = one.steady and other.steady
    words = {True: "steady", False: "not steady"}
    return Condition(
        "steadiness", "steadiness", Alike.ALIKE if both else Alike.UNLIKE, not both,
        words[one.steady], words[other.steady],
        remark="" if both else "readings that have not settled cannot be compared",
    )  # fmt: skip


def _entering(side: str, names: tuple[str, ...], one: Stretch, other: Stretch) -> Condition:
    """Compare what enters one side; the first of the points that both sessions have."""
    name = next((n for n in names if _known(one, n) and _known(other, n)), "")
    if not name:
        name = next((n for n in names if _known(one, n) or _known(other, n)), names[0])
    place = POINTS[name]
    a, b = _value(one, name), _value(other, name)
    if a is None or b is None:
        return Condition(
            f"entering_{side}", place.label, Alike.NOT_KNOWN, True, a, b, place.quantity, ENTERING_LIMIT_K,
            remark="not measured in both sessions",
        )  # fmt: skip
    apart = abs(b - a) > ENTERING_LIMIT_K
    alike = Alike.UNLIKE if apart else Alike.ALIKE
    remark = "too far apart, and no correction is made" if apart else ""
    return Condition(
        f"entering_{side}", place.label, alike, apart, a, b, place.quantity, ENTERING_LIMIT_K, remark
    )


def _fluid(side: str, one: Liquid | None, other: Liquid | None) -> list[Condition]:
    """Compare the declared fluids, where there are any; a repair may change them, so they forbid nothing."""
    if one is None and other is None:
        return []
    a, b = fluid_words(one), fluid_words(other)
    found = _words(f"{side}_fluid", f"{side} fluid", a, b, undeclared_blocks=False, remark="")
    remark = (
        "" if found.alike is Alike.ALIKE else "heat and freeze margin count with the fluid of each session"
    )
    return [replace(found, blocks=False, remark=remark)]


def fluid_words(fluid: Liquid | None) -> str:
    """Name a liquid with its composition; empty where none is declared."""
    if fluid is None:
        return ""
    name = fluid.name.replace("_", " ")
    return f"{name} {fluid.mass_fraction:.0%} by mass" if fluid.mass_fraction else name


def _voltage(one: Stretch, other: Stretch) -> list[Condition]:
    name = "supply_voltage"
    a, b = _value(one, name), _value(other, name)
    place = POINTS[name]
    if a is None or b is None:
        return [
            Condition(
                name, place.label, Alike.NOT_KNOWN, False, a, b, place.quantity, VOLTAGE_LIMIT,
                "not measured in both sessions",
            )
        ]  # fmt: skip
    apart = abs(b - a) > VOLTAGE_LIMIT * abs(a)
    return [
        Condition(
            name, place.label, Alike.UNLIKE if apart else Alike.ALIKE, False, a, b, place.quantity,
            VOLTAGE_LIMIT, "differs by more than 5 %: power and current differ with it" if apart else "",
        )
    ]  # fmt: skip


def _probes(same: Mapping[str, bool]) -> Condition:
    other = [POINTS[name].label for name, alike in same.items() if not alike]
    where = ", ".join(other) if len(other) <= 3 else f"{len(other)} of {len(same)} points"
    if not same:
        return Condition(
            "probes",
            "probes",
            Alike.NOT_KNOWN,
            True,
            None,
            None,
            remark="no measuring point is in both sessions",
        )
    alike = Alike.UNLIKE if other else Alike.ALIKE
    remark = f"other probes at {where}: there the full uncertainty of the instruments counts" if other else ""
    return Condition("probes", "probes", alike, False, "", "", remark=remark)


def _known(stretch: Stretch, name: str) -> bool:
    return _value(stretch, name) is not None


def _value(stretch: Stretch, name: str) -> float | None:
    mean: Mean | None = stretch.points.get(name)
    return mean.value if mean is not None and math.isfinite(mean.value) else None
