"""A visit with plain gauges: what rows typed by hand mean, by themselves and beside live probes.

Nothing need be set up. A gauge of class 1.0 and a clamp of ± 1 K are assumed, said so, and changeable. One
row is a *single look*; two rows of a point at least 5 min apart that agree within uncertainty, with none
between that does not, are *repeats*. A row counts as present for 20 min. None of this is ever called steady.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from analysis.barometer import STANDARD_ATMOSPHERE_PA
from analysis.circumstances import Circumstances
from analysis.derived import REGISTRY, Derived
from analysis.measure import Channel
from analysis.points import point
from analysis.presets import duration
from analysis.typed_channels import TYPED_HOLD_S, TypedRow
from analysis.uncertainty import propagate
from analysis.units import Quantity

REPEAT_AFTER_S = 300.0
"""Least time between two rows that repeat each other; the window of a steadiness test."""


class Look(IntEnum):
    """How far a typed value may be believed; a gap takes the weakest of its points."""

    OLD = 0
    SINGLE = 1
    REPEATS = 2
    LIVE = 3

    @property
    def words(self) -> str:
        """Words for people."""
        return {0: "not judged", 1: "single look", 2: "repeats", 3: "live"}[int(self)]


@dataclass(frozen=True, slots=True)
class LiveValue:
    """What a probe says now (SI; pressures absolute)."""

    value: float
    u: float
    age_s: float
    hold_s: float


@dataclass(frozen=True, slots=True)
class Present:
    """What is known at one measuring point now (SI; pressures absolute)."""

    point: str
    value: float
    u: float
    age_s: float
    look: Look
    channel: Channel | None
    """None for a live value."""
    disagrees: str = ""
    """Said where a typed and a live value of the point differ by more than both allow."""


@dataclass(frozen=True, slots=True)
class Gap:
    """One derived value of a typed visit."""

    symbol: str
    label: str
    quantity: Quantity
    value: float
    u: float
    """Standard uncertainty (k = 1)."""
    inputs: tuple[str, ...]
    look: Look
    words: str
    """State in words: single look, repeats, or how long ago it was typed."""

    @property
    def judged(self) -> bool:
        """Whether the value may be held against a band."""
        return self.look is not Look.OLD and math.isfinite(self.value)


@dataclass(frozen=True, slots=True)
class TypedVisit:
    """Everything that a typed visit says at one moment."""

    looks: tuple[Look, ...]
    """One for each row, in the order given."""
    present: Mapping[str, Present]
    gaps: tuple[Gap, ...]
    missing: Mapping[str, tuple[str, ...]]
    """Derived value to what it lacks."""

    def gap(self, symbol: str) -> Gap | None:
        """Give one derived value; None where it is not worked out."""
        return next((gap for gap in self.gaps if gap.symbol == symbol), None)


def looks(rows: Sequence[TypedRow], changed_s: float = -math.inf) -> tuple[Look, ...]:
    """Say for each row whether it is a single look or repeats an earlier one.

    Parameters
    ----------
    rows
        In the order of time.
    changed_s
        When the machine was last changed or started [s]; rows before it repeat nothing.
    """
    return tuple(_look(rows, index, changed_s) for index in range(len(rows)))


def _look(rows: Sequence[TypedRow], index: int, changed_s: float) -> Look:
    row = rows[index]
    for before in reversed(rows[:index]):
        if before.channel.id != row.channel.id:
            continue
        age = row.t_s - before.t_s
        if before.t_s < changed_s or age > TYPED_HOLD_S or not _agree(row, before):
            return Look.SINGLE
        if age >= REPEAT_AFTER_S:
            return Look.REPEATS
    return Look.SINGLE


def _agree(a: TypedRow, b: TypedRow) -> bool:
    """Whether two rows of one instrument agree within its expanded uncertainty (k = 2)."""
    if a.channel.quantity is not b.channel.quantity:
        return False  # one typed as gauge, one as absolute pressure: not two looks at one dial
    unit = a.channel.si_unit
    before = (b.value * b.channel.si_unit.factor + b.channel.si_unit.offset - unit.offset) / unit.factor
    # A float's last digit must not decide: 5.2 and 5.36 differ by 0.16.
    return abs(a.value - before) <= 2.0 * a.channel.standard_uncertainty(a.value) * (1.0 + 1e-9)


def work_out(
    rows: Sequence[TypedRow],
    now_s: float,
    circumstances: Circumstances,
    *,
    barometer_pa: float = STANDARD_ATMOSPHERE_PA,
    live: Mapping[str, LiveValue] | None = None,
    changed_s: float = -math.inf,
) -> TypedVisit:
    """Work out every derived value that the typed and live values allow.

    Parameters
    ----------
    rows
        Typed so far, in the order of time.
    now_s
        This moment, on the clock of the rows [s].
    circumstances
        Refrigerant, liquids, rated coil and mode as declared.
    barometer_pa
        Of the site [Pa].
    live
        Measuring point to what its probe says; within its own hold it stands before a typed row.
    changed_s
        When the machine was last changed or started [s].

    Examples
    --------
    The hall's typed visit: R-410A, 5.2 bar(g) over 943.2 hPa, suction line -2.4 degC.

    >>> from analysis.saturation import refrigerant
    >>> from analysis.typed_channels import typed_row
    >>> rows = [typed_row(0.0, "suction_pressure", "5.2 bar(g)"),
    ...         typed_row(9.0, "suction_temperature", "-2.4 degC")]
    >>> found = work_out(rows, 12.0, Circumstances(refrigerant("R410A")), barometer_pa=94_320.0)
    >>> gap = found.gap("superheat")
    >>> round(gap.value, 1), round(2 * gap.u, 1), gap.words
    (5.6, 1.3, 'single look')
    """
    states = looks(rows, changed_s)
    present = _present(rows, states, now_s, barometer_pa, live or {})
    gaps: list[Gap] = []
    missing: dict[str, tuple[str, ...]] = {}
    fitted = {name for name, value in present.items() if math.isfinite(value.value)}
    if circumstances.source_coil is None:
        fitted.discard("source_pressure_drop")
    for row in REGISTRY:
        if circumstances.mode not in row.modes:
            continue
        lacks = row.missing(fitted) + circumstances.lacks(row.needs)
        chosen = row.choose(fitted)
        if lacks or chosen is None:
            missing[row.symbol] = lacks
            continue
        gaps.append(_gap(row, [present[name] for name in chosen], circumstances))
    return TypedVisit(states, present, tuple(gaps), missing)


def _present(
    rows: Sequence[TypedRow],
    states: Sequence[Look],
    now_s: float,
    barometer_pa: float,
    live: Mapping[str, LiveValue],
) -> dict[str, Present]:
    found: dict[str, Present] = {}
    for row, look in zip(rows, states, strict=True):
        unit = row.channel.si_unit
        value = row.value * unit.factor + unit.offset
        if row.channel.quantity is Quantity.GAUGE_PRESSURE:
            value += barometer_pa
        u = row.channel.standard_uncertainty(row.value) * unit.factor
        age = now_s - row.t_s
        found[row.point] = Present(
            row.point, value, u, age, look if age <= TYPED_HOLD_S else Look.OLD, row.channel
        )
    for name, now in live.items():
        if now.age_s > now.hold_s or not math.isfinite(now.value):
            continue
        typed, note = found.get(name), ""
        if typed is not None and typed.look is not Look.OLD:
            apart = abs(typed.value - now.value)
            if apart > 2.0 * math.hypot(typed.u, now.u):
                note = f"typed {duration(typed.age_s)} ago it was another value than the probe gives now"
        found[name] = Present(name, now.value, now.u, now.age_s, Look.LIVE, None, note)
    return found


def _gap(row: Derived, inputs: Sequence[Present], circumstances: Circumstances) -> Gap:
    known = dataclasses.replace(circumstances, fed_by=tuple(value.point for value in inputs))
    parameters = row.parameters(known)
    value, u = propagate(
        lambda *arrays: np.asarray(row.function(known, *arrays)),
        [np.array([v.value]) for v in inputs] + [np.array([value]) for value, _ in parameters],
        [np.array([v.u]) for v in inputs] + [np.array([u]) for _, u in parameters],
    )
    look = min(v.look for v in inputs)
    words = look.words
    if look is Look.OLD:
        words = f"typed {duration(max(v.age_s for v in inputs if v.look is Look.OLD))} ago: not judged"
    elif any(v.look is Look.LIVE for v in inputs) and look is not Look.LIVE:
        words = f"{words}, partly live"
    return Gap(row.symbol, row.label, row.quantity, float(value[0]), float(u[0]), known.fed_by, look, words)


def barometer_effect(found: TypedVisit, rows: Sequence[TypedRow], circumstances: Circumstances) -> float:
    """Say by how much superheat grows for each 300 m of altitude, where no barometer is declared [K].

    The standard atmosphere falls by 3.5 kPa over the first 300 m; NaN where superheat is not known.
    """
    now = found.gap("superheat")
    if now is None:
        return math.nan
    last = max((row.t_s for row in rows), default=0.0)
    higher = work_out(rows, last, circumstances, barometer_pa=STANDARD_ATMOSPHERE_PA - 3_539.0)
    gap = higher.gap("superheat")
    lower = work_out(rows, last, circumstances).gap("superheat")
    return gap.value - lower.value if gap is not None and lower is not None else math.nan


def label(name: str) -> str:
    """Name of a measuring point for people."""
    return point(name).label
