"""The control transformer: told from what hangs on it, and what its fuse can and cannot stop.

A secondary that reads zero with its leads on and its volts with them lifted is not dead: something after it
pulls it down. That is the rule that keeps a sound transformer from being thrown away (common practice, no
source).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from analysis.electrical import ALIVE_SHARE, LIGHT_LOAD_HIGH_V, Limits
from analysis.finding_acts import Act, Safe

DEAD_V = 2.0
"""Below this a 24 V secondary gives nothing (common practice, no source)."""
CLASS_2_VA = 100.0
CLASS_2_V = 30.0
"""A class 2 supply gives at most 100 VA and 30 V (NFPA 70 article 725 and chapter 9 table 11(B), UL 5085-3,
formerly UL 1585; from memory)."""


class TransformerState(StrEnum):
    """What the volts say about the transformer."""

    CANNOT_SAY = "cannot say"
    NO_SUPPLY = "no supply to it"
    CHECK = "check reading"
    NOT_CONDEMNED = "not condemned: short or overload downstream"
    GIVES_VOLTS = "gives its volts"
    NO_OUTPUT = "transformer or its own fuse"
    WEAK = "weak: winding or tap"


@dataclass(frozen=True, slots=True)
class TransformerReadings:
    """Volts at the transformer, and what its label says; NaN where not read."""

    primary: float = math.nan
    secondary: float = math.nan
    """With its leads on [V]."""
    lifted: float = math.nan
    """With its secondary leads lifted and held apart [V]."""
    va: float = math.nan
    fuse: float = math.nan
    """Rating of the fuse after it [A]."""


@dataclass(frozen=True, slots=True)
class TransformerVerdict:
    """State, words, and what is missing."""

    state: TransformerState
    statement: str
    missing: tuple[str, ...] = ()
    acts: tuple[Act, ...] = ()

    @property
    def condemned(self) -> bool:
        """Whether the transformer or its own fuse is at fault."""
        return self.state in (TransformerState.NO_OUTPUT, TransformerState.WEAK)

    @property
    def shorted_downstream(self) -> bool:
        """Whether something after the transformer pulls it down."""
        return self.state is TransformerState.NOT_CONDEMNED


_LIFT = (
    Act("lift the transformer's secondary leads", Safe.ISOLATED),
    Act("if licensed, live volts: read the secondary with its leads lifted and held apart", Safe.STOPPED),
)


def judge_transformer(read: TransformerReadings, limits: Limits | None = None) -> TransformerVerdict:
    """Tell a dead transformer from a short after it.

    Parameters
    ----------
    read
        Volts; NaN where not read.
    limits
        Of supply and control volts.

    Examples
    --------
    The bakery: 230 V in, 0 V with leads on, 26 V with leads lifted.

    >>> judge_transformer(TransformerReadings(230.0, 0.0, 26.0)).state.value
    'not condemned: short or overload downstream'
    >>> judge_transformer(TransformerReadings(230.0, 0.0, 0.0)).state.value
    'transformer or its own fuse'
    """
    limits = limits or Limits()
    state = _state(read, limits)
    primary, on, lifted = (f"{v:g} V" for v in (read.primary, read.secondary, read.lifted))
    enough = f"{limits.pull_in:g} V"
    words = {
        TransformerState.NO_SUPPLY: f"{primary} reach the primary: the transformer is not judged",
        TransformerState.CHECK: f"{on} with leads on and {lifted} lifted cannot both be right; read again",
        TransformerState.NOT_CONDEMNED: (
            f"it gives {lifted} once its leads are lifted ({enough} or more) and {on} with them on: the "
            "transformer is not condemned; a short or overload after it pulls it down"
        ),
        TransformerState.GIVES_VOLTS: f"it gives {on} with its leads on: no short at this moment",
        TransformerState.NO_OUTPUT: (
            f"{primary} go in and {lifted} come out with leads lifted: the transformer, or a fuse of its own"
        ),
        TransformerState.WEAK: (
            f"only {lifted} come out with the leads lifted: its winding, or a tap for more volts"
        ),
    }  # fmt: skip
    missing = _missing(read)
    text = words.get(state, f"cannot say: {', '.join(missing) or 'no reading tells'} missing")
    acts = _LIFT if math.isnan(read.lifted) and state is TransformerState.CANNOT_SAY else ()
    return TransformerVerdict(state, text, missing, acts)


def _missing(read: TransformerReadings) -> tuple[str, ...]:
    names = {
        "primary volts": read.primary,
        "secondary volts, leads on": read.secondary,
        "secondary volts, leads lifted": read.lifted,
    }
    return tuple(name for name, value in names.items() if math.isnan(value))


def _state(read: TransformerReadings, limits: Limits) -> TransformerState:
    least = limits.supply_low if limits.supply_known else 90.0
    if read.primary < ALIVE_SHARE * least:
        gives = max((v for v in (read.secondary, read.lifted) if not math.isnan(v)), default=0.0)
        return TransformerState.CHECK if gives > DEAD_V + limits.control_drop else TransformerState.NO_SUPPLY
    on, lifted, enough = read.secondary, read.lifted, limits.pull_in
    if on > lifted + limits.control_drop or max(on, lifted) > 2.0 * LIGHT_LOAD_HIGH_V:
        return TransformerState.CHECK
    if lifted >= enough:
        # Its own volts prove it, whatever feeds it.
        if math.isnan(on):
            return TransformerState.CANNOT_SAY
        return TransformerState.GIVES_VOLTS if on >= enough else TransformerState.NOT_CONDEMNED
    if on >= enough and math.isnan(lifted):
        return TransformerState.GIVES_VOLTS
    if math.isnan(lifted) or math.isnan(read.primary):
        return TransformerState.CANNOT_SAY
    if lifted <= DEAD_V:
        return TransformerState.NO_OUTPUT
    # A supply below its limit makes any transformer weak.
    return TransformerState.CANNOT_SAY if read.primary < least else TransformerState.WEAK


@dataclass(frozen=True, slots=True)
class FuseReasoning:
    """What a transformer can give, and what its fuse lets pass."""

    full_load_a: float
    unstopped: tuple[float, float] | None
    """Currents that overload the transformer and never blow the fuse [A]; None where there are none."""
    statement: str


def fuse_reasoning(va: float, fuse: float, volts: float = 24.0) -> FuseReasoning:
    """Say which currents overload a transformer without blowing its fuse.

    Formula: full load ``I = S / U``. A class 2 supply of 20 to 30 V that is not limited by itself needs an
    overcurrent device of at most ``100 / U`` A (NFPA 70, chapter 9, table 11(B), from memory).

    Parameters
    ----------
    va
        Apparent power on the label [VA].
    fuse
        Rating of the fuse [A]; NaN where there is none.
    volts
        Secondary voltage [V].

    Examples
    --------
    >>> found = fuse_reasoning(40.0, 3.0)
    >>> round(found.full_load_a, 2), found.unstopped
    (1.67, (1.6666666666666667, 3.0))
    >>> print(found.statement)
    40 VA at 24 V is 1.67 A: a 3 A fuse stops a short and not an overload of 1.67 to 3 A, such as 2 A
    """
    if not (va > 0.0 and volts > 0.0):
        raise ValueError("apparent power and voltage must be more than zero")
    full = va / volts
    text = f"{va:g} VA at {volts:g} V is {full:.2f} A"
    unstopped = (full, fuse) if fuse > full else None
    if math.isnan(fuse):
        text += ": no fuse is stated after it"
    elif unstopped is not None:
        between = f", such as {math.ceil(full):g} A" if math.ceil(full) < fuse else ""
        text += f": a {fuse:g} A fuse stops a short and not an overload of {full:.2f} to {fuse:g} A{between}"
    else:
        text += f": a {fuse:g} A fuse protects it against overload too"
    if va > CLASS_2_VA or volts > CLASS_2_V:
        text += f"; this is no class 2 supply (at most {CLASS_2_VA:g} VA and {CLASS_2_V:g} V)"
    elif volts > 20.0 and fuse > CLASS_2_VA / volts:
        text += (
            f"; above the {CLASS_2_VA / volts:.2f} A that class 2 allows unless the transformer limits "
            "itself or its maker states the fuse"
        )
    return FuseReasoning(full, unstopped, text)


def load_reasoning(va: float, sealed: tuple[float, ...], inrush: tuple[float, ...]) -> tuple[float, str]:
    """Sum what the transformer carries: all sealed VA, and the largest inrush on top of the others.

    Returns
    -------
    largest share of the rating [1], statement
        A coil that pulls in draws several times its sealed VA for a moment (common practice, no source).

    Examples
    --------
    >>> load_reasoning(40.0, (9.0, 8.0), (50.0, 8.0))[1]
    'sealed 17 VA of 40 VA; the largest pull-in makes 58 VA for a moment'
    """
    total = sum(sealed)
    peak = max((total - s + max(i, s) for s, i in zip(sealed, inrush, strict=True)), default=total)
    text = f"sealed {total:g} VA of {va:g} VA; the largest pull-in makes {peak:g} VA for a moment"
    if total > va:
        text = f"overloaded: {text}"
    return total / va, text
