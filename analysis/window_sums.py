"""Slope and spread of signals over trailing windows, exact in any chunking.

Sums over a moving window lose digits when they are kept as floating-point running sums: a pressure of three
million pascal leaves nothing of a variance of one. Here each value is first rounded to a whole number of
quanta, fine enough to be far below any probe's noise, and the sums are kept in 64-bit integers. Integer
addition is exact and associative, even where it wraps around, so a window's sums do not depend on how the
rows were cut into chunks, and nothing drifts over days of recording. All signals are worked on in one call.
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
NEWEST_ROWS, NEWEST_READINGS = 15, 3
"""A jump shows in the newest readings long before it tilts the line through five minutes."""
QUIET_ROWS = 60
"""The probe's own noise is learnt from the quietest stretch of at least a minute and 30 readings."""
MOST_QUANTA = 2**24
"""Beyond this a value is no reading of a machine (1,677 K at 0.1 mK), and its squares would not fit."""
MOST_RHO = 0.98
"""Residuals that agree more than this from one reading to the next say nothing of their own."""

_TERMS = 7
_COUNT, _X, _XX, _XK, _K, _KK, _DD = range(_TERMS)
_ROOM = 1024


@dataclass(slots=True)
class WindowSums:
    """Exact running sums of several signals; the fold's memory of their trailing windows.

    Only what a window can still reach back to is kept, so the memory is bounded.
    """

    quantum: Floats
    """Rounding of the exact sums, one for each signal (s,) [signal unit]."""
    next_row: int = 0
    """Index of the next row to come; rows count from the start of the session."""
    first_row: int = field(init=False)
    """Index of the row that the first kept entries belong to (the sums *before* it)."""
    kept: int = 1
    """How many entries are in use."""
    buffer: Ints = field(init=False)
    """Sums before each row (s, terms, room)."""
    break_row: Ints = field(init=False)
    """Row at which each signal's present unbroken stretch began."""
    last_row: Ints = field(init=False)
    """Row of each signal's last fresh reading, and what it was [quanta]."""
    last_x: Ints = field(init=False)
    quietest: Floats = field(init=False)
    """Least variance of the noise so far [quanta squared]; infinite before there was any."""

    def __post_init__(self) -> None:
        s = self.quantum.size
        self.first_row = self.next_row
        self.buffer = np.zeros((s, _TERMS, LONGEST_WINDOW_ROWS + _ROOM), np.int64)
        self.break_row = np.full(s, self.next_row, np.int64)
        self.last_row = np.full(s, -1, np.int64)
        self.last_x = np.zeros(s, np.int64)
        self.quietest = np.full(s, np.inf)

    def of(self, keep: list[int], quantum: Floats) -> WindowSums:
        """Give the memory for another choice of signals: index of the one continued, or -1 for a new one."""
        made = WindowSums(quantum, self.next_row)
        made.first_row, made.kept = self.first_row, self.kept
        made.buffer = np.zeros((quantum.size, *self.buffer.shape[1:]), np.int64)
        for new, old in enumerate(keep):
            if old >= 0:
                for name in ("buffer", "break_row", "last_row", "last_x", "quietest"):
                    getattr(made, name)[new] = getattr(self, name)[old]
        return made


@dataclass(frozen=True, slots=True)
class WindowStatistics:
    """What trailing windows say at each row; NaN where they cannot say."""

    mean: Floats
    slope_per_row: Floats
    slope_error: Floats
    """Standard error of the slope, from fresh readings that may follow each other [per row]."""
    spread: Floats
    """Standard deviation about the fitted line."""
    readings: Ints
    rows: Ints
    """Length of the window in rows."""
    noise: Floats
    """The probe's own noise: standard deviation in its quietest stretch so far."""
    lead: Floats
    """How far the mean of the newest readings (a quarter minute, three at least) lies off the line."""
    newest: Ints
    """How many readings those are."""

    def of(self, index: int) -> WindowStatistics:
        """Give one signal's part of statistics of several signals."""
        return WindowStatistics(
            self.mean[index], self.slope_per_row[index], self.slope_error[index], self.spread[index],
            self.readings[index], self.rows[index], self.noise[index], self.lead[index], self.newest[index],
        )  # fmt: skip


