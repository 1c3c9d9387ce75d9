"""How long until it is steady: an exponential fitted to what still moves, with an honest interval.

A machine that settles nears its final temperatures like ``c + A exp(-t / tau)``. The last minutes of each
signal that moves are fitted with that, for a grid of time constants; each time constant counts by how well it
fits. From every one follows when the slope over the trailing window will have fallen below its limit, and
from all of them together a distribution: its middle is told, and the span that holds the truth in some nine
of ten cases. Where no exponential fits, nothing is told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.elementwise import FloatArray
from analysis.window_sums import WINDOW_ROWS

LEAST_ROWS, MOST_ROWS, BIN_ROWS = 90, 300, 10
"""Rows that are fitted, in means of ten."""
TAUS: FloatArray = np.geomspace(20.0, 1800.0, 46)
"""Time constants that are tried [rows]: from a probe's lag to a floor's."""
NORMAL = (-1.645, -0.842, 0.0, 0.842, 1.645)
"""Points of the amplitude's normal distribution that stand for all of it, with equal weight each."""
MODEL_ERROR = 0.12
"""Share of the time ahead (k = 1) that one exponential misses of a machine with several; more where it looks
further ahead than it has looked back."""
MODEL_FLOOR_S = 10.0
TEMPER = 4.0
"""Neighbouring means share what no single exponential explains; so many of them count as one."""
LONGEST_S = 2400.0
"""What is further ahead than 40 min is not told."""
STEP_S = 5.0
POOR_FIT, POOR_SHARE = 0.06, 0.03
"""Residual of the means [K], and as a share of how far they move, above which the course is no exponential,
unless the probe's noise explains it."""
QUANTILES = (0.07, 0.5, 0.93)


@dataclass(frozen=True, slots=True)
class TimeToSteady:
    """When the machine will probably be steady, from now on [s]."""

    low_s: float
    middle_s: float
    high_s: float

    @classmethod
    def exactly(cls, seconds: float) -> TimeToSteady:
        """Give a forecast that only time stands in the way of."""
        return cls(max(seconds - STEP_S, 0.0), seconds, seconds + STEP_S)

    def later(self, seconds: float) -> TimeToSteady:
        """Give the same forecast when so much time has passed."""
        return TimeToSteady(*(max(s - seconds, 0.0) for s in (self.low_s, self.middle_s, self.high_s)))


@dataclass(frozen=True, slots=True)
class Course:
    """One signal's last rows up to now, and what it must come below."""

    values: FloatArray
    """Last rows, without gaps (n,), the newest last [K]."""
    noise: float
    """The probe's own noise [K]."""
    slope_limit: float
    """Limit of ``|slope| + 2 standard errors`` [K per row]."""
    window_rows: int
    """Rows in the window by now."""


def forecast(courses: Sequence[Course], least_s: float, confirm_s: float) -> TimeToSteady | None:
    """Say when all signals will be still and will have been so for long enough.

    Parameters
    ----------
    courses
        The signals that hold it back.
    least_s
        Time that must pass in any case, such as the rest of the run-in [s].
    confirm_s
        How long everything must have been still before it is called steady [s].

    Returns
    -------
    TimeToSteady or None
        None where a course is too short, no exponential, or too far from its end.

    Examples
    --------
    A line that nears its end with a time constant of 200 s and still moves by 0.4 K/min:

    >>> t = np.arange(300.0)
    >>> course = Course(300.0 - 6.0 * np.exp(-t / 200.0), 0.02, 0.1 / 60.0, 300)
    >>> found = forecast([course], 0.0, 120.0)
    >>> found.low_s <= found.middle_s <= found.high_s
    True
    >>> 480.0 < found.middle_s < 600.0
    True
    """
    times = np.arange(0.0, LONGEST_S + STEP_S, STEP_S)
    share = np.ones(times.size)  # of all forecasts in which everything is still by then
    for course in courses:
        found = _still_at(course)
        if found is None:
            return None
        when, weight = found
        order = np.argsort(when, kind="stable")
        reached = np.searchsorted(when[order], times, side="right")
        share = share * np.concatenate([[0.0], np.cumsum(weight[order])])[reached]
    share[times < least_s] = 0.0
    if share[-1] < QUANTILES[-1]:
        return None
    low, middle, high = (float(times[int(np.argmax(share >= q))]) + confirm_s for q in QUANTILES)
    return TimeToSteady(low, middle, high)


def _still_at(course: Course) -> tuple[FloatArray, FloatArray] | None:
    """Give times from now at which the signal may be still, and their weights (sum 1)."""
    n = min(course.values.size, MOST_ROWS) // BIN_ROWS * BIN_ROWS
    if n < LEAST_ROWS:
        return None
    means = course.values[-n:].reshape(-1, BIN_ROWS).mean(axis=1)
    ago = np.arange(means.size - 1.0, -1.0, -1.0) * BIN_ROWS + 0.5 * (BIN_ROWS - 1.0)
    shapes = np.exp(ago[None, :] / TAUS[:, None])  # 1 now, larger in the past
    off = shapes - shapes.mean(axis=1, keepdims=True)
    level = means - means.mean()
    power = (off * off).sum(axis=1)
    amplitude = (off * level).sum(axis=1) / power
    misfit = np.maximum((level * level).sum() - amplitude * amplitude * power, 0.0)
    noise = course.noise / np.sqrt(BIN_ROWS)
    variance = max(float(misfit.min()) / (means.size - 3), noise * noise, 1e-12)
    if np.sqrt(float(misfit.min()) / (means.size - 3)) > max(
        POOR_FIT, POOR_SHARE * float(np.ptp(means)), 3.0 * noise
    ):
        return None
    weight = np.exp(-(misfit - misfit.min()) / (2.0 * variance * TEMPER))
    error = np.sqrt(variance * TEMPER / power)
    amplitudes = amplitude[:, None] + error[:, None] * np.array(NORMAL)
    slopes = np.abs(amplitudes) * _UNIT_SLOPE[:, None]
    chance = 2.0 * course.noise * np.sqrt(12.0 / WINDOW_ROWS**3)
    room = max(course.slope_limit - chance, 0.2 * course.slope_limit)
    with np.errstate(divide="ignore"):
        when = TAUS[:, None] * np.log(np.maximum(slopes / room, 1e-9))
    when = np.maximum(when, 0.0)[:, :, None]
    when = when + np.array(NORMAL) * np.hypot(MODEL_ERROR * when * np.maximum(when / n, 1.0), MODEL_FLOOR_S)
    when = np.maximum(np.maximum(when, float(WINDOW_ROWS - course.window_rows)), 0.0)
    weights = np.repeat(weight / weight.sum() / len(NORMAL) ** 2, len(NORMAL) ** 2)
    return when.ravel(), weights


def _unit_slope() -> FloatArray:
    """Slope of the line through ``exp(ago / tau)`` over a window that ends now, for each time constant."""
    ago = np.arange(WINDOW_ROWS - 1.0, -1.0, -1.0)
    centred = ago - ago.mean()
    return np.asarray((np.exp(ago / TAUS[:, None]) * centred).sum(axis=1) / (centred * centred).sum())


_UNIT_SLOPE = _unit_slope()
