"""When is it steady? Slope and spread of a signal over a trailing window, exact in any chunking.

Sums over a moving window lose digits when they are kept as floating-point running sums: a pressure of three
million pascal leaves nothing of a variance of one. Here each value is first rounded to a whole number of
quanta, fine enough to be far below any probe's noise, and the sums are kept in 64-bit integers. Integer
addition is exact and associative, even where it wraps around, so a window's sums do not depend on how the
rows were cut into chunks, and nothing drifts over days of recording.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

WINDOW_ROWS = 300
"""Five minutes of one-second rows: design rule, after the 5 min windows usual for steady-state detectors
(Kim, Yoon, Domanski, Payne, NIST SP 1087; window lengths there follow the measured start-up transients)."""
WINDOW_READINGS = 30
"""Least fresh readings in a window; a slow probe gets a longer window, not a softer test."""
LONGEST_WINDOW_ROWS = 1800
"""A probe that gives fewer than 30 readings in half an hour is too slow to be judged."""
SETTLE_S = 600.0
"""Least time since the last start or change. Common practice, no source: ten minutes of run-in."""
MOST_QUANTA = 2**24
"""Beyond this a value is no reading of a machine (1,677 K at 0.1 mK), and its squares would not fit."""
CONFIRM_S = 120.0
"""Every test must have held for this long on end."""


@dataclass(frozen=True, slots=True)
class Limit:
    """How still a signal must be to count as steady.

    Slope and spread follow field practice for water-source machines: 0.1 °F/min for temperatures, 0.2 °F/min
    for the condensing temperature; spread 0.3 K as the floor. Common practice, no source.
    """

    slope_per_s: float
    """Limit of ``|slope| + 2 standard errors`` [signal unit / s]."""
    spread: float
    """Limit of the standard deviation about the fitted line [signal unit]."""
    quantum: float
    """Rounding of the exact sums [signal unit]."""


DEGF = 5.0 / 9.0
TEMPERATURE_LIMIT = Limit(0.1 * DEGF / 60.0, 0.3, 1e-4)
CONDENSING_LIMIT = Limit(0.2 * DEGF / 60.0, 0.3, 1e-4)


@dataclass(slots=True)
class WindowSums:
    """Exact running sums of one signal; the fold's memory of its trailing window.

    Only what a window can still reach back to is kept, so the memory is bounded.
    """

    quantum: float
    next_row: int = 0
    """Index of the next row to come; rows count from the start of the session."""
    first_row: int = 0
    """Index of the row that the first entries of the arrays belong to (the sums *before* it)."""
    count: Ints = field(default_factory=lambda: np.zeros(1, np.int64))
    sum_x: Ints = field(default_factory=lambda: np.zeros(1, np.int64))
    sum_xx: Ints = field(default_factory=lambda: np.zeros(1, np.int64))
    sum_xk: Ints = field(default_factory=lambda: np.zeros(1, np.int64))
    sum_k: Ints = field(default_factory=lambda: np.zeros(1, np.int64))
    sum_kk: Ints = field(default_factory=lambda: np.zeros(1, np.int64))
    break_row: int = 0
    """Row at which the present unbroken stretch began."""


_TERMS = ("count", "sum_x", "sum_xx", "sum_xk", "sum_k", "sum_kk")


@dataclass(frozen=True, slots=True)
class WindowStatistics:
    """What a trailing window says at each row; NaN where it cannot say."""

    mean: Floats
    slope_per_row: Floats
    slope_error: Floats
    """Standard error of the slope, from fresh readings only [per row]."""
    spread: Floats
    """Standard deviation about the fitted line."""
    readings: Ints
    rows: Ints
    """Length of the window in rows."""


def extend(sums: WindowSums, values: Floats, fresh: Bools, broken: Bools) -> WindowStatistics:
    """Take in further rows and give the window statistics at each of them.

    The line is fitted by least squares to the fresh readings of the trailing window, which is the longer of
    :data:`WINDOW_ROWS` and what holds :data:`WINDOW_READINGS` readings, and never reaches back over a break.

    Parameters
    ----------
    sums
        Memory of the rows before; changed in place.
    values : (n,)
        The signal at each row; NaN where there is none.
    fresh : (n,)
        Whether a new reading arrived in the row; held values are not evidence.
    broken : (n,)
        Whether a new stretch begins at the row: dropout, reconnect, start, change.

    Examples
    --------
    >>> rows = np.arange(400.0)
    >>> all_fresh, none = np.ones(400, bool), np.zeros(400, bool)
    >>> found = extend(WindowSums(1e-4), 280.0 + 0.001 * rows, all_fresh, none)
    >>> round(float(found.slope_per_row[-1]), 6), int(found.readings[-1])
    (0.001, 300)
    """
    n = values.size
    rows = sums.next_row + np.arange(n, dtype=np.int64)
    possible = np.abs(values) < MOST_QUANTA * sums.quantum  # False for NaN
    counted = fresh & possible
    x = np.rint(np.where(counted, values, 0.0) / sums.quantum).astype(np.int64)
    k = np.where(counted, rows, 0)
    with np.errstate(over="ignore"):
        for name, term in zip(_TERMS, (counted.astype(np.int64), x, x * x, x * k, k, k * k), strict=True):
            before: Ints = getattr(sums, name)
            setattr(sums, name, np.concatenate([before, before[-1] + np.cumsum(term)]))

    missing = ~possible
    fresh_start = np.where(broken, rows, np.where(missing, rows + 1, 0))
    starts = np.maximum(np.maximum.accumulate(fresh_start), sums.break_row)
    window_from = _window_start(sums, rows, starts)
    statistics = _statistics(sums, rows, window_from)

    sums.break_row = int(starts[-1]) if n else sums.break_row
    sums.next_row += n
    _forget(sums)
    return statistics


def _window_start(sums: WindowSums, rows: Ints, starts: Ints) -> Ints:
    """First row of each row's window: 300 rows, or back to the 30th last reading, no break inside."""
    upto = sums.count[rows + 1 - sums.first_row]
    # The row at which the count first reached (upto - 30): the window begins just after it.
    by_readings = sums.first_row + np.searchsorted(sums.count, upto - WINDOW_READINGS, side="right") - 1
    by_time = rows + 1 - WINDOW_ROWS
    longest = rows + 1 - LONGEST_WINDOW_ROWS
    start = np.maximum(np.minimum(by_time, by_readings), longest)
    return np.maximum(np.maximum(start, starts), sums.first_row)