def extend(sums: WindowSums, values: Floats, fresh: Bools, broken: Bools) -> WindowStatistics:
    """Take in further rows and give the window statistics at each of them.

    The line is fitted by least squares to the fresh readings of the trailing window, which is the longer of
    :data:`WINDOW_ROWS` and what holds :data:`WINDOW_READINGS` readings, and never reaches back over a break.
    Its standard error counts readings that follow each other as fewer::

        rho = 1 - mean((x_i - x_(i-1))^2) / (2 spread^2)          (von Neumann's ratio, 1941)
        s(slope) = spread / sqrt(sum((t - mean t)^2)) * sqrt((1 + rho) / (1 - rho))

    Half the mean square of the differences between neighbouring readings is also the variance of the noise
    by itself, whatever slow course lies under it; the least such figure so far is the probe's noise floor.

    Parameters
    ----------
    sums
        Memory of the rows before; changed in place.
    values : (s, n)
        The signals at each row; NaN where there is none.
    fresh : (s, n)
        Whether a new reading arrived in the row; held values are not evidence.
    broken : (s,)
        Whether a new stretch begins at the first row: dropout, reconnect, start, change.

    Examples
    --------
    >>> rows = np.arange(400.0)[None]
    >>> sums = WindowSums(np.array([1e-4]))
    >>> found = extend(sums, 280.0 + 0.001 * rows, np.ones((1, 400), bool), np.zeros(1, bool))
    >>> round(float(found.slope_per_row[0, -1]), 6), int(found.readings[0, -1])
    (0.001, 300)
    """
    n = values.shape[1]
    rows = sums.next_row + np.arange(n, dtype=np.int64)
    possible = np.abs(values) < (MOST_QUANTA * sums.quantum)[:, None]  # False for NaN
    counted = fresh & possible
    starts = np.where(possible, 0, rows + 1)
    if n:
        starts[:, 0] = np.where(broken, np.maximum(starts[:, 0], rows[0]), starts[:, 0])
    starts = np.maximum(np.maximum.accumulate(starts, axis=1), sums.break_row[:, None])
    _append(sums, values, counted, rows, starts)

    window_from, newest_from = (
        np.minimum(np.maximum(_back(sums, rows, *least), starts), rows + 1)
        for least in ((WINDOW_ROWS, WINDOW_READINGS), (NEWEST_ROWS, NEWEST_READINGS))
    )
    statistics = _statistics(sums, rows, window_from, newest_from)

    if n:
        sums.break_row = starts[:, -1].copy()
    sums.next_row += n
    _forget(sums)
    return statistics


def _append(sums: WindowSums, values: Floats, counted: Bools, rows: Ints, starts: Ints) -> None:
    """Add the rows' terms to the running sums."""
    n = rows.size
    x = np.rint(np.where(counted, values, 0.0) / sums.quantum[:, None]).astype(np.int64)
    k = np.where(counted, rows, 0)
    newest = np.maximum.accumulate(np.where(counted, np.arange(n), -1), axis=1)
    before = np.concatenate([np.full((values.shape[0], 1), -1), newest[:, :-1]], axis=1)
    inside = before >= 0
    x_before = np.where(inside, np.take_along_axis(x, np.maximum(before, 0), 1), sums.last_x[:, None])
    row_before = np.where(inside, sums.next_row + before, sums.last_row[:, None])
    d = np.where(counted & (row_before >= starts), x - x_before, 0)
    if sums.kept + n > sums.buffer.shape[2]:
        room = np.zeros((*sums.buffer.shape[:2], sums.kept + n + _ROOM), np.int64)
        room[:, :, : sums.kept] = sums.buffer[:, :, : sums.kept]
        sums.buffer = room
    with np.errstate(over="ignore"):
        part = sums.buffer[:, :, sums.kept : sums.kept + n]
        for index, term in enumerate((counted, x, x * x, x * k, k, k * k, d * d)):
            np.cumsum(term, axis=1, out=part[:, index])
        part += sums.buffer[:, :, sums.kept - 1 : sums.kept]
    sums.kept += n
    if n:
        any_new = newest[:, -1] >= 0
        last = np.maximum(newest[:, -1:], 0)
        sums.last_x = np.where(any_new, np.take_along_axis(x, last, 1)[:, 0], sums.last_x)
        sums.last_row = np.where(any_new, sums.next_row + last[:, 0], sums.last_row)


