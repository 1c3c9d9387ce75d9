"""How a signal or a result stands: one state for each row, and which signal holds it back."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from analysis.elementwise import FloatArray
from analysis.watched import Watched

Bools = npt.NDArray[np.bool_]


class State(IntEnum):
    """How a signal or a result stands at a row; the first that applies, in this order."""

    REST = 0
    """The machine is not running."""
    WAITING = 1
    """A reading is missing or too old."""
    CANNOT_SAY = 2
    """A probe gives too few readings to be judged."""
    HUNTING = 3
    SETTLING = 4
    DISTURBED = 5
    """No trend, but more scatter than the probe accounts for."""
    STEADY = 6
    AT_ONCE = 7
    """A result that rests on nothing that must settle, such as a flow."""


@dataclass(frozen=True, slots=True)
class Standing:
    """The state of a set of signals at each row."""

    state: npt.NDArray[np.int8]
    limiting: npt.NDArray[np.int16]
    """Index into the judgement's signals of the one that holds it back; -1 where only time does."""
    steady_s: FloatArray
    """How long it has been steady [s]; 0 where it is not."""


def ranked(
    watched: Watched, member: Bools, settled: Bools
) -> tuple[npt.NDArray[np.int8], npt.NDArray[np.int16]]:
    """Give the state of sets that are not steady and the signal that holds each back, for each row."""
    drifts = watched.drifts & member
    # The signal furthest from its limit holds it back.
    limiting = np.where(drifts, watched.excess, 0.0).argmax(axis=1).astype(np.int16)
    drifting = drifts.any(axis=1)
    limiting[~drifting] = -1
    state = np.full(limiting.shape, int(State.SETTLING), np.int8)
    scatters = ~watched.passed & settled
    for code, tests, where in (
        (State.DISTURBED, scatters, ~drifting),
        (State.HUNTING, watched.hunts, True),
        (State.CANNOT_SAY, watched.too_slow, True),
        (State.WAITING, watched.missing, True),
    ):  # the later ones come first in rank, and of several signals the first named
        if not tests.any():
            continue
        mine = tests & member
        hit = np.asarray(mine.any(axis=1)) & where
        state[hit] = int(code)
        limiting[hit] = mine.argmax(axis=1)[hit]
    return state, limiting
