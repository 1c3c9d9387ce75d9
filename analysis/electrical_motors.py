"""Why a motor hums, trips or stands still: the signs that separate supply, capacitor, overload and winding.

Each cause is listed with what speaks for it, what against it, and what is missing; a cause is never named
on a reading that was not taken.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from analysis.electrical import ALIVE_SHARE, Limits
from analysis.electrical_windings import Windings, WindingState, judge_windings
from analysis.finding_acts import Act, Safe
from analysis.run_capacitor import LOWEST_RATIO, capacitance_ratio

LEAST_START_SHARE = 0.85
"""Least share of the plate voltage at the terminals while a motor starts (common practice, no source)."""
LOCKED_SHARE = 0.7
"""Above this share of its locked-rotor current a motor does not turn (common practice, no source)."""
IDLE_SHARE = 0.05
"""Below this share of its rated current nothing flows (common practice, no source)."""
AMPS_SHARE = 0.10
"""A running motor beyond its card's current by more than this is loaded or weak (common practice)."""
START_CAPACITOR_SHARE = (0.8, 1.2)
"""Allowed share of the middle of a start capacitor's marked range (common practice, no source)."""
CAPACITOR_U = 0.02
"""Relative expanded uncertainty of a meter's capacitance range (common practice, no source)."""
EQUAL_PRESSURE_RATIO = 1.2
"""Pressures further apart than this ratio load a starting compressor (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class MotorReadings:
    """What was read at a motor that should run; NaN where not read."""

    name: str = "compressor"
    terminals: float = math.nan
    """Volts at its terminals with the contactor closed."""
    terminals_starting: float = math.nan
    """Least volts there while it tries to start."""
    supply_starting: float = math.nan
    """Volts at the disconnect at the same moment."""
    supply_rest: float = math.nan
    amps: float = math.nan
    rated_amps: float = math.nan
    locked_amps: float = math.nan
    runs: bool | None = None
    capacitance: float = math.nan
    """Of the run capacitor, measured [F]."""
    capacitance_u: float = math.nan
    """Its relative expanded uncertainty (k = 2) [1]; NaN for a meter of which nothing is known."""
    marked_capacitance: float = math.nan
    start_capacitance: float = math.nan
    marked_start_capacitance: float = math.nan
    windings: Windings = Windings()  # noqa: RUF009, frozen
    pressure_ratio: float = math.nan
    """Discharge over suction, absolute, before the start."""


@dataclass(frozen=True, slots=True)
class Cause:
    """A possible cause with its evidence."""

    name: str
    strength: str
    """``supported``, ``not supported`` or ``cannot say``."""
    evidence_for: tuple[str, ...] = ()
    against: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class MotorVerdict:
    """All causes, the supported ones first, and the acts."""

    name: str
    statement: str
    causes: tuple[Cause, ...]
    acts: tuple[Act, ...]

    @property
    def supported(self) -> tuple[str, ...]:
        """Names of the causes that readings speak for."""
        return tuple(cause.name for cause in self.causes if cause.strength == "supported")


def judge_motor(read: MotorReadings, limits: Limits | None = None) -> MotorVerdict:
    """List the causes for a motor that does not run as it should.

    Examples
    --------
    The hall's brine pump: 228 V, 1.16 A where the card says 0.92, and 1.9 of 5.0 microfarad.

    >>> pump = MotorReadings("pump", terminals=228.0, amps=1.16, rated_amps=0.92, runs=True,
    ...                      capacitance=1.9e-6, marked_capacitance=5.0e-6)
    >>> from analysis.electrical import plate_limits
    >>> judge_motor(pump, plate_limits(230.0)).supported
    ('run capacitor',)
    """
    limits = limits or Limits()
    judged = (judge(read, limits) for judge in _JUDGES)
    causes = sorted((c for c in judged if c is not None), key=lambda cause: _RANK[cause.strength])
    supported = [cause for cause in causes if cause.strength == "supported"]
    if supported:
        text = "; ".join(f"{cause.name}: {', '.join(cause.evidence_for)}" for cause in supported)
    elif _stands_with_volts(read) and all(c.strength == "not supported" for c in causes):
        text = "volts, windings and capacitors are right and it does not turn: mechanically stuck"
    else:
        lacking = list(dict.fromkeys(m for c in causes if c.strength == "cannot say" for m in c.missing))
        text = f"cannot say: {', '.join(lacking)} missing" if lacking else "nothing found against it"
    return MotorVerdict(read.name, text, tuple(causes), _acts(read, causes))


_RANK = {"supported": 0, "cannot say": 1, "not supported": 2}


def _stands_with_volts(read: MotorReadings) -> bool:
    return read.runs is False and read.amps > LOCKED_SHARE * read.locked_amps


def _cause(name: str, bad: bool | None, told: str, missing: tuple[str, ...]) -> Cause:
    if bad is None:
        return Cause(name, "cannot say", missing=missing)
    if bad:
        return Cause(name, "supported", evidence_for=(told,))
    return Cause(name, "not supported", against=(told,))


def _no_volts(read: MotorReadings, limits: Limits) -> Cause:
    least = limits.supply_low
    if math.isnan(read.terminals):
        return _cause("supply at its terminals", None, "", ("volts at its terminals",))
    bad = read.terminals < (least if math.isfinite(least) else 50.0)
    if not bad and not math.isfinite(least):
        return _cause("supply at its terminals", None, "", ("plate voltage",))
    told = f"{read.terminals:g} V at its terminals ({limits.text().split(';')[0]})"
    return _cause("supply at its terminals", bad, told, ())


def _sag(read: MotorReadings, limits: Limits) -> Cause | None:
    if read.runs:
        return None  # it has started
    least = LEAST_START_SHARE * (limits.supply_low / 0.9)
    wanted = {"volts at its terminals while it starts": read.terminals_starting, "plate voltage": least}
    missing = tuple(name for name, value in wanted.items() if not math.isfinite(value))
    if missing:
        return _cause("supply sag at start", None, "", missing)
    where = ""
    if math.isfinite(read.supply_starting):
        drop = read.supply_starting - read.terminals_starting
        own = drop > limits.line_drop * limits.supply_low
        where = f", {drop:.0f} V of it in the unit's own wiring" if own else ", already so at the disconnect"
    told = f"{read.terminals_starting:g} V at its terminals while it starts (least {least:.0f} V){where}"
    return _cause("supply sag at start", read.terminals_starting < least, told, ())


def _run_capacitor(read: MotorReadings, _: Limits) -> Cause:
    ratio = float(capacitance_ratio(read.capacitance, read.marked_capacitance))
    if math.isnan(ratio):
        return _cause("run capacitor", None, "", ("the run capacitor's microfarad and its marking",))
    told = (
        f"{1e6 * read.capacitance:.2g} of {1e6 * read.marked_capacitance:.2g} µF "
        f"({100 * ratio:.0f} %, least {100 * LOWEST_RATIO:.0f} %)"
    )
    bound = CAPACITOR_U if math.isnan(read.capacitance_u) else read.capacitance_u
    if abs(ratio - LOWEST_RATIO) <= bound * ratio:
        return _cause(
            "run capacitor", None, "", (f"a surer capacitor reading: {told} ± {100 * bound:.0f} %",)
        )
    weak = ratio < LOWEST_RATIO
    if weak and read.runs and _too_many_amps(read):
        told += f", which explains {read.amps:g} A where the card says {read.rated_amps:g}"
    return _cause("run capacitor", weak, told, ())


def _too_many_amps(read: MotorReadings) -> bool:
    return read.amps > (1.0 + AMPS_SHARE) * read.rated_amps


def _load(read: MotorReadings, _: Limits) -> Cause | None:
    """Judge the current of a motor that runs."""
    name = "load on its shaft"
    if read.runs is not True:
        return None
    if math.isnan(read.amps) or math.isnan(read.rated_amps):
        return _cause(name, None, "", ("its amps and the card's",))
    told = f"{read.amps:g} A where the card says {read.rated_amps:g}"
    ratio = float(capacitance_ratio(read.capacitance, read.marked_capacitance))
    if _too_many_amps(read) and not ratio >= LOWEST_RATIO:
        # A weak capacitor raises the current too: the load cannot be blamed before it is known to be whole.
        explained = ratio < LOWEST_RATIO
        return _cause(name, False if explained else None, "the weak capacitor explains it",
                      ("the run capacitor's microfarad and its marking",))  # fmt: skip
    return _cause(name, _too_many_amps(read), told, ())


def _start_capacitor(read: MotorReadings, _: Limits) -> Cause | None:
    ratio = float(capacitance_ratio(read.start_capacitance, read.marked_start_capacitance))
    if math.isnan(ratio):
        if math.isnan(read.marked_start_capacitance):
            return None  # none is stated to be fitted
        return _cause("start capacitor", None, "", ("the start capacitor's microfarad",))
    low, high = START_CAPACITOR_SHARE
    told = f"{100 * ratio:.0f} % of its marking ({100 * low:.0f} to {100 * high:.0f} %)"
    return _cause("start capacitor", not low <= ratio <= high, told, ())


def _windings(read: MotorReadings, _: Limits) -> Cause:
    verdict = judge_windings(read.windings)
    if verdict.state is WindingState.OVERLOAD_OPEN:
        return _cause("windings", False, verdict.statement, ())
    if verdict.state in (WindingState.CANNOT_SAY, WindingState.LABELS, WindingState.BOTH_OPEN):
        if read.runs:
            return _cause("windings", False, "it runs", ())
        return _cause("windings", None, "", verdict.missing or (verdict.statement,))
    return _cause("windings", verdict.state is not WindingState.SOUND, verdict.statement, verdict.missing)


def _overload(read: MotorReadings, _: Limits) -> Cause:
    verdict = judge_windings(read.windings)
    if verdict.state is WindingState.OVERLOAD_OPEN:
        return _cause("internal overload", True, verdict.statement, ())
    if verdict.state is not WindingState.CANNOT_SAY:
        return _cause("internal overload", False, verdict.statement, ())
    if read.amps > IDLE_SHARE * read.rated_amps:
        return _cause("internal overload", False, f"{read.amps:g} A flow", ())
    return _cause("internal overload", None, "", ("ohms C to S, C to R, S to R",))


def _unequal_pressures(read: MotorReadings, _: Limits) -> Cause | None:
    if read.name != "compressor" or read.runs:
        return None
    if math.isnan(read.pressure_ratio):
        return _cause("start against pressure", None, "", ("both pressures before the start",))
    told = f"discharge stood at {read.pressure_ratio:.2g} times suction (absolute) before the start"
    return _cause("start against pressure", read.pressure_ratio > EQUAL_PRESSURE_RATIO, told, ())


_JUDGES: tuple[Callable[[MotorReadings, Limits], Cause | None], ...] = (
    _no_volts, _sag, _run_capacitor, _start_capacitor, _overload, _windings, _load, _unequal_pressures,
)  # fmt: skip


def _acts(read: MotorReadings, causes: list[Cause]) -> tuple[Act, ...]:
    """Advise what to measure, capacitors before hands."""
    acts: list[Act] = []
    open_questions = {cause.name for cause in causes if cause.strength == "cannot say"}
    supported = {cause.name for cause in causes if cause.strength == "supported"}
    if "supply at its terminals" in supported and not read.terminals > ALIVE_SHARE * 100.0:
        acts.append(Act("if licensed, live volts: follow its chain from the supply", Safe.STOPPED))
    if {"supply at its terminals", "supply sag at start"} & open_questions:
        acts.append(Act("if licensed, live volts: read its terminals while it starts", Safe.WHILE_RUNNING))
    if {"run capacitor", "start capacitor", "windings", "internal overload"} & (open_questions | supported):
        acts.append(Act("discharge the capacitors through a resistor and prove it", Safe.ISOLATED))
    if {"run capacitor", "start capacitor"} & open_questions:
        acts.append(Act("measure the capacitors, leads off", Safe.ISOLATED))
    if {"windings", "internal overload"} & open_questions:
        acts += judge_windings(read.windings).acts
    if "internal overload" in supported:
        acts += judge_windings(read.windings).acts
    if "start against pressure" in (open_questions | supported):
        acts.append(Act("let the pressures equalise before another start", Safe.STOPPED))
    return tuple(dict.fromkeys(acts))