def _back(sums: WindowSums, rows: Ints, least_rows: int, least_readings: int) -> Ints:
    """First row of each row's window: so many rows, or back to the so-manieth last reading."""
    counts = sums.buffer[:, _COUNT, : sums.kept]
    upto = counts[:, rows + 1 - sums.first_row] - least_readings
    longest = np.maximum(rows + 1 - LONGEST_WINDOW_ROWS, sums.first_row)
    by_time = np.maximum(rows + 1 - least_rows, sums.first_row)
    found = np.broadcast_to(by_time, upto.shape).copy()
    short = counts[:, by_time - sums.first_row] > upto
    for signal in np.flatnonzero(short.any(axis=1)).tolist():
        # The row at which the count first reached what is to be left out: the window begins just after it.
        by_readings = sums.first_row + np.searchsorted(counts[signal], upto[signal], side="right") - 1
        found[signal] = np.maximum(np.minimum(by_time, by_readings), longest)
    return found


def _statistics(sums: WindowSums, rows: Ints, window_from: Ints, newest_from: Ints) -> WindowStatistics:
    """Least-squares line through each window, centred by whole numbers so that nothing cancels."""
    end, begin = rows + 1 - sums.first_row, window_from - sums.first_row
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        at_end = sums.buffer[:, :, end[0] : end[-1] + 1] if rows.size else sums.buffer[:, :, :0]
        at_begin = np.take_along_axis(sums.buffer, begin[:, None, :], axis=2)
        n, s_x, s_xx, s_xk, s_k, s_kk, s_dd = np.moveaxis(at_end - at_begin, 1, 0)
        at_least_one = np.maximum(n, 1)
        mid_x = np.rint(s_x / at_least_one).astype(np.int64)
        mid_k = np.rint(s_k / at_least_one).astype(np.int64)
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
        # Rounding to a quantum adds a twelfth of its square; a still probe is never stiller than that.
        residual = np.maximum(s_xx_f - slope * s_xk_f, 0.0) / (count - 2.0) + 1.0 / 12.0
        white = 0.5 * s_dd / (count - 1.0) + 1.0 / 12.0
        rho = np.minimum(np.maximum(1.0 - white / residual, 0.0), MOST_RHO)
        learnt = (n >= WINDOW_READINGS) & (rows + 1 - window_from >= QUIET_ROWS)
        floor = np.minimum(
            np.minimum.accumulate(np.where(learnt, white, np.inf), axis=1), sums.quietest[:, None]
        )
        if rows.size:
            sums.quietest = floor[:, -1].copy()
        lately = np.take_along_axis(sums.buffer[:, :_XX], (newest_from - sums.first_row)[:, None, :], axis=2)
        few, few_x = np.moveaxis(at_end[:, :_XX] - lately, 1, 0)
        few_k = at_end[:, _K] - np.take_along_axis(sums.buffer[:, _K], newest_from - sums.first_row, 1)
        off_x = (few_x - few * mid_x) / few - d_x
        off_k = (few_k - few * mid_k) / few - d_k
        enough = n >= 3
        q = sums.quantum[:, None]
        return WindowStatistics(
            mean=np.where(n > 0, (mid_x + d_x) * q, np.nan),
            slope_per_row=np.where(enough, slope * q, np.nan),
            slope_error=np.where(
                enough, np.sqrt(residual / s_kk_f * ((1.0 + rho) / (1.0 - rho))) * q, np.nan
            ),
            spread=np.where(enough, np.sqrt(residual) * q, np.nan),
            readings=n,
            rows=rows + 1 - window_from,
            noise=np.where(np.isfinite(floor), np.sqrt(floor) * q, np.nan),
            lead=np.where(enough, (off_x - slope * off_k) * q, np.nan),
            newest=few,
        )


def _forget(sums: WindowSums) -> None:
    """Drop what no window can reach any more, now and then."""
    if sums.kept > LONGEST_WINDOW_ROWS + _ROOM - 64:
        drop = sums.kept - 1 - LONGEST_WINDOW_ROWS
        kept = sums.buffer[:, :, drop : sums.kept].copy()
        sums.buffer = np.zeros((*kept.shape[:2], LONGEST_WINDOW_ROWS + _ROOM), np.int64)
        sums.buffer[:, :, : kept.shape[2]] = kept
        sums.first_row += drop
        sums.kept = kept.shape[2]