def _statistics(sums: WindowSums, rows: Ints, window_from: Ints) -> WindowStatistics:
    """Least-squares line through each window, centred by whole numbers so that nothing cancels."""
    end, begin = rows + 1 - sums.first_row, np.minimum(window_from, rows + 1) - sums.first_row
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        n, s_x, s_xx, s_xk, s_k, s_kk = (
            getattr(sums, name)[end] - getattr(sums, name)[begin] for name in _TERMS
        )
        at_least_one = np.maximum(n, 1)
        mid_x, mid_k = s_x // at_least_one, s_k // at_least_one
        # Sums about the whole-number middles are exact in wrapping arithmetic: the true results are small.
        c_xx = s_xx - 2 * mid_x * s_x + n * mid_x * mid_x
        c_xk = s_xk - mid_x * s_k - mid_k * s_x + n * mid_x * mid_k
        c_kk = s_kk - 2 * mid_k * s_k + n * mid_k * mid_k
        count = n.astype(np.float64)
        d_x, d_k = (s_x - n * mid_x) / count, (s_k - n * mid_k) / count
        s_xx_f = c_xx - count * d_x * d_x
        s_xk_f = c_xk - count * d_x * d_k
        s_kk_f = c_kk - count * d_k * d_k
        slope = s_xk_f / s_kk_f
        residual = np.maximum(s_xx_f - slope * s_xk_f, 0.0) / (count - 2.0)
        # Rounding to a quantum adds a twelfth of its square; a still probe is never stiller than that.
        residual = residual + 1.0 / 12.0
        enough = n >= 3
        q = sums.quantum
        return WindowStatistics(
            mean=np.where(n > 0, (mid_x + d_x) * q, np.nan),
            slope_per_row=np.where(enough, slope * q, np.nan),
            slope_error=np.where(enough, np.sqrt(residual / s_kk_f) * q, np.nan),
            spread=np.where(enough, np.sqrt(residual) * q, np.nan),
            readings=n,
            rows=rows + 1 - np.minimum(window_from, rows + 1),
        )


def _forget(sums: WindowSums) -> None:
    """Drop what no window can reach any more."""
    keep_from = max(sums.next_row - LONGEST_WINDOW_ROWS, sums.first_row)
    if keep_from - sums.first_row >= LONGEST_WINDOW_ROWS:
        for name in _TERMS:
            setattr(sums, name, getattr(sums, name)[keep_from - sums.first_row :].copy())
        sums.first_row = keep_from


def still(found: WindowStatistics, limit: Limit, row_s: float) -> Bools:
    """Say at each row whether the signal passes: enough readings, slope and spread within the limit.

    Examples
    --------
    >>> rows = np.arange(400.0)
    >>> flat = extend(WindowSums(1e-4), np.full(400, 280.0), np.ones(400, bool), np.zeros(400, bool))
    >>> passed = still(flat, TEMPERATURE_LIMIT, 1.0)
    >>> bool(passed[298]), bool(passed[299])
    (False, True)
    """
    with np.errstate(invalid="ignore"):
        slope = (np.abs(found.slope_per_row) + 2.0 * found.slope_error) / row_s
        return np.asarray(
            (found.rows >= WINDOW_ROWS)
            & (found.readings >= WINDOW_READINGS)
            & (slope < limit.slope_per_s)
            & (found.spread < limit.spread)
        )
