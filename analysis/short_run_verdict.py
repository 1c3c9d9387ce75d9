"""What short runs tell, in words, which causes they can support, and what they cannot say.

Superheat, subcooling, approach, heat and charge need a settled machine. Flow does not: it is asked for first.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.presets import number
from analysis.saturation import SaturationCurve
from analysis.short_runs import Run

SAME_LIMIT = 0.03
"""Stops whose pressures lie within this of each other point to one switch: usual repeatability of a pressure
switch (common practice, no source)."""
LEAST_REST_S = 600.0
"""A shorter rest says nothing about standing pressure: the coils are still warm (common practice)."""
STANDING_EXCESS_PA = 35e3
"""Standing pressure above saturation by more than this is suspect: 5 psi (common practice, no source)."""
LARGE_CHANGE_K = 14.0
"""No maker's table of water coils that was seen goes beyond this change (7 to 24 °F): a larger one means that
little water moves."""
ALIKE = 0.2
FALLING_SHARE = 0.3
"""A suction pressure that lost this share over the run counts as falling."""


@dataclass(frozen=True, slots=True)
class Lead:
    """A possible cause, as far as short runs reach."""

    name: str
    strength: str
    """``supported by one sign``, ``not supported`` or ``cannot say``."""
    because: str


@dataclass(frozen=True, slots=True)
class ShortRuns:
    """What a series of runs says."""

    runs: tuple[Run, ...]
    state: str
    """``short runs``, ``one short run``, ``runs last`` or ``no run``; never steady."""
    pattern: str
    stopped_by: str
    told: tuple[str, ...]
    not_told: tuple[str, ...]
    leads: tuple[Lead, ...]


def judge_runs(
    runs: Sequence[Run],
    *,
    curve: SaturationCurve | None = None,
    high_switch: float = math.nan,
    low_switch: float = math.nan,
    flow_band: tuple[float, float] = (math.nan, math.nan),
) -> ShortRuns:
    """Say what runs tell and what they do not.

    Parameters
    ----------
    runs
        In the order of time.
    curve
        Saturation of the declared refrigerant, for the standing pressure.
    high_switch, low_switch
        Settings of the pressure switches by the card [Pa absolute]; NaN where not known.
    flow_band
        Allowed source flow by the card [m3/s].

    Examples
    --------
    >>> judge_runs(()).state
    'no run'
    """
    short = [run for run in runs if not run.lasts and run.stopped]
    if not runs:
        state = "no run"
    elif not short:
        state = "runs last"
    else:
        state = "short runs" if len(short) > 1 else "one short run"
    stopped_by = _stopped_by(short, high_switch, low_switch)
    return ShortRuns(
        tuple(runs),
        state,
        _pattern(short),
        stopped_by,
        _told(short, stopped_by),
        _not_told(short),
        _leads(short, curve, flow_band),
    )


def _pattern(runs: Sequence[Run]) -> str:
    """Say how the times to the stop compare."""
    if len(runs) < 2:
        return "one run shows no pattern" if runs else "no short run"
    times = [run.seconds for run in runs]
    if max(times) - min(times) <= max(ALIKE * max(times), 2.0):
        return "alike: each run lasts about as long"
    if all(later < earlier for earlier, later in itertools.pairwise(times[:2])) and (
        max(times[1:]) < (1.0 - ALIKE) * times[0]
    ):
        return "the first run lasts longest: heat of the run before is still there at the next start"
    return "irregular"


def _stopped_by(runs: Sequence[Run], high_switch: float, low_switch: float) -> str:
    """Say what stopped the runs, as far as their pressures tell."""
    if not runs:
        return "nothing stopped it"
    high, low = [run.highest for run in runs], [run.lowest for run in runs]
    rising = all(run.rise > 0.0 for run in runs)
    falling = all(run.fell > FALLING_SHARE for run in runs)
    if math.isfinite(high_switch) and all(p > (1.0 - SAME_LIMIT) * high_switch for p in high):
        return "high pressure: each run ends at the high-pressure switch's setting"
    if math.isfinite(low_switch) and all(p < (1.0 + SAME_LIMIT) * low_switch for p in low):
        return "low pressure: each run ends at the low-pressure switch's setting"
    if len(runs) > 1 and rising and _same(high) and not falling:
        return "likely high pressure: each run ends rising, at one high-side pressure; setting not known"
    if len(runs) > 1 and falling and _same(low):
        return "likely low pressure or low temperature: each run ends falling, at one suction pressure"
    return "not told: read which safety is open at the moment of a stop"


def _same(values: Sequence[float]) -> bool:
    known = [value for value in values if math.isfinite(value)]
    return len(known) == len(values) and max(known) - min(known) <= SAME_LIMIT * max(known)


def _range(values: Sequence[float], decimals: int) -> str:
    known = [value for value in values if math.isfinite(value)]
    low, high = (number(value, decimals) for value in (min(known), max(known)))
    return low if low == high else f"{low} to {high}"


def _told(runs: Sequence[Run], stopped_by: str) -> tuple[str, ...]:
    """Say what the runs tell; pressures are absolute here, in bar."""
    if not runs:
        return ()
    lines = [f"{len(runs)} runs of {_range([run.seconds for run in runs], 0)} s" if len(runs) > 1
             else f"one run of {runs[0].seconds:.0f} s"]  # fmt: skip
    for words, values, decimals, sign in (
        ("high side rises", [run.rise / 1e5 for run in runs], 2, "bar/s"),
        ("high side at the stop", [run.highest / 1e5 for run in runs], 1, "bar(a)"),
        ("standing before the start: high side", [run.standing_high / 1e5 for run in runs], 1, "bar(a)"),
        ("standing before the start: suction", [run.standing_low / 1e5 for run in runs], 1, "bar(a)"),
        ("lowest suction", [run.lowest / 1e5 for run in runs], 1, "bar(a)"),
        ("largest change of the source water", [run.water_change for run in runs], 1, "K"),
    ):
        if any(math.isfinite(value) for value in values):
            lines.append(f"{words} {_range(values, decimals)} {sign}")
    lines.append(f"stopped by {stopped_by}")
    return tuple(lines)


def _not_told(runs: Sequence[Run]) -> tuple[str, ...]:
    """Say what the runs cannot tell."""
    if not runs:
        return ()
    lines = ["superheat, subcooling, approach, heat and charge: no run lasted long enough to settle"]
    if all(math.isnan(run.highest) for run in runs):
        lines.append("which pressure stopped it: no high-side pressure was read")
    if all(math.isnan(run.water_change) for run in runs):
        lines.append("the change of the source water: not read")
    if all(math.isnan(run.flow) for run in runs):
        lines.append(
            "low flow from a scaled coil: both rise fast, and no flow was read (it needs no settled run)"
        )
    return tuple(lines)


def _leads(
    runs: Sequence[Run], curve: SaturationCurve | None, flow_band: tuple[float, float]
) -> tuple[Lead, ...]:
    """List the causes that short runs can speak for or against."""
    return (_flow_lead(runs, flow_band), _gas_lead(runs, curve)) if runs else ()


def _flow_lead(runs: Sequence[Run], band: tuple[float, float]) -> Lead:
    name = "little or no source flow"
    flows = [run.flow for run in runs if math.isfinite(run.flow)]
    low = band[0]
    if flows and max(flows) <= 1e-6:
        return Lead(name, "supported by one sign", "the meter reads no flow while it runs")
    if flows and math.isfinite(low):
        if max(flows) < low:
            return Lead(
                name, "supported by one sign", f"flow up to {1e3 * max(flows):.2f} L/s, below its band"
            )
        return Lead(name, "not supported", f"flow of {1e3 * max(flows):.2f} L/s is in its band")
    changes = [run.water_change for run in runs if math.isfinite(run.water_change)]
    if changes and min(changes) > LARGE_CHANGE_K:
        return Lead(
            name, "supported by one sign",
            f"the water changes by {min(changes):.0f} K or more within seconds: little of it moves",
        )  # fmt: skip
    return Lead(name, "cannot say", "read the flow: a meter, the coil's pressure drop, or a timed container")


def _gas_lead(runs: Sequence[Run], curve: SaturationCurve | None) -> Lead:
    name = "non-condensable gas"
    if curve is None:
        return Lead(name, "cannot say", "the refrigerant is not declared")
    rested = [run for run in runs if math.isnan(run.rest_s) or run.rest_s >= LEAST_REST_S]
    judged = [run for run in rested if math.isfinite(run.standing_high) and math.isfinite(run.warmest)]
    if not judged:
        return Lead(name, "cannot say", "no standing pressure with its temperature after 10 min of rest")
    run = judged[0]
    stands = f"at rest the high side stands at {run.standing_high / 1e5:.1f} bar(a)"
    if math.isnan(run.rest_s):
        stands += " (how long it had stood is not recorded)"
    cold, warm = (float(curve.p_bubble(t)) for t in (run.coldest, run.warmest))
    between = f"{run.coldest - 273.15:.1f} to {run.warmest - 273.15:.1f} °C around it"
    saturated = f"saturation at the {between} is {cold / 1e5:.1f} to {warm / 1e5:.1f} bar(a)"
    if run.standing_high > warm + STANDING_EXCESS_PA:
        cause = "gas that does not condense, or another refrigerant than declared"
        return Lead(name, "supported by one sign", f"{stands}; {saturated}: {cause}")
    if run.standing_high > cold + STANDING_EXCESS_PA:
        return Lead(name, "cannot say", f"{stands}; {saturated}: even temperatures around it would tell")
    return Lead(name, "not supported", f"{stands}; {saturated}")
