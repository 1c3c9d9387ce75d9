"""Piecewise polynomials fitted at Chebyshev nodes, for one value in plain Python or for arrays in blocks.

A curve is a few pieces, each a polynomial in ``s = slope * x + shift``, which runs from -1 to +1 over the
piece. The coefficients are fitted as a Chebyshev series and stored in rising powers of ``s``: on [-1, 1] and
up to some forty terms both forms are equally well conditioned for our curves (the generator measures it), and
the power form costs one multiplication and one addition per term.

One value never needs numpy: it is imported only when an array comes in, so that a look-up from the command
line starts at once.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    # slope, shift, coefficients from the highest power down
    _ArrayPolynomial = tuple[NDArray[np.float64], NDArray[np.float64], tuple[NDArray[np.float64], ...]]

#: A float in gives a float out; a float64 array in gives a float64 array of the same shape out.
FloatOrArray = TypeVar("FloatOrArray", float, "NDArray[np.float64]", "float | NDArray[np.float64]")

#: Lower end, upper end [of x], coefficients in rising powers of the scaled argument.
Piece = tuple[float, float, tuple[float, ...]]

#: Values outside the range by no more than this fraction are taken as the end itself: a pressure and the
#: temperature worked out from it must lead back to each other at the ends too.
END_SLACK = 1e-9

# Long enough that numpy's cost per call hardly counts, short enough that three buffers stay in the cache.
_BLOCK = 32_768


class PiecewiseSeries:
    """A function of one variable given by polynomial pieces, NaN outside its range.

    Parameters
    ----------
    pieces
        Adjoining pieces in rising order of x.
    lower, upper
        Range of the argument, in the argument's own unit.
    log_argument
        The pieces are in the natural logarithm of the argument.
    log_value
        The pieces give the natural logarithm of the value.

    Examples
    --------
    >>> line = PiecewiseSeries(((0.0, 2.0, (1.0, 1.0)),), 0.0, 2.0)
    >>> line(0.5), line(3.0)
    (0.5, nan)
    """

    __slots__ = (
        "_edges",
        "_for_arrays",
        "_log_argument",
        "_log_value",
        "_pieces",
        "_polynomials",
        "lower",
        "upper",
    )

    def __init__(
        self,
        pieces: tuple[Piece, ...],
        lower: float,
        upper: float,
        *,
        log_argument: bool = False,
        log_value: bool = False,
    ) -> None:
        self._pieces = pieces
        self.lower = lower
        self.upper = upper
        self._log_argument = log_argument
        self._log_value = log_value
        self._edges = tuple(right for _, right, _ in pieces[:-1])
        # slope, shift, coefficients from the highest power down, as Horner's rule wants them
        self._polynomials = tuple(
            (2.0 / (right - left), -(right + left) / (right - left), tuple(reversed(coefficients)))
            for left, right, coefficients in pieces
        )
        self._for_arrays: tuple[_ArrayPolynomial, ...] = ()

    def __call__(self, x: FloatOrArray) -> FloatOrArray:
        """Evaluate the curve.

        Parameters
        ----------
        x
            Argument, a float or a float64 array of any shape.

        Returns
        -------
        float or array
            Value in the same shape; NaN where x is NaN or out of range.
        """
        if isinstance(x, (float, int)):
            return self._at(float(x))
        return self._over(x)

    def derivative(self) -> PiecewiseSeries:
        """Return the derivative with respect to the pieces' own variable (the logarithm where there is one).

        Returns
        -------
        PiecewiseSeries
            The slope over the same range.

        Raises
        ------
        ValueError
            For a curve whose pieces give a logarithm: its derivative is no polynomial.
        """
        if self._log_value:
            raise ValueError("The derivative of a curve in the logarithm of its value is no polynomial.")
        pieces = tuple(
            (
                left,
                right,
                tuple(2.0 / (right - left) * power * c for power, c in enumerate(coefficients) if power),
            )
            for left, right, coefficients in self._pieces
        )
        return PiecewiseSeries(pieces, self.lower, self.upper, log_argument=self._log_argument)

    def _at(self, x: float) -> float:
        if not self.lower * (1.0 - END_SLACK) <= x <= self.upper * (1.0 + END_SLACK):
            return math.nan
        x = min(max(x, self.lower), self.upper)
        if self._log_argument:
            x = math.log(x)
        index = 0
        for edge in self._edges:
            index += x > edge
        slope, shift, falling = self._polynomials[index]
        s = x * slope + shift
        value = 0.0
        for coefficient in falling:
            value = value * s + coefficient
        return math.exp(value) if self._log_value else value

    def _over(self, x: NDArray[np.float64]) -> NDArray[np.float64]:
        import numpy as np

        # Always through a contiguous buffer of our own: then every element meets the same machine
        # instructions whatever the strides, and its value cannot depend on its neighbours.
        if not self._for_arrays:
            # As arrays without dimensions: numpy takes them faster than Python's floats.
            self._for_arrays = tuple(
                (np.asarray(slope), np.asarray(shift), tuple(map(np.asarray, falling)))
                for slope, shift, falling in self._polynomials
            )
        source = np.ascontiguousarray(x, dtype=np.float64)
        result = np.empty(np.shape(x), dtype=np.float64)
        flat_in, flat_out = source.reshape(-1), result.reshape(-1)
        size = min(_BLOCK, max(flat_in.size, 1))
        argument, scaled = np.empty(size), np.empty(size)
        for start in range(0, flat_in.size, _BLOCK):
            block = flat_in[start : start + _BLOCK]
            out = flat_out[start : start + _BLOCK]
            self._block(block, out, argument[: block.size], scaled[: block.size])
        return result

    def _block(
        self,
        x: NDArray[np.float64],
        out: NDArray[np.float64],
        argument: NDArray[np.float64],
        scaled: NDArray[np.float64],
    ) -> None:
        import numpy as np

        # A block that lies inside the range, as nearly all do, needs no clamping; NaN compares false.
        inside = bool(x.min() >= self.lower and x.max() <= self.upper)
        if inside:
            np.copyto(argument, x)
        else:
            np.minimum(x, self.upper, out=argument)
            np.maximum(argument, self.lower, out=argument)
        if self._log_argument:
            np.log(argument, out=argument)
        _horner(argument, self._for_arrays[0], scaled, out)
        for edge, polynomial in zip(self._edges, self._for_arrays[1:], strict=True):
            if argument.max() <= edge:
                break
            above = argument > edge
            count = int(np.count_nonzero(above))
            if count == x.size:
                _horner(argument, polynomial, scaled, out)
            elif count:
                chosen = argument[above]
                values = np.empty(count)
                _horner(chosen, polynomial, scaled[:count], values)
                out[above] = values
        if self._log_value:
            np.exp(out, out=out)
        if not inside:
            lowest, highest = self.lower * (1.0 - END_SLACK), self.upper * (1.0 + END_SLACK)
            out[~((x >= lowest) & (x <= highest))] = np.nan


def _horner(
    x: NDArray[np.float64],
    polynomial: _ArrayPolynomial,
    scaled: NDArray[np.float64],
    out: NDArray[np.float64],
) -> None:
    """Evaluate one polynomial over a block, in place and in the order of the scalar path."""
    import numpy as np

    slope, shift, falling = polynomial
    np.multiply(x, slope, scaled)
    np.add(scaled, shift, scaled)
    if len(falling) == 1:
        out.fill(falling[0])
        return
    np.multiply(scaled, falling[0], out)
    for coefficient in falling[1:-1]:
        np.add(out, coefficient, out)
        np.multiply(out, scaled, out)
    np.add(out, falling[-1], out)
