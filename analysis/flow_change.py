"""A change of flow that nobody declared: from then on the machine settles anew, whatever else stands still.

The mean of the newest rows is held against the mean of the minute before. Sums are kept in whole numbers, so
that any cutting of the same rows into chunks finds the same.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from analysis.elementwise import FloatArray

Bools = NDArray[np.bool_]

NEWEST, BETWEEN, BEFORE = 10, 5, 60
"""Rows of the newest mean, left out, and of the mean before."""
REACH = NEWEST + BETWEEN + BEFORE
SCATTERS = 4.0
"""Standard deviations of the minute before that a change must exceed."""
LARGEST = 1 << 24
"""What is more than so many quanta is no flow of these machines."""


@dataclass(frozen=True, slots=True)
class _Rule:
    share: float
    """Share of the value before that counts as a change."""
    least: float
    """Change in SI that counts at least, for flows near zero."""
    quantum: float
    """Resolution of the sums [SI]."""


_METER, _DROP = _Rule(0.10, 1e-5, 1e-8), _Rule(0.18, 500.0, 0.5)
FLOWS: Mapping[str, _Rule] = {
    "source_flow": _METER, "load_flow": _METER,
    "source_pressure_drop": _DROP,
}  # fmt: skip
"""Measuring point to what counts as a change: a tenth of the flow (common practice, no source), which is 18 %
of a pressure drop that goes with the flow to the power of 1.8."""


@dataclass(slots=True)
class _Past:
    fed_by: str
    quanta: NDArray[np.int64]
    known: Bools
    departed: bool = False


@dataclass(slots=True)
class FlowWatch:
    """The fold's memory: the last rows of every flow."""

    past: dict[str, _Past] = field(default_factory=dict)

    def extend(self, flows: Mapping[str, tuple[str, FloatArray]], n: int) -> Bools:
        """Say at which of further rows a flow has changed.

        Parameters
        ----------
        flows
            Measuring point to the channel that feeds it and its values (n,) in SI, NaN where not known.
            Another channel begins without a past.
        n
            How many rows.

        Returns
        -------
        (n,)
            True at the row at which a change is first seen.

        Examples
        --------
        >>> flow = np.concatenate([np.full(100, 6e-4), np.full(100, 4e-4)])
        >>> np.flatnonzero(FlowWatch().extend({"source_flow": ("meter/q", flow)}, 200)).tolist()
        [103]
        """
        changed = np.zeros(n, bool)
        for gone in self.past.keys() - flows.keys():
            del self.past[gone]
        for name, (channel, values) in flows.items():
            past = self.past.get(name)
            if past is None or past.fed_by != channel:
                past = self.past[name] = _Past(channel, np.zeros(0, np.int64), np.zeros(0, bool))
            changed |= _changes(past, FLOWS[name], values)
        return changed


def _changes(past: _Past, rule: _Rule, values: FloatArray) -> Bools:
    with np.errstate(invalid="ignore"):
        scaled = values / rule.quantum
        known = np.abs(scaled) < LARGEST  # False for NaN
    quanta = np.where(known, np.rint(np.where(known, scaled, 0.0)), 0.0).astype(np.int64)
    held = past.quanta.size
    quanta, known = np.concatenate([past.quanta, quanta]), np.concatenate([past.known, known])
    departed = _departed(quanta, known, rule)[held:]
    before = np.concatenate([[past.departed], departed[:-1]])
    past.quanta, past.known = quanta[-(REACH - 1) :], known[-(REACH - 1) :]
    if departed.size:
        past.departed = bool(departed[-1])
    return np.asarray(departed & ~before)


def _departed(quanta: NDArray[np.int64], known: Bools, rule: _Rule) -> Bools:
    """Whether the newest rows lie off those before, at each row; False where not all of them are known."""
    found = np.zeros(quanta.size, bool)
    if quanta.size < REACH:
        return found
    sums, squares, counts = (
        np.concatenate([[0], np.cumsum(part)]) for part in (quanta, quanta * quanta, known.astype(np.int64))
    )
    ends = np.arange(REACH, quanta.size + 1)

    def between(total: NDArray[np.int64], first: int, last: int) -> NDArray[np.int64]:
        return np.asarray(total[ends - last] - total[ends - first])

    newest = between(sums, NEWEST, 0) / NEWEST
    mean = between(sums, REACH, REACH - BEFORE) / BEFORE
    variance = between(squares, REACH, REACH - BEFORE) / BEFORE - mean * mean
    limit = np.maximum(rule.share * np.abs(mean), rule.least / rule.quantum)
    limit = np.maximum(limit, SCATTERS * np.sqrt(np.maximum(variance, 0.0)))
    whole = between(counts, REACH, 0) == REACH
    found[REACH - 1 :] = whole & (np.abs(newest - mean) > limit)
    return found
