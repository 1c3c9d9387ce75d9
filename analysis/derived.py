"""The registry of derived values: one row each, driving analyser, JSON, console, screens and documentation.

To add a derived value, write its formula (elementwise, SI, NaN where it cannot say) and add a row to
:data:`REGISTRY`. A formula may take derived values of earlier rows, which are then worked out once for all.
Everything else follows: its uncertainty is propagated through the whole chain of formulas, it appears where
its measuring points are fitted, and it is blank where one of them is silent.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from analysis import derived_refrigerant as refrigerant_side
from analysis import derived_water as water_side
from analysis.circumstances import Circumstances
from analysis.elementwise import FloatArray
from analysis.units import Quantity

Function = Callable[..., FloatArray]
Parameters = Callable[[Circumstances], tuple[tuple[float, float], ...]]
BOTH_MODES = ("", "heating", "cooling")


def _no_parameters(_: Circumstances) -> tuple[tuple[float, float], ...]:
    return ()


@dataclass(frozen=True, slots=True)
class Derived:
    """One derived value."""

    symbol: str
    label: str
    quantity: Quantity
    arguments: tuple[str | Derived, ...]
    """What the formula takes: measuring points (``a|b`` takes the first of them that is fitted), and derived
    values that stand before this one in the registry."""
    formula: Function = field(repr=False)
    """Called as ``formula(circumstances, *arguments, *own_parameters)`` with SI arrays of equal shape."""
    source: str
    needs: tuple[str, ...] = ()
    """Names of :class:`Circumstances` that must be declared."""
    own_parameters: Parameters = field(default=_no_parameters, repr=False)
    """Further quantities that come from no reading, each with its standard uncertainty."""
    modes: tuple[str, ...] = BOTH_MODES
    """Declared modes in which the value has a meaning."""

    inputs: tuple[str, ...] = field(init=False)
    """The measuring points that it rests on in the end, in order."""

    def __post_init__(self) -> None:
        found: list[str] = []
        for argument in self.arguments:
            found += argument.inputs if isinstance(argument, Derived) else (argument,)
        object.__setattr__(self, "inputs", tuple(found))

    def parameters(self, circumstances: Circumstances) -> tuple[tuple[float, float], ...]:
        """Give what comes from no reading, with its standard uncertainty; the arguments' come first."""
        found: list[tuple[float, float]] = []
        for argument, held in self.each(circumstances):
            found += argument.parameters(held) if isinstance(argument, Derived) else ()
        return (*found, *self.own_parameters(circumstances))

    def function(self, circumstances: Circumstances, *values: FloatArray) -> FloatArray:
        """Work the value out from its measuring points and parameters, ``(*inputs, *parameters)`` in SI."""
        points = list(values[: len(self.inputs)])
        further = list(values[len(points) :])
        arguments: list[FloatArray] = []
        for argument, held in self.each(circumstances):
            if isinstance(argument, Derived):
                fed, asked = len(argument.inputs), len(argument.parameters(held))
                arguments.append(argument.function(held, *points[:fed], *further[:asked]))
                points, further = points[fed:], further[asked:]
            else:
                arguments.append(points.pop(0))
        return np.asarray(self.formula(circumstances, *arguments, *further))

    def each(self, circumstances: Circumstances) -> list[tuple[str | Derived, Circumstances]]:
        """Give each argument with its circumstances: it is fed by its own part of the measuring points."""
        found: list[tuple[str | Derived, Circumstances]] = []
        begin = 0
        for argument in self.arguments:
            if isinstance(argument, Derived):
                end = begin + len(argument.inputs)
                found.append((argument, replace(circumstances, fed_by=circumstances.fed_by[begin:end])))
            else:
                end = begin + 1
                found.append((argument, circumstances))
            begin = end
        return found

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


_HIGH_SIDE = "liquid_pressure|discharge_pressure"
_GAS_OUT = "discharge_pressure|liquid_pressure"
_SOURCE = ("source_entering_temperature", "source_leaving_temperature")
_LOAD = ("load_entering_temperature", "load_leaving_temperature")
_FLOW = "source_flow|source_pressure_drop"
_SATURATION = "dew line for vapour, bubble line for liquid: refrigeration practice"
_HEAT = "first law on the water side: density, volume flow, specific heat, temperature difference"
_T, _DT = Quantity.TEMPERATURE, Quantity.TEMPERATURE_DIFFERENCE
_HEATING, _COOLING = ("heating",), ("cooling",)

