"""Liquids of the source and load side: water, sea water, glycols, alcohols and brines.

Density, specific heat, viscosity, conductivity and freezing point come from the generated tables of
:mod:`analysis.liquid_tables`; each names its source. A mixture's fraction is always stated as mass or volume.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import numpy as np
from numpy.polynomial import chebyshev

from analysis.elementwise import FloatArray, FloatOrArray, elementwise, only_where
from analysis.liquid_facts import (
    CAUTIONS,
    LIQUID_NAMES,
    PURE_20,
    SPREAD,
    TABLES,
    WATER_20,
    LiquidError,
    liquid_table,
)

__all__ = [
    "LIQUID_NAMES",
    "Liquid",
    "LiquidError",
    "freezing_point",
    "liquid_table",
    "parse_liquid",
    "unit_interval",
]

_WRITTEN = re.compile(r"([a-z][a-z _\-]*?)(?:\s+([\d.]+)\s*(%|g/kg)\s*(?:by\s+)?(mass|volume)?)?")


@dataclass(frozen=True, slots=True)
class Liquid:
    """One liquid of stated composition.

    Parameters
    ----------
    name
        One of :data:`LIQUID_NAMES`.
    mass_fraction
        Mass of the dissolved chemical or salt over the mass of the mixture [1]; only water has none.

    Raises
    ------
    LiquidError
        If the name is unknown, the fraction is missing or outside the table.

    Examples
    --------
    >>> loop = Liquid("propylene_glycol", mass_fraction=0.25)
    >>> round(float(loop.density(275.15)), 0), round(float(loop.specific_heat(275.15)), -1)
    (1025.0, 3880.0)
    >>> round(loop.freezing_point - 273.15, 1)
    -9.8
    >>> Liquid("methanol", mass_fraction=25)
    Traceback (most recent call last):
    analysis.liquid_facts.LiquidError: methanol goes from 0 to 60 % mass, not 2500 %: write 25 % as 0.25.
    """

    name: str
    mass_fraction: float = field(default=float("nan"), kw_only=True)
    freezing_point: float = field(init=False, repr=False, compare=False)
    """Temperature at which the first ice forms [K]."""
    _density: FloatArray = field(init=False, repr=False, compare=False)
    _specific_heat: FloatArray = field(init=False, repr=False, compare=False)
    _ln_viscosity: FloatArray = field(init=False, repr=False, compare=False)
    _conductivity: FloatArray = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        table = liquid_table(self.name)
        x = _checked_fraction(self.name, self.mass_fraction)
        settled: dict[str, object] = {
            "mass_fraction": x,
            "freezing_point": float(freezing_point(self.name, x)),
        }
        mapped = unit_interval(x, 0.0, table.MASS_FRACTION_MAX)
        for name in ("density", "specific_heat", "ln_viscosity", "conductivity"):
            rows = np.array(getattr(table, name.upper()), dtype=np.float64)
            # The composition is fixed, so the series in it is summed once; only the one in temperature stays.
            settled[f"_{name}"] = chebyshev.chebval(mapped, rows.T)
        for name, value in settled.items():
            object.__setattr__(self, name, value)

    @classmethod
    def by_volume(cls, name: str, volume_fraction: float) -> Liquid:
        """Make a mixture from its volume fraction before mixing, both parts at 20 degC.

        w = phi rho / (phi rho + (1 - phi) rho_w); see :mod:`analysis.liquid_composition`.

        Examples
        --------
        >>> round(Liquid.by_volume("ethylene_glycol", 0.2776).mass_fraction, 3)
        0.3
        """
        if name in ("water", *PURE_20) and not 0.0 <= volume_fraction <= 1.0:
            raise LiquidError(
                f"A volume fraction goes from 0 to 1, not {volume_fraction:g}: write 25 % as 0.25."
            )
        liquid_table(name)
        if name not in PURE_20:
            known = ", ".join(PURE_20)
            raise LiquidError(
                f"{name} cannot be stated by volume (only {known} can): give its mass fraction."
            )
        weight = volume_fraction * PURE_20[name]
        return cls(name, mass_fraction=weight / (weight + (1.0 - volume_fraction) * WATER_20))

    @property
    def source(self) -> str:
        """Where the properties come from, with the library's version."""
        table = TABLES[self.name]
        return f"{table.SOURCE}; {table.LIBRARY}"

    @property
    def u_heat_capacity(self) -> float:
        """Relative standard uncertainty (k = 1) of density times specific heat [1].

        Examples
        --------
        >>> Liquid("propylene_glycol", mass_fraction=0.25).u_heat_capacity
        0.004
        """
        return SPREAD[self.name][0]

    @property
    def u_freezing_point(self) -> float:
        """Standard uncertainty (k = 1) of the freezing point for a composition that is exactly known [K].

        Examples
        --------
        >>> round(Liquid("propylene_glycol", mass_fraction=0.25).u_freezing_point, 2)
        0.63
        """
        _, fixed, share = SPREAD[self.name]
        return float(np.hypot(fixed, share * (273.15 - self.freezing_point)))

    @property
    def caution(self) -> str:
        """What handling this liquid needs; empty if nothing special."""
        return CAUTIONS.get(self.name, "")

    @property
    def text(self) -> str:
        """The composition in words; :func:`parse_liquid` reads it back.

        Examples
        --------
        >>> Liquid("methanol", mass_fraction=0.15).text
        'methanol 15 % mass'
        """
        return self.name if self.name == "water" else f"{self.name} {100 * self.mass_fraction:.12g} % mass"

    def density(self, t: FloatOrArray) -> FloatOrArray:
        """Density [kg/m3] at temperature ``t`` [K]; NaN when frozen or above the table."""
        return _series((self._density,), t, self.freezing_point, self.name)

    def specific_heat(self, t: FloatOrArray) -> FloatOrArray:
        """Specific heat at constant pressure [J/(kg K)] at ``t`` [K]; NaN when frozen or above the table."""
        return _series((self._specific_heat,), t, self.freezing_point, self.name)

    def viscosity(self, t: FloatOrArray) -> FloatOrArray:
        """Dynamic viscosity [Pa s] at ``t`` [K]; NaN when frozen or above the table."""
        return _exponential(_series((self._ln_viscosity,), t, self.freezing_point, self.name))

    def conductivity(self, t: FloatOrArray) -> FloatOrArray:
        """Thermal conductivity [W/(m K)] at ``t`` [K]; NaN when frozen or above the table."""
        return _series((self._conductivity,), t, self.freezing_point, self.name)


