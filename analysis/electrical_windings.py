"""The windings of a single-phase motor by their ohms: open, shorted, earthed, or an open overload.

Published service manuals of hermetic compressors give both rules: the sum, and an open overload by a reading
between S and R alone, to be measured again once the dome can be touched. The three terminals C, S and R are
joined inside, so ``R(S-R) = R(C-S) + R(C-R)``. Ohms are read with the machine isolated and proven dead,
capacitors discharged and the leads off.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from analysis.finding_acts import Act, Safe

METER_OHM, METER_SHARE = 0.2, 0.03
"""A meter's error in ohms: 0.2 ohm and 3 % (common practice, no source)."""
OPEN_OHM = 1e4
"""A winding with more than this is open: windings have ohms, not kilohms (common practice, no source)."""
LEAST_INSULATION_OHM = 1e6
"""Least ohms from a winding to earth where the maker states nothing (common practice, no source; IEEE 43 asks
5 Mohm of random-wound motors below 1 kV, from memory)."""
RESET_H = (0.5, 2.0)
"""Hours that an internal overload may need to close again (common practice, no source)."""


class WindingState(StrEnum):
    """What the ohms say."""

    CANNOT_SAY = "cannot say"
    SOUND = "windings agree"
    OVERLOAD_OPEN = "internal overload open"
    START_OPEN = "start winding open"
    RUN_OPEN = "run winding open"
    BOTH_OPEN = "windings open"
    UNEQUAL = "windings do not add up"
    LABELS = "terminals are named wrongly"
    EARTHED = "winding to earth"


@dataclass(frozen=True, slots=True)
class Windings:
    """Ohms between terminals and to earth; NaN where not read, infinite for open."""

    c_s: float = math.nan
    c_r: float = math.nan
    s_r: float = math.nan
    to_earth: float = math.nan
    least_to_earth: float = LEAST_INSULATION_OHM
    earth_source: str = "common practice: 1 Mohm"
    shell_hot: bool | None = None
    stopped_h: float = math.nan
    """Hours since it last ran."""


@dataclass(frozen=True, slots=True)
class WindingVerdict:
    """State, words, what is missing and what to do."""

    state: WindingState
    statement: str
    missing: tuple[str, ...] = ()
    acts: tuple[Act, ...] = ()


def judge_windings(read: Windings) -> WindingVerdict:
    """Say what the windings' ohms mean.

    Examples
    --------
    >>> judge_windings(Windings(4.2, 1.1, 5.3, 50e6)).state.value
    'windings agree'
    >>> judge_windings(Windings(math.inf, math.inf, 5.3, 50e6, shell_hot=True)).state.value
    'internal overload open'
    """
    missing = tuple(
        name
        for name, value in (
            ("ohms C to S", read.c_s), ("ohms C to R", read.c_r), ("ohms S to R", read.s_r),
            ("ohms to earth", read.to_earth),
        )
        if math.isnan(value)
    )  # fmt: skip
    if read.to_earth < read.least_to_earth:
        text = f"{read.to_earth:g} ohm to earth, below {read.least_to_earth:g} ({read.earth_source})"
        acts: tuple[Act, ...] = (
            Act("do not energise it; measure again with its leads off and terminals dry", Safe.ISOLATED),
            Act("use no insulation tester on a compressor under vacuum", Safe.ISOLATED),
        )
        return WindingVerdict(WindingState.EARTHED, text, missing, acts)
    state = _state(read)
    text, acts = _words(state, read, missing)
    return WindingVerdict(state, text, missing, acts)


def _state(read: Windings) -> WindingState:
    ohms = (read.c_s, read.c_r, read.s_r)
    if any(math.isnan(value) for value in ohms):
        return WindingState.CANNOT_SAY
    open_cs, open_cr, open_sr = (value > OPEN_OHM for value in ohms)
    if open_cs and open_cr:
        return WindingState.BOTH_OPEN if open_sr else WindingState.OVERLOAD_OPEN
    if open_cs or open_cr:
        if not open_sr:
            # One of C-S and C-R open with S-R intact cannot be: S-R runs through both.
            return WindingState.LABELS
        return WindingState.START_OPEN if open_cs else WindingState.RUN_OPEN
    if open_sr:
        return WindingState.UNEQUAL
    error = math.hypot(*(METER_OHM + METER_SHARE * value for value in ohms))
    if abs(read.s_r - read.c_s - read.c_r) <= error:
        return WindingState.SOUND
    biggest = max(ohms)
    others = sum(ohms) - biggest
    if biggest != read.s_r and abs(biggest - others) <= error:
        return WindingState.LABELS
    return WindingState.UNEQUAL


def _words(state: WindingState, read: Windings, missing: tuple[str, ...]) -> tuple[str, tuple[Act, ...]]:
    low, high = RESET_H
    if state is WindingState.CANNOT_SAY:
        return f"cannot say: {', '.join(missing)} missing", (
            Act(
                "measure at the contactor's end of the leads first: a compressor's terminal can be driven "
                "out by pressure; keep to one side of it",
                Safe.ISOLATED,
            ),
            Act("measure ohms between C, S and R and from each to earth, leads off", Safe.ISOLATED),
        )
    if state is WindingState.OVERLOAD_OPEN:
        wait = Act(f"let it cool {low:g} to {high:g} h, then measure C to S and C to R again", Safe.ISOLATED)
        text = "C to S and C to R are open and S to R is intact: the internal overload is open, not a winding"
        if read.shell_hot is False and read.stopped_h > high:
            return f"{text}; it is cold since {read.stopped_h:g} h, so the overload does not close again", ()
        if read.shell_hot is None:
            text += "; whether the shell is hot is not stated"
        return f"{text}; not condemned before it has cooled", (wait,)
    words = {
        WindingState.SOUND: f"{read.s_r:g} = {read.c_s:g} + {read.c_r:g} ohm within the meter's error",
        WindingState.START_OPEN: "C to S and S to R are open, C to R whole: the start winding or its lead",
        WindingState.RUN_OPEN: "C to R and S to R are open, C to S whole: the run winding or its lead",
        WindingState.BOTH_OPEN: "all three are open: leads off, or the meter; prove it on a known resistor",
        WindingState.UNEQUAL: (
            f"{read.s_r:g} is not {read.c_s:g} + {read.c_r:g} ohm within the meter's error: shorted turns or "
            "a slip; compare with the card"
        ),
        WindingState.LABELS: "the ohms fit other terminals than named: C is the one outside the largest pair",
    }  # fmt: skip
    return words[state], ()