_EVAPORATING = Derived(
    "evaporating_temperature", "evaporating (dew)", _T, ("suction_pressure",),
    refrigerant_side.evaporating_temperature, _SATURATION, ("refrigerant",),
)  # fmt: skip
_CONDENSING = Derived(
    "condensing_temperature", "condensing (bubble)", _T, (_HIGH_SIDE,),
    refrigerant_side.condensing_temperature, _SATURATION, ("refrigerant",),
)  # fmt: skip
_SOURCE_FLOW = Derived(
    "source_volume_flow", "source flow", Quantity.VOLUME_FLOW, (_FLOW,),
    water_side.source_flow, "meter, or rated point of the unit card ± 5 % with exponent 1.8 ± 0.25",
    own_parameters=water_side.flow_parameters,
)  # fmt: skip
_FROM_SOURCE = Derived(
    "heat_from_source", "heat from source", Quantity.HEAT_RATE, (_SOURCE_FLOW, *_SOURCE),
    water_side.heat_from_source, _HEAT, ("source_liquid",), water_side.source_capacity, ("", "heating"),
)  # fmt: skip
_TO_LOAD = Derived(
    "heat_to_load", "heat to load", Quantity.HEAT_RATE, ("load_flow", *_LOAD),
    water_side.heat_to_load, _HEAT, ("load_liquid",), water_side.load_capacity, ("", "heating"),
)  # fmt: skip

REGISTRY: tuple[Derived, ...] = (
    _EVAPORATING,
    _CONDENSING,
    Derived(
        "superheat", "superheat", _DT, (_EVAPORATING, "suction_temperature"),
        refrigerant_side.superheat, _SATURATION, ("refrigerant",),
    ),
    Derived(
        "subcooling", "subcooling", _DT, (_CONDENSING, "liquid_temperature"),
        refrigerant_side.subcooling, _SATURATION, ("refrigerant",),
    ),
    Derived(
        "discharge_superheat", "discharge superheat", _DT, (_GAS_OUT, "discharge_temperature"),
        refrigerant_side.discharge_superheat, _SATURATION, ("refrigerant",),
    ),
    Derived(
        "compression_ratio", "compression ratio", Quantity.RATIO, (_GAS_OUT, "suction_pressure"),
        refrigerant_side.compression_ratio, "ratio of absolute pressures, by definition",
    ),
    Derived(
        "source_delta_t", "source water in − out", _DT, _SOURCE,
        water_side.entering_less_leaving, "by definition",
    ),
    Derived(
        "load_delta_t", "load water in − out", _DT, _LOAD,
        water_side.entering_less_leaving, "by definition",
    ),
    Derived(
        "air_delta_t", "air in − out", _DT, ("return_air_temperature", "supply_air_temperature"),
        water_side.entering_less_leaving, "by definition",
    ),
    _SOURCE_FLOW,
    _FROM_SOURCE,
    Derived(
        "heat_to_source", "heat to source", Quantity.HEAT_RATE, (_SOURCE_FLOW, *_SOURCE),
        water_side.heat_to_source, _HEAT, ("source_liquid",), water_side.source_capacity, _COOLING,
    ),
    _TO_LOAD,
    Derived(
        "heat_from_load", "heat from load", Quantity.HEAT_RATE, ("load_flow", *_LOAD),
        water_side.heat_from_load, _HEAT, ("load_liquid",), water_side.load_capacity, _COOLING,
    ),
    Derived(
        "evaporating_approach", "approach, source out", _DT, (_EVAPORATING, "source_leaving_temperature"),
        water_side.evaporating_approach, "by definition", ("refrigerant",), modes=_HEATING,
    ),
    Derived(
        "condensing_approach", "approach, source out", _DT, (_CONDENSING, "source_leaving_temperature"),
        water_side.condensing_approach, "by definition", ("refrigerant",), modes=_COOLING,
    ),
    Derived(
        "freeze_margin", "freeze margin", _DT, (_EVAPORATING,),
        water_side.evaporating_freeze_margin, "evaporating temperature less freezing point of the fluid",
        ("refrigerant", "source_liquid"), water_side.freezing_shift, _HEATING,
    ),
    Derived(
        "cop", "COP, compressor only", Quantity.RATIO, (_TO_LOAD, "compressor_power"),
        water_side.cop_heating, "heat to load over compressor power", ("load_liquid",), modes=_HEATING,
    ),
    Derived(
        "heat_balance", "heat balance", Quantity.RATIO, (_FROM_SOURCE, _TO_LOAD, "compressor_power"),
        water_side.balance_heating, "first law: (to load − from source − power) / to load",
        ("source_liquid", "load_liquid"), modes=_HEATING,
    ),
)  # fmt: skip

BY_SYMBOL: Mapping[str, Derived] = {row.symbol: row for row in REGISTRY}
