"""One rule for every formula of this package: numbers and arrays alike, and never a false number.

A formula is written for numpy arrays. :func:`elementwise` lets it take single numbers too, silences numpy's
warnings, and turns every result that is not finite, or that came from an input that is not finite, into NaN.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import ParamSpec, TypeAlias

import numpy as np
import numpy.typing as npt

FloatArray: TypeAlias = npt.NDArray[np.float64]
FloatOrArray: TypeAlias = float | FloatArray

_Arguments = ParamSpec("_Arguments")


def elementwise(formula: Callable[_Arguments, FloatOrArray]) -> Callable[_Arguments, FloatOrArray]:
    """Make a numpy formula safe: single number in, single number out; unknown or impossible gives NaN.

    Parameters
    ----------
    formula
        Function of numbers or arrays (they are broadcast against each other) and of other objects, which are
        passed through. It marks what is impossible with NaN, or lets it come out as infinite.

    Examples
    --------
    >>> @elementwise
    ... def quotient(a: FloatOrArray, b: FloatOrArray) -> FloatOrArray:
    ...     return a / b
    >>> quotient(1.0, 4.0), quotient(1.0, 0.0), quotient(1.0, float("inf"))
    (0.25, nan, nan)
    >>> quotient(np.array([1.0, np.nan]), 2.0)
    array([0.5, nan])
    """

    @functools.wraps(formula)
    def safe(*args: _Arguments.args, **kwargs: _Arguments.kwargs) -> FloatOrArray:
        numbers: list[FloatArray] = []

        def prepared(value: object) -> object:
            if isinstance(value, bool) or not isinstance(value, int | float | np.number | np.ndarray):
                return value
            array = np.asarray(value, dtype=np.float64)
            numbers.append(array)
            return array

        positional = [prepared(value) for value in args]
        named = {name: prepared(value) for name, value in kwargs.items()}
        with np.errstate(all="ignore"):
            result = np.asarray(formula(*positional, **named), dtype=np.float64)  # type: ignore[arg-type]
            known = np.isfinite(result)
            for array in numbers:
                known = known & np.isfinite(array)
            result = np.where(known, result, np.nan)
        return float(result) if result.ndim == 0 else result

    return safe


def only_where(possible: npt.ArrayLike, value: npt.ArrayLike) -> FloatArray:
    """Keep a value where it is possible, NaN elsewhere.

    Examples
    --------
    >>> only_where(np.array([True, False]), np.array([1.0, 2.0]))
    array([ 1., nan])
    """
    return np.where(possible, value, np.nan)
