"""Runs that do not last: what can be told of a machine that stops before it can settle, and what cannot.

Nothing here is ever steady. A run of less than the least settling time tells how long it lasted, how fast the
high side rose and to what, where both pressures stood before, and how far the water changed; repeats tell
whether the same limit stopped it each time. What it does not tell is in :mod:`analysis.short_run_verdict`.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.analyser import Results
from analysis.elementwise import FloatArray
from analysis.machine_events import running as running_from
from analysis.steadiness import CONFIRM_S, SETTLE_S

LASTING_S = SETTLE_S + CONFIRM_S
"""A run shorter than this cannot have been judged."""
_POINTS = (
    "suction_pressure", "discharge_pressure", "liquid_pressure", "source_entering_temperature",
    "source_leaving_temperature", "source_flow", "ambient_temperature", "load_entering_temperature",
    "return_air_temperature", "compressor_power", "compressor_current",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Run:
    """One run from start to stop; NaN where no reading tells (SI, pressures absolute)."""

    start_s: float
    seconds: float
    """How long it ran; to the end of the readings where it did not stop."""
    stopped: bool
    rest_s: float
    """Rest before it, as far as recorded; NaN for the first run where the recording began at rest."""
    standing_high: float
    standing_low: float
    rise: float
    """Of the high side, least-squares slope over the run [Pa/s]."""
    highest: float
    """High side at its highest, which for a stop on high pressure is the trip pressure."""
    lowest: float
    """Suction at its lowest."""
    fell: float
    """Share of the suction pressure lost from the middle of the run to its end."""
    water_change: float
    """Largest difference of source water in and out [K]."""
    water_in: float
    warmest: float
    """Warmest surroundings before the start [K]."""
    coldest: float
    """Coldest surroundings before the start [K]; a machine at rest stands between saturation at the two."""
    flow: float
    """Mean source flow [m3/s]."""

    @property
    def lasts(self) -> bool:
        """Whether it ran long enough to be judged at all."""
        return self.seconds >= LASTING_S


def runs_of(results: Iterable[Results]) -> tuple[Run, ...]:
    """Find the runs in the analyser's results."""
    t_us: list[npt.NDArray[np.int64]] = []
    columns: dict[str, list[FloatArray]] = {}
    rows = 0
    for result in results:
        n = result.rows
        for name in set(_POINTS) & set(result.points):
            columns.setdefault(name, [np.full(rows, np.nan)] if rows else []).append(
                result.points[name].value
            )
        rows += n
        for name, parts in columns.items():
            if sum(part.size for part in parts) < rows:
                parts.append(np.full(rows - sum(part.size for part in parts), np.nan))
            assert sum(part.size for part in parts) == rows, name
        t_us.append(np.asarray(result.t_us, np.int64))
    if not rows:
        return ()
    points = {name: np.concatenate(parts) for name, parts in columns.items()}
    return find_runs(np.concatenate(t_us) / 1e6, points)


def find_runs(t_s: FloatArray, points: Mapping[str, FloatArray]) -> tuple[Run, ...]:
    """Find the runs in rows.

    Parameters
    ----------
    t_s : (n,)
        Time of each row [s].
    points : each (n,)
        Measuring points in SI, pressures absolute; NaN where unknown.

    Returns
    -------
    tuple of Run
        None where nothing fitted tells whether the machine runs.

    Examples
    --------
    >>> t = np.arange(100.0)
    >>> power = np.where((t >= 20) & (t < 60), 2000.0, 0.0)
    >>> [(run.start_s, run.seconds) for run in find_runs(t, {"compressor_power": power})]
    [(20.0, 40.0)]
    """
    on = running_from({name: _Column(value) for name, value in points.items()})
    if on is None or not t_s.size:
        return ()
    # A row without the telling value belongs to neither state: the state before it goes on.
    telling = next((n for n in ("compressor_power", "compressor_current") if n in points), "")
    if telling:
        known = np.isfinite(points[telling])
        last = np.maximum.accumulate(np.where(known, np.arange(t_s.size), -1))
        on = np.where(last >= 0, on[np.maximum(last, 0)], False)
    edges = np.flatnonzero(np.diff(on.astype(np.int8))) + 1
    cuts = [0, *edges.tolist(), t_s.size]
    found: list[Run] = []
    rest_from: float = math.nan
    for begin, end in itertools.pairwise(cuts):
        if on[begin]:
            if begin > 0:  # a run that was on when the recording began has no start
                found.append(_run(t_s, points, begin, end, rest_from))
        else:
            rest_from = float(t_s[begin]) if begin > 0 else math.nan
    return tuple(found)


@dataclass(frozen=True, slots=True)
class _Column:
    value: FloatArray


def _run(t_s: FloatArray, points: Mapping[str, FloatArray], begin: int, end: int, rest_from: float) -> Run:
    part, before = slice(begin, end), slice(max(begin - 5, 0), begin)
    high = points.get("discharge_pressure", points.get("liquid_pressure", np.full(t_s.size, np.nan)))
    low = points.get("suction_pressure", np.full(t_s.size, np.nan))
    entering = points.get("source_entering_temperature", np.full(t_s.size, np.nan))
    leaving = points.get("source_leaving_temperature", np.full(t_s.size, np.nan))
    around = [
        _mean(points[name][before])
        for name in (
            "source_entering_temperature", "source_leaving_temperature", "ambient_temperature",
            "load_entering_temperature", "return_air_temperature",
        )
        if name in points
    ]  # fmt: skip
    stopped = end < t_s.size
    until = float(t_s[end]) if stopped else float(t_s[-1])
    middle = begin + (end - begin) // 2
    at_end, at_middle = _mean(low[max(end - 3, begin) : end]), _mean(low[max(middle - 1, begin) : middle + 2])
    return Run(
        start_s=float(t_s[begin]),
        seconds=until - float(t_s[begin]),
        stopped=stopped,
        rest_s=float(t_s[begin]) - rest_from,
        standing_high=_mean(high[before]),
        standing_low=_mean(low[before]),
        rise=_slope(t_s[part], high[part]),
        highest=_most(high[begin : end + 1]),
        lowest=-_most(-low[part]),
        fell=1.0 - at_end / at_middle if at_middle > 0.0 else math.nan,
        water_change=_most(np.abs(entering[part] - leaving[part])),
        water_in=_mean(entering[part]),
        warmest=max((t for t in around if math.isfinite(t)), default=math.nan),
        coldest=min((t for t in around if math.isfinite(t)), default=math.nan),
        flow=_mean(points["source_flow"][part]) if "source_flow" in points else math.nan,
    )


def _mean(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean()) if known.size else math.nan


def _most(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(known.max()) if known.size else math.nan


def _slope(t: FloatArray, values: FloatArray) -> float:
    known = np.isfinite(values)
    if int(known.sum()) < 3:
        return math.nan
    t, values = t[known] - t[known].mean(), values[known]
    return float((t * values).sum() / (t * t).sum())
