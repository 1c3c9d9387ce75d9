"""Uncertainty of a derived value: first-order propagation through any function.

Formula (GUM, JCGM 100:2008, equations 10 and 13, with the partial derivatives taken numerically as in
GUM 5.1.3, note 2)::

    u_c^2 = sum_i (c_i u_i)^2  +  sum over groups g of (sum_i in g  c_i u_shared,i)^2
    c_i   = [f(x_i + u_i) - f(x_i - u_i)] / (2 u_i)

The second sum is for errors that several inputs share, such as two thermometers calibrated against the same
reference: they add up with their signs, so a difference of two such readings does not carry them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from analysis.elementwise import FloatArray

Function = Callable[..., FloatArray]


def propagate(
    function: Function,
    values: Sequence[FloatArray],
    u: Sequence[FloatArray],
    shared: Sequence[Mapping[int, FloatArray]] = (),
) -> tuple[FloatArray, FloatArray]:
    """Work out a function of several inputs and its standard uncertainty.

    Parameters
    ----------
    function
        Takes the inputs in order, elementwise; NaN where it cannot say.
    values, u : each (n,)
        Inputs and their independent standard uncertainties, in the same units. A NaN uncertainty means that
        nothing is promised about the input; the result then has none either.
    shared
        For each common cause: index of the input to the standard uncertainty that the cause gives it.

    Returns
    -------
    value, u : (n,)
        The result and its standard uncertainty (k = 1).

    Examples
    --------
    A flow of 1.0 L/s +- 3 % and a drop of 4 K +- 0.2 K:

    >>> value, u = propagate(lambda q, dt: 4186.0 * q * dt, [np.array([1.0]), np.array([4.0])],
    ...                      [np.array([0.03]), np.array([0.2])])
    >>> round(float(u[0] / value[0]), 4)
    0.0583

    Two thermometers with the same 0.3 K of calibration error lose it in their difference:

    >>> value, u = propagate(lambda a, b: a - b, [np.array([5.0]), np.array([1.0])],
    ...                      [np.array([0.1]), np.array([0.1])],
    ...                      [{0: np.array([0.3]), 1: np.array([0.3])}])
    >>> round(float(u[0]), 3)
    0.141
    """
    totals = np.stack([_with_shared(index, step, shared) for index, step in enumerate(u)])
    middle, up, down = _moved(function, values, totals)
    with np.errstate(invalid="ignore", divide="ignore"):
        slopes, squared = sensitivity(half_difference(middle, up, down), totals, np.stack(u))
        variance = np.zeros_like(middle)
        for part in squared:  # one after the other, since a sum depends on its order
            variance = variance + part
        for group in shared:
            together = np.zeros_like(middle)
            for index, part in group.items():
                together = together + slopes[index] * part
            variance = variance + together**2
        combined = np.sqrt(variance)
    return middle, np.where(np.isfinite(middle) & np.isfinite(combined), combined, np.nan)


def _with_shared(index: int, step: FloatArray, shared: Sequence[Mapping[int, FloatArray]]) -> FloatArray:
    """Give an input's whole uncertainty, independent and shared parts together."""
    for group in shared:
        if index in group:
            step = np.hypot(step, group[index])
    return step


def _moved(
    function: Function, values: Sequence[FloatArray], steps: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Evaluate the function in the middle and with each input moved up and down, all in one call.

    The function works element by element, so its results do not depend on what else is in the call.
    """
    m, n = len(values), values[0].size
    stacked = np.repeat(np.stack(values)[:, None, :], 2 * m + 1, axis=1)
    inputs = np.arange(m)
    stacked[inputs, 1 + inputs] += steps
    stacked[inputs, 1 + m + inputs] -= steps
    found = function(*(column.ravel() for column in stacked)).reshape(2 * m + 1, n)
    return found[0], found[1 : 1 + m], found[1 + m :]


def half_difference(middle: FloatArray, up: FloatArray, down: FloatArray) -> FloatArray:
    """Half the change of a function between both moves of an input.

    At the edge of a function's range one side may be unknown; the other side then serves alone.
    """
    both = np.asarray((up - down) / 2.0)
    known = np.isfinite(both)
    if known.all():
        return both
    one = np.where(np.isfinite(up), up - middle, middle - down)
    return np.where(known, both, one)


def sensitivity(change: FloatArray, total: FloatArray, own: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Give the sensitivity coefficients ``c_i`` and the terms ``(c_i u_i)^2`` of the variance.

    Parameters
    ----------
    change
        Half the function's change between both moves of each input.
    total
        By how much the input was moved: its whole standard uncertainty; NaN where nothing is promised.
    own
        The part of it that no other input shares.
    """
    slope = np.where(total > 0.0, change / total, 0.0)
    return slope, np.where(np.isnan(total), np.nan, (slope * own) ** 2)


def combine(*parts: FloatArray | float) -> FloatArray:
    """Add independent standard uncertainties: root sum of squares.

    Examples
    --------
    >>> float(combine(0.3, 0.4))
    0.5
    """
    total = np.zeros(())
    for part in parts:
        total = np.hypot(total, part)
    return np.asarray(total)
