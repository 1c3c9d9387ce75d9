"""The chiller logs of ASHRAE RP-1043 through the fold, scored at the plan's settled ends and in its ramps.

How the rows are labelled, from the whole log and from the driving quantities alone (entering condenser water,
leaving evaporator water, load), never from the detector:

- *onset* of a step: where the median of a driving quantity over the 2 min to come is further from that of the
  2 min before than 1 °F (a water temperature) or 4 tons (the load), and its median 5 to 9 min later is as far
  from that of the 5 min before: a disturbance that comes back is no step of the plan. The onset is the first
  row at which a driving quantity has gone a tenth of its way. A set point is held for half an hour, so no
  onset lies within 15 min of the one before.
- *settled end*: the 5 min that end 1 min before an onset (in that minute lies the step's first tenth). The
  plan held each set point for about half an hour and took its test data at the end.
- *ramp*: from the onset until every driving quantity that the step moved has gone nine tenths of its way to
  what it is at the settled end of that set point (the usual rise time), at least 3 min.

The cold start (the first half hour) and the shutdown after the last settled end are left out of both.
"""

from __future__ import annotations

import csv
import gzip
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from analysis.analyser import Analyser, Results
from analysis.measure import Channel, Specification
from analysis.rows import Rows
from analysis.saturation import refrigerant
from analysis.settings import settings_over_time
from analysis.timeline import Event
from analysis.units import Quantity

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
STEP_ROWS = 10
"""Seconds between the rows of the log."""
PLACES = {
    "TCI": ("source_entering_temperature", Quantity.TEMPERATURE, "degF"),
    "TCO": ("source_leaving_temperature", Quantity.TEMPERATURE, "degF"),
    "TEI": ("load_entering_temperature", Quantity.TEMPERATURE, "degF"),
    "TEO": ("load_leaving_temperature", Quantity.TEMPERATURE, "degF"),
    "T_suc": ("suction_temperature", Quantity.TEMPERATURE, "degF"),
    "TR_dis": ("discharge_temperature", Quantity.TEMPERATURE, "degF"),
    "PRE": ("suction_pressure", Quantity.GAUGE_PRESSURE, "psig"),
    "PRC": ("discharge_pressure", Quantity.GAUGE_PRESSURE, "psig"),
}
DRIVES = {"TCI": 1.0, "TEO": 1.0, "Evap Tons": 4.0}
"""Driving quantity to the least change that is a step [degF, tons of refrigeration]."""
AROUND = 12
"""Two minutes."""
END = 30
"""Five minutes."""
APART = 90
"""Fifteen minutes."""
COLD = 180
"""Half an hour: every set point of the plan is held as long, the first too."""
LATER = slice(30, 54)
"""Five to nine minutes later."""
GUARD = 6
"""One minute."""


def read_log(path: Path) -> dict[str, Floats]:
    """Read the columns of a log."""
    with gzip.open(path, "rt", newline="") as text:
        lines = list(csv.DictReader(text))
    wanted = ["t_s", *PLACES, "Evap Tons"]
    return {name: np.array([float(line[name] or "nan") for line in lines]) for name in wanted}


@dataclass(frozen=True, slots=True)
class Labels:
    """What each row of the log is."""

    onsets: list[int]
    end: Bools
    ramp: Bools


def label(log: dict[str, Floats]) -> Labels:
    """Label the rows as the module says."""
    n = log["t_s"].size
    onsets: list[int] = []
    i = COLD
    while i < n - LATER.stop:
        if _steps(log, i):
            onsets.append(_moved_from(log, i))
            i = onsets[-1] + APART
        else:
            i += 1
    end, ramp = np.zeros(n, bool), np.zeros(n, bool)
    for onset, following in zip(onsets, [*onsets[1:], None], strict=True):
        end[onset - GUARD - END : onset - GUARD] = True
        if following is not None:
            ramp[onset : onset + _rise(log, onset, following)] = True
    return Labels(onsets, end, ramp)


