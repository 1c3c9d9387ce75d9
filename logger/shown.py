"""results.csv: what was shown while recording, so that ``recheck`` can hold it against a new working-out.

Written every ten seconds of session time, in SI units. It is a record of what a person saw, never an input.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from analysis.analyser import Results
from analysis.derived import BY_SYMBOL
from analysis.measured import Column
from analysis.verdict import State
from logger.csv_line import END, field
from logger.moments import elapsed_text

EVERY_US = 10_000_000
"""Interval of the rows that are recorded."""


def shown_lines(results: Sequence[Results], every_us: int = EVERY_US) -> Iterable[bytes]:
    """Give the lines of the rows that fall on the interval.

    ``value`` and ``u`` (standard uncertainty) are SI, empty where not known; ``state`` is the word of
    steadiness that the value was shown with.
    """
    for result in results:
        for row, t_us in enumerate(result.t_us.tolist()):
            if t_us % every_us:
                continue
            overall = State(int(result.judgement.overall.state[row])).name.lower()
            yield _line(t_us, "state", "", "", overall)
            for symbol in BY_SYMBOL:
                column = result.derived.get(symbol)
                if column is not None:
                    standing = result.judgement.results[symbol]
                    state = State(int(standing.state[row])).name.lower()
                    yield _line(t_us, symbol, *_texts(column, row), state)


def _texts(column: Column, row: int) -> tuple[str, str]:
    value, u = float(column.value[row]), float(column.u[row])
    return (repr(value) if math.isfinite(value) else "", repr(u) if math.isfinite(u) else "")


def _line(t_us: int, symbol: str, value: str, u: str, state: str) -> bytes:
    return (",".join((elapsed_text(t_us), field(symbol), value, u, state)) + END).encode()
