"""What is in the loop: composition from volume fraction, freezing point or density, and after dilution."""

from __future__ import annotations

import numpy as np
from numpy.polynomial import chebyshev

from analysis.elementwise import FloatOrArray, elementwise, only_where
from analysis.liquid_facts import PURE_20, WATER_20, LiquidError, liquid_table
from analysis.liquids import Liquid, freezing_point, unit_interval


@elementwise
def mass_from_volume_fraction(name: str, volume_fraction: FloatOrArray) -> FloatOrArray:
    """Mass fraction from the volume fraction of chemical and water before mixing, both at 20 degC.

    w = phi rho / (phi rho + (1 - phi) rho_w). Mixing shrinks the volume, so a fraction of the finished
    mixture's volume (as some alcohol tables state) is another number: for ethanol up to 4 % larger.

    Parameters
    ----------
    name
        Chemical: propylene_glycol, ethylene_glycol, methanol or ethanol; others give NaN.
    volume_fraction
        Volume of pure chemical over the sum of both volumes [1].

    Examples
    --------
    >>> round(mass_from_volume_fraction("propylene_glycol", 0.20), 4)
    0.206
    """
    phi = np.asarray(volume_fraction)
    pure = PURE_20.get(name, np.nan)
    return only_where((phi >= 0) & (phi <= 1), phi * pure / (phi * pure + (1 - phi) * WATER_20))


@elementwise
def volume_from_mass_fraction(name: str, mass_fraction: FloatOrArray) -> FloatOrArray:
    """Volume fraction before mixing at 20 degC from the mass fraction: the inverse of the above.

    Examples
    --------
    >>> round(volume_from_mass_fraction("ethylene_glycol", 0.30), 4)
    0.2776
    """
    w = np.asarray(mass_fraction)
    ratio = WATER_20 / PURE_20.get(name, np.nan)
    return only_where((w >= 0) & (w <= 1), w * ratio / (w * ratio + 1 - w))


@elementwise
def mass_fraction_from_freezing_point(name: str, t_freezing: FloatOrArray) -> FloatOrArray:
    """Composition from a freezing point, as a refractometer made for this chemical shows it.

    Parameters
    ----------
    name
        A liquid of :data:`LIQUID_NAMES` other than water.
    t_freezing
        Indicated freezing point [K]. NaN results outside the table.

    Examples
    --------
    >>> round(mass_fraction_from_freezing_point("propylene_glycol", 273.15 - 9.785), 3)
    0.25
    """
    table = liquid_table(name)
    if table.MASS_FRACTION_MAX == 0.0:
        return np.full(np.shape(t_freezing), np.nan)
    x = np.linspace(0.0, table.MASS_FRACTION_MAX, 4001)
    falling = freezing_point(name, x)
    t = np.asarray(t_freezing)
    inside = (t <= falling[0] + 1e-6) & (t >= falling[-1] - 1e-6)  # K, so that the ends survive rounding
    return only_where(inside, np.interp(t, falling[::-1], x[::-1]))


@elementwise
def mass_fraction_from_density(name: str, density: FloatOrArray, t: FloatOrArray) -> FloatOrArray:
    """Composition from a hydrometer's density at the temperature of the sample.

    For propylene glycol density moves by only about 1 kg/m3 per percent, so a hydrometer that is right to
    2 kg/m3 tells the composition to about 2 percent by mass; a freezing point tells more.

    Parameters
    ----------
    name
        A liquid of :data:`LIQUID_NAMES` other than water.
    density
        Measured density [kg/m3].
    t
        Temperature of the sample [K].

    Returns
    -------
    FloatOrArray
        Mass fraction [1]; NaN outside the table, when frozen, or where density does not tell it.

    Examples
    --------
    >>> rho = Liquid("calcium_chloride", mass_fraction=0.20).density(293.15)
    >>> round(mass_fraction_from_density("calcium_chloride", rho, 293.15), 4)
    0.2
    """
    table = liquid_table(name)
    if table.MASS_FRACTION_MAX == 0.0:
        return np.full(np.broadcast_shapes(np.shape(density), np.shape(t)), np.nan)
    rho, t = np.broadcast_arrays(density, t)
    rows = np.array(table.DENSITY, dtype=np.float64)
    x_grid = np.linspace(0.0, table.MASS_FRACTION_MAX, 121)
    mapped_t = unit_interval(t, table.T_MIN, table.T_MAX)
    # One series in composition per temperature: coefficients along the first axis.
    by_x = chebyshev.chebval(mapped_t, rows)
    grid = chebyshev.chebval(unit_interval(x_grid, 0.0, table.MASS_FRACTION_MAX), by_x)
    step = np.diff(grid, axis=-1)
    tells = np.all(step > 0, axis=-1) | np.all(step < 0, axis=-1)
    rising = np.where(grid[..., -1] > grid[..., 0], 1.0, -1.0)
    low, high = np.zeros_like(rho), np.full_like(rho, table.MASS_FRACTION_MAX)
    for _ in range(50):  # halves 0.6 down to below rounding
        middle = (low + high) / 2
        value = chebyshev.chebval(unit_interval(middle, 0.0, table.MASS_FRACTION_MAX), by_x, tensor=False)
        above = rising * (value - rho) > 0
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    x = (low + high) / 2
    inside = (rho >= grid.min(axis=-1)) & (rho <= grid.max(axis=-1))
    liquid = (t >= freezing_point(name, x)) & (t <= table.T_MAX)
    return only_where(tells & inside & liquid, x)


def diluted(liquid: Liquid, replaced: float) -> Liquid:
    """Say what a mixture becomes when a part of it is replaced by make-up water: w' = w (1 - f).

    Parameters
    ----------
    liquid
        The mixture before.
    replaced
        Mass replaced by plain water over the mass of the whole filling [1].

    Raises
    ------
    LiquidError
        If ``replaced`` is not from 0 to 1.

    Examples
    --------
    >>> weaker = diluted(Liquid("propylene_glycol", mass_fraction=0.25), 1 / 5)
    >>> round(weaker.mass_fraction, 2), round(weaker.freezing_point - 273.15, 1)
    (0.2, -7.2)
    """
    if not 0.0 <= replaced <= 1.0:
        raise LiquidError(f"The part replaced goes from 0 to 1, not {replaced:g}: write a fifth as 0.2.")
    return Liquid(liquid.name, mass_fraction=liquid.mass_fraction * (1.0 - replaced))