def _steps(log: dict[str, Floats], i: int) -> bool:
    """Whether a driving quantity steps near a row and stays where it went."""
    for name, least in DRIVES.items():
        x = log[name]
        now = np.median(x[i : i + AROUND]) - np.median(x[i - AROUND : i])
        later = np.median(x[i + LATER.start : i + LATER.stop]) - np.median(x[i - END : i])
        if abs(now) >= least and abs(later) >= least:
            return True
    return False


def _moved_from(log: dict[str, Floats], near: int) -> int:
    """First row from which a driving quantity has gone a tenth of its way for good."""
    found = []
    for name, least in DRIVES.items():
        x = log[name]
        before = float(np.median(x[near - END : near - AROUND]))
        change = float(np.median(x[near + LATER.start : near + LATER.stop])) - before
        if abs(change) >= least:
            part = (x[near - AROUND : near + AROUND] - before) * np.sign(change) >= 0.1 * abs(change)
            still = np.flatnonzero(~part)
            found.append(near - AROUND + (int(still[-1]) + 1 if still.size else 0))
    return min(found) if found else near


def _rise(log: dict[str, Floats], onset: int, following: int) -> int:
    """Rows until each driving quantity that the step moved has gone nine tenths of its way for good."""
    longest = 18
    for name, least in DRIVES.items():
        x = log[name]
        before = float(np.median(x[onset - END : onset]))
        after = float(np.median(x[following - END : following]))
        if abs(after - before) >= least:
            away = np.abs(x[onset:following] - after) > 0.1 * abs(after - before)
            arrived = np.flatnonzero(~away)
            longest = max(longest, int(arrived[0]) if arrived.size else 0)
    return min(longest, following - END - onset)


def fold(log: dict[str, Floats]) -> list[Results]:
    """Run the log through the analyser in one step."""
    channels = {
        name: Channel(
            name, quantity, unit, uncertainty=Specification(fixed=0.2), expected_interval_s=float(STEP_ROWS)
        )
        for name, (_, quantity, unit) in PLACES.items()
    }
    declared = [Event(0, 0, "assign", name, place) for name, (place, _, _) in PLACES.items()]
    declared += [Event(0, 0, "refrigerant", "", "R134a"), Event(0, 0, "mode", "", "cooling")]
    analyser = Analyser(channels, settings_over_time(declared, channels), {"R134a": refrigerant("R134a")})
    n, ids = log["t_s"].size, tuple(PLACES)
    rows = Rows(
        ids,
        np.repeat((log["t_s"] * 1e6).astype(np.int64), len(ids)),
        np.tile(np.arange(len(ids), dtype=np.int32), n),
        np.stack([log[name] for name in ids], axis=1).ravel(),
        np.zeros(n * len(ids), np.uint16),
    )
    return analyser.step(rows, now_us=int(log["t_s"][-1] * 1e6) + 1_000_000)


LOGS = ("rp1043_normal.csv.gz", "rp1043_fwc10.csv.gz", "rp1043_rl10.csv.gz")
TUNED_ON = LOGS[0]
"""Of this log, the first half served to choose the limits; everything else only to score them."""


def score(steady: Mapping[str, Bools], labels: Mapping[str, Labels]) -> dict[str, float]:
    """Give the shares of settled ends and of ramps that are called steady, each log and all together."""
    found: dict[str, float] = {}
    all_ends, all_ramps = [], []
    for name, called in steady.items():
        known = labels[name]
        parts = {name.removesuffix(".csv.gz"): np.ones(called.size, bool)}
        if name == TUNED_ON:
            first = np.arange(called.size) < called.size // 2
            parts = {"rp1043_normal, first half (tuned on)": first, "rp1043_normal, second half": ~first}
        for part, rows in parts.items():
            ends, ramps = called[known.end & rows], called[known.ramp & rows]
            found[f"true, {part}"] = round(float(ends.mean()), 4)
            found[f"false, {part}"] = round(float(ramps.mean()), 4)
            if "tuned on" not in part:
                all_ends.append(ends)
                all_ramps.append(ramps)
    found["true, not tuned on"] = round(float(np.concatenate(all_ends).mean()), 4)
    found["false, not tuned on"] = round(float(np.concatenate(all_ramps).mean()), 4)
    return found
