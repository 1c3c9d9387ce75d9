"""How a coil's pressure drop follows liquid and temperature, and interpolation in logarithms."""

from __future__ import annotations

import numpy as np

from analysis.elementwise import FloatArray, FloatOrArray, elementwise
from analysis.liquids import Liquid

_VISCOSITY_EXPONENT, _DENSITY_EXPONENT = 0.2, 0.8
_U_VISCOSITY_EXPONENT = 0.05  # the law's exponent is 0.2 to 0.25 in turbulent flow


@elementwise
def drop_correction(
    liquid: Liquid, t: FloatOrArray, reference: Liquid, t_reference: FloatOrArray
) -> FloatOrArray:
    """Ratio of the drops at one flow for two liquids or temperatures: (mu / mu_ref)^0.2 (rho / rho_ref)^0.8.

    Turbulent flow (friction factor ~ Re^-0.2 to Re^-0.25). Exactly 1 for the reference itself.
    Some makers print a row for plain water below its freezing point; the law then starts at that point.

    Parameters
    ----------
    liquid, t
        What flows, and its mean temperature [K].
    reference, t_reference
        What the table or rated point is for [K].

    Returns
    -------
    FloatOrArray
        Ratio of the drops [1].

    Examples
    --------
    >>> loop, water = Liquid("propylene_glycol", mass_fraction=0.20), Liquid("water")
    >>> round(drop_correction(loop, 283.15, water, 283.15), 2)
    1.19
    """
    t_law = np.maximum(t_reference, reference.freezing_point)
    viscosity = np.asarray(liquid.viscosity(t)) / reference.viscosity(t_law)
    density = np.asarray(liquid.density(t)) / reference.density(t_law)
    same = (liquid == reference) & (np.asarray(t) == t_reference)
    # np.power, not **, which takes another road for single numbers and differs in the last digit.
    factor = np.power(viscosity, _VISCOSITY_EXPONENT) * np.power(density, _DENSITY_EXPONENT)
    return np.where(same, 1.0, factor)


@elementwise
def drop_correction_uncertainty(
    liquid: Liquid, t: FloatOrArray, reference: Liquid, t_reference: FloatOrArray
) -> FloatOrArray:
    """Relative standard uncertainty of :func:`drop_correction`: 0.05 |ln(mu / mu_ref)|, for its exponent.

    Parameters
    ----------
    liquid, t, reference, t_reference
        As there.

    Returns
    -------
    FloatOrArray
        Relative uncertainty, k = 1 [1].

    Examples
    --------
    >>> loop, water = Liquid("propylene_glycol", mass_fraction=0.20), Liquid("water")
    >>> round(drop_correction_uncertainty(loop, 283.15, water, 283.15), 3)
    0.039
    """
    ratio = np.asarray(liquid.viscosity(t)) / reference.viscosity(
        np.maximum(t_reference, reference.freezing_point)
    )
    same = (liquid == reference) & (np.asarray(t) == t_reference)
    return np.where(same, 0.0, _U_VISCOSITY_EXPONENT * np.abs(np.log(ratio)))


def on_logarithmic_curve(
    from_logs: FloatArray, to_logs: FloatArray, value: FloatOrArray
) -> tuple[FloatOrArray, FloatOrArray]:
    """Interpolate in logarithms between the points of a rising curve; nothing is extrapolated.

    Parameters
    ----------
    from_logs, to_logs
        Logarithms of the curve's points, along the last axis; broadcast against ``value``.
    value
        Where to look it up, in the unit of ``from_logs`` before the logarithm.

    Returns
    -------
    tuple
        Value on the curve, and the slope d ln(from) / d ln(to) of its interval; NaN outside.

    Examples
    --------
    >>> on_logarithmic_curve(np.log([1.0, 4.0]), np.log([1.0, 2.0]), 2.25)
    (1.5, 2.0)
    """
    x = np.asarray(value, np.float64)[..., np.newaxis]
    with np.errstate(all="ignore"):
        x = np.log(x)
    shape = (
        *np.broadcast_shapes(x.shape[:-1], from_logs.shape[:-1], to_logs.shape[:-1]),
        from_logs.shape[-1],
    )
    from_logs, to_logs = np.broadcast_to(from_logs, shape), np.broadcast_to(to_logs, shape)
    # A rounding step of grace, so that the table's own figures are inside it.
    inside = (x >= from_logs[..., :1] - 1e-9) & (x <= from_logs[..., -1:] + 1e-9)
    place = np.clip(np.sum(from_logs <= x, axis=-1, keepdims=True) - 1, 0, shape[-1] - 2)
    x0, x1 = (np.take_along_axis(from_logs, place + step, axis=-1) for step in (0, 1))
    y0, y1 = (np.take_along_axis(to_logs, place + step, axis=-1) for step in (0, 1))
    result = np.where(inside, np.exp(y0 + (x - x0) * (y1 - y0) / (x1 - x0)), np.nan)[..., 0]
    slope = np.where(inside, (x1 - x0) / (y1 - y0), np.nan)[..., 0]
    return (float(result), float(slope)) if result.ndim == 0 else (result, slope)