def parse_liquid(text: str) -> Liquid:
    """Read a liquid as a person writes it.

    Examples
    --------
    >>> parse_liquid("propylene glycol 25 % mass").mass_fraction
    0.25
    >>> parse_liquid("sea_water 35 g/kg").mass_fraction
    0.035
    >>> parse_liquid("ethanol 15 %")
    Traceback (most recent call last):
    analysis.liquid_facts.LiquidError: 'ethanol 15 %' does not say mass or volume: write 'ethanol 15 % mass'.
    """
    written = " ".join(text.split())
    match = _WRITTEN.fullmatch(written.lower())
    if match is None:
        raise LiquidError(f"'{written}' is not a liquid: write 'water' or 'propylene_glycol 25 % mass'.")
    spoken, number, unit, basis = match.groups()
    name = re.sub(r"[ \-]+", "_", spoken.strip())
    liquid_table(name)
    if number is None:
        return Liquid(name)
    try:
        value = float(number)
    except ValueError:
        raise LiquidError(f"'{number}' is not a number: write '{name} 25 % mass'.") from None
    if unit == "g/kg":
        if basis == "volume":
            raise LiquidError(f"g/kg is by mass: write '{name} {number} g/kg'.")
        return Liquid(name, mass_fraction=value / 1000)
    if basis is None:
        raise LiquidError(f"'{written}' does not say mass or volume: write '{name} {number} % mass'.")
    if basis == "volume":
        return Liquid.by_volume(name, value / 100)
    return Liquid(name, mass_fraction=value / 100)


def _checked_fraction(name: str, mass_fraction: float) -> float:
    most = TABLES[name].MASS_FRACTION_MAX
    if name == "water":
        if np.isnan(mass_fraction) or mass_fraction == 0.0:
            return 0.0
        raise LiquidError(
            "Water has no mass fraction: name what is dissolved, such as 'propylene_glycol 25 % mass'."
        )
    if np.isnan(mass_fraction):
        raise LiquidError(
            f"{name} needs its fraction: write '{name} {50 * most:.3g} % mass' with the right number."
        )
    if not 0.0 <= mass_fraction <= most:
        hint = (
            f"write {mass_fraction:g} % as {mass_fraction / 100:g}" if 1 < mass_fraction <= 100 * most else ""
        )
        way_out = hint or "measure the mixture again or dilute it into that range"
        raise LiquidError(
            f"{name} goes from 0 to {100 * most:g} % mass, not {100 * mass_fraction:g} %: {way_out}."
        )
    return float(mass_fraction)


def freezing_point(name: str, x: FloatOrArray) -> FloatArray:
    """Freezing point [K] of a liquid at mass fraction ``x`` [1], which must be inside its table.

    Examples
    --------
    >>> round(float(freezing_point("sea_water", 0.03516504) - 273.15), 3)
    -1.922
    """
    table = TABLES[name]
    if name == "water":
        return np.full(np.shape(x), 273.15)
    if name == "sea_water":
        # CoolProp has none. Atmospheric pressure: the formula of UNESCO Technical Paper
        # 28 (1978), with reference salinity = practical salinity x 1.00472 (TEOS-10).
        s = 1000.0 * np.asarray(x) / 1.00472
        return 273.15 - 0.0575 * s + 1.710523e-3 * np.power(s, 1.5) - 2.154996e-4 * s**2
    series = np.array(table.FREEZING_POINT)
    return np.asarray(chebyshev.chebval(unit_interval(x, 0.0, table.MASS_FRACTION_MAX), series), np.float64)


def unit_interval(value: FloatOrArray, low: float, high: float) -> FloatArray:
    """Map the range low..high to -1..1, the domain of a Chebyshev series."""
    value = np.asarray(value, dtype=np.float64)
    return np.zeros_like(value) if high == low else (2 * value - low - high) / (high - low)


@elementwise
def _series(series: tuple[FloatArray], t: FloatOrArray, t_freezing: float, name: str) -> FloatOrArray:
    table = TABLES[name]
    liquid = (np.asarray(t) >= t_freezing) & (np.asarray(t) <= table.T_MAX)
    return only_where(liquid, chebyshev.chebval(unit_interval(t, table.T_MIN, table.T_MAX), series[0]))


@elementwise
def _exponential(value: FloatOrArray) -> FloatOrArray:
    return np.exp(value)
