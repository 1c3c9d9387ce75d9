"""The registry of derived values: one row each, driving analyser, JSON, console, screens and documentation.

To add a derived value, write its function (elementwise, SI, NaN where it cannot say) and add a row to
:data:`REGISTRY`. Everything else follows: its uncertainty is propagated through the function, it appears
where its measuring points are fitted, and it is blank where one of them is silent.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from analysis.elementwise import FloatArray
from analysis.saturation import SaturationCurve
from analysis.units import Quantity


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What a person has declared about the machine and the site, as a derived value needs it."""

    refrigerant: SaturationCurve | None = None


Function = Callable[..., FloatArray]


@dataclass(frozen=True, slots=True)
class Derived:
    """One derived value.

    ``inputs`` are measuring points; ``a|b`` takes the first of them that is fitted.
    """

    symbol: str
    label: str
    quantity: Quantity
    inputs: tuple[str, ...]
    function: Function
    """Called as ``function(circumstances, *inputs)`` with SI arrays of equal length."""
    source: str
    needs_refrigerant: bool = False

    def choose(self, fitted: Iterable[str]) -> tuple[str, ...] | None:
        """Give the measuring points that feed the value where these are fitted; None if one is lacking.

        Examples
        --------
        >>> row = BY_SYMBOL["subcooling"]
        >>> row.choose({"discharge_pressure", "liquid_temperature"})
        ('discharge_pressure', 'liquid_temperature')
        >>> row.choose({"liquid_temperature"}) is None
        True
        """
        present = set(fitted)
        chosen = [next((p for p in options.split("|") if p in present), "") for options in self.inputs]
        return tuple(chosen) if all(chosen) else None

    def missing(self, fitted: Iterable[str]) -> tuple[str, ...]:
        """Name the measuring points without which the value cannot be worked out."""
        present = set(fitted)
        return tuple(
            options.replace("|", " or ")
            for options in self.inputs
            if not any(p in present for p in options.split("|"))
        )


def _curve(circumstances: Circumstances) -> SaturationCurve:
    curve = circumstances.refrigerant
    assert curve is not None, "the analyser asks for such a value only where a refrigerant is declared"
    return curve


def evaporating_temperature(circumstances: Circumstances, p_suction: FloatArray) -> FloatArray:
    """Evaporating temperature: the dew temperature at the suction pressure [Pa -> K]."""
    return np.asarray(_curve(circumstances).t_dew(p_suction))


def condensing_temperature(circumstances: Circumstances, p_high: FloatArray) -> FloatArray:
    """Condensing temperature: the bubble temperature at the high-side pressure [Pa -> K]."""
    return np.asarray(_curve(circumstances).t_bubble(p_high))


def superheat(circumstances: Circumstances, p_suction: FloatArray, t_suction: FloatArray) -> FloatArray:
    """Superheat of the suction gas: ``t_suction - t_dew(p_suction)`` [Pa, K -> K].

    Examples
    --------
    R22 at 65 psig saturates near 38 °F, so a suction line at 50 °F carries about 12 °F of superheat
    (common practice, no source):

    >>> from analysis.saturation import refrigerant
    >>> r22 = Circumstances(refrigerant("R22"))
    >>> p, t = np.array([65.0 * 6894.757 + 101325.0]), np.array([(50.0 - 32.0) / 1.8 + 273.15])
    >>> round(float(superheat(r22, p, t)[0]) * 1.8, 1)
    12.5
    """
    return t_suction - np.asarray(_curve(circumstances).t_dew(p_suction))


def subcooling(circumstances: Circumstances, p_high: FloatArray, t_liquid: FloatArray) -> FloatArray:
    """Subcooling of the liquid: ``t_bubble(p_high) - t_liquid`` [Pa, K -> K].

    Examples
    --------
    >>> from analysis.saturation import refrigerant
    >>> hall = Circumstances(refrigerant("R410A"))
    >>> round(float(subcooling(hall, np.array([2553320.0]), np.array([303.75]))[0]), 1)
    11.5
    """
    return np.asarray(_curve(circumstances).t_bubble(p_high)) - t_liquid


def discharge_superheat(
    circumstances: Circumstances, p_discharge: FloatArray, t_discharge: FloatArray
) -> FloatArray:
    """Superheat of the discharge gas: ``t_discharge - t_dew(p_discharge)`` [Pa, K -> K]."""
    return t_discharge - np.asarray(_curve(circumstances).t_dew(p_discharge))


def compression_ratio(_: Circumstances, p_discharge: FloatArray, p_suction: FloatArray) -> FloatArray:
    """Compression ratio of absolute pressures, ``p_discharge / p_suction`` [Pa, Pa -> 1]."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where((p_suction > 0.0) & (p_discharge > 0.0), p_discharge / p_suction, np.nan)


def entering_less_leaving(_: Circumstances, t_entering: FloatArray, t_leaving: FloatArray) -> FloatArray:
    """Water delta-T, entering less leaving [K, K -> K].

    Heat into the refrigerant counts positive everywhere: a drop is positive, a rise negative.
    """
    return t_entering - t_leaving


_HIGH_SIDE = "liquid_pressure|discharge_pressure"
_GAS_OUT = "discharge_pressure|liquid_pressure"
_TRADE = "refrigeration practice: at dew for vapour, at bubble for liquid"

REGISTRY: tuple[Derived, ...] = (
    Derived(
        "evaporating_temperature", "evaporating (dew)", Quantity.TEMPERATURE,
        ("suction_pressure",), evaporating_temperature, _TRADE, True,
    ),
    Derived(
        "condensing_temperature", "condensing (bubble)", Quantity.TEMPERATURE,
        (_HIGH_SIDE,), condensing_temperature, _TRADE, True,
    ),
    Derived(
        "superheat", "superheat", Quantity.TEMPERATURE_DIFFERENCE,
        ("suction_pressure", "suction_temperature"), superheat, _TRADE, True,
    ),
    Derived(
        "subcooling", "subcooling", Quantity.TEMPERATURE_DIFFERENCE,
        (_HIGH_SIDE, "liquid_temperature"), subcooling, _TRADE, True,
    ),
    Derived(
        "discharge_superheat", "discharge superheat", Quantity.TEMPERATURE_DIFFERENCE,
        (_GAS_OUT, "discharge_temperature"), discharge_superheat, _TRADE, True,
    ),
    Derived(
        "compression_ratio", "compression ratio", Quantity.RATIO,
        (_GAS_OUT, "suction_pressure"), compression_ratio, "ratio of absolute pressures, by definition",
    ),
    Derived(
        "source_delta_t", "source water in − out", Quantity.TEMPERATURE_DIFFERENCE,
        ("source_entering_temperature", "source_leaving_temperature"), entering_less_leaving, "by definition",
    ),
    Derived(
        "load_delta_t", "load water in − out", Quantity.TEMPERATURE_DIFFERENCE,
        ("load_entering_temperature", "load_leaving_temperature"), entering_less_leaving, "by definition",
    ),
)  # fmt: skip

BY_SYMBOL: Mapping[str, Derived] = {row.symbol: row for row in REGISTRY}
