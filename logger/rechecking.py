"""Working everything out again and holding it against what was shown while recording."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from analysis.analyser import Results
from analysis.derived import BY_SYMBOL
from analysis.presets import PresetName, show
from analysis.units import Quantity
from logger.csv_line import split_line
from logger.errors import DamagedInputError
from logger.results_format import RESULT_COLUMNS, RESULTS
from logger.session import Session
from logger.shown import shown_lines

_Key = tuple[str, str]
"""Elapsed time as written, and symbol."""
_Shown = tuple[str, str, str]
"""Value, uncertainty and state as written."""


@dataclass(slots=True)
class Change:
    """How one symbol differs from what was shown."""

    rows: int = 0
    largest: float = 0.0
    """Largest change of the value [SI]; NaN where a value came or went."""
    states: int = 0
    """Rows at which the state differs."""


@dataclass(slots=True)
class Recheck:
    """The outcome; ``same`` counts rows that agree to the last digit."""

    shown: int = 0
    same: int = 0
    changes: dict[str, Change] = field(default_factory=dict)

    def facts(self) -> dict[str, object]:
        """Give plain values for JSON."""
        return {
            "shown": self.shown,
            "same": self.same,
            "changes": {
                symbol: {
                    "rows": change.rows,
                    "largest": change.largest if math.isfinite(change.largest) else None,
                    "states": change.states,
                }
                for symbol, change in sorted(self.changes.items())
            },
        }

    def text(self, preset: PresetName) -> str:
        """Say it to a person."""
        if not self.shown:
            return "Nothing was shown while this session was recorded, so there is nothing to compare with."
        lines = [
            f"{self.same} of {self.shown} values shown while recording come out the same to the last digit."
        ]
        for symbol, change in sorted(self.changes.items()):
            lines.append(f"  {_sentence(symbol, change, preset)}")
        return "\n".join(lines)


def _sentence(symbol: str, change: Change, preset: PresetName) -> str:
    row = BY_SYMBOL.get(symbol)
    if row is None:
        return f"the state of the machine reads otherwise in {change.rows} rows"
    quantity = Quantity.TEMPERATURE_DIFFERENCE if row.quantity is Quantity.TEMPERATURE else row.quantity
    if not math.isfinite(change.largest):
        how = "has a value where it had none, or none where it had one"
    elif change.largest:
        how = f"moves by up to {show(quantity, change.largest, preset)}"
    else:
        how = "keeps its values"
    states = f", and its state reads otherwise in {change.states} rows" if change.states else ""
    return f"{row.label}: {change.rows} rows; {how}{states}"


def recheck(session: Session, results: Iterable[Results]) -> tuple[Recheck, list[Results]]:
    """Compare results with those on record; gives the outcome and the results."""
    shown = dict(_shown(session))
    outcome = Recheck(shown=len(shown))
    kept = list(results)
    again = {(t, symbol): rest for t, symbol, rest in _fields(shown_lines(kept))}
    for key, before in shown.items():
        now = again.get(key, ("", "", ""))
        if now == before:
            outcome.same += 1
            continue
        change = outcome.changes.setdefault(key[1], Change())
        change.rows += 1
        change.states += now[2] != before[2]
        if now[0] != before[0]:
            moved = abs(float(now[0]) - float(before[0])) if now[0] and before[0] else math.nan
            change.largest = math.nan if math.isnan(moved) else max(change.largest, moved)
    return outcome, kept


def _shown(session: Session) -> Iterator[tuple[_Key, _Shown]]:
    path = session.folder / RESULTS
    if not path.exists():
        return
    with path.open("rb") as file:
        next(file, None)
        for number, line in enumerate(file, 2):
            if not line.endswith(b"\n"):
                return  # a torn last row: the recording was broken off here
            try:
                t, symbol, *rest = split_line(line, len(RESULT_COLUMNS))
                for text in rest[:2]:
                    float(text or 0)
            except ValueError as error:
                raise DamagedInputError(f"{path}, line {number}: {error}.") from None
            yield (t, symbol), (rest[0], rest[1], rest[2])


def _fields(lines: Iterable[bytes]) -> Iterator[tuple[str, str, _Shown]]:
    for line in lines:
        t, symbol, value, u, state = split_line(line, len(RESULT_COLUMNS))
        yield t, symbol, (value, u, state)
