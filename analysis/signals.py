"""Which quantities are watched for steadiness, each with its limit, and what every result rests on."""

from __future__ import annotations

from collections.abc import Iterable

from analysis.derived import BY_SYMBOL, Derived
from analysis.steadiness import (
    AIR_LIMIT,
    CONDENSING_LIMIT,
    DISCHARGE_LIMIT,
    TEMPERATURE_LIMIT,
    Limit,
)

SIGNALS: dict[str, Limit] = {
    "evaporating_temperature": TEMPERATURE_LIMIT,
    "condensing_temperature": CONDENSING_LIMIT,
    "suction_temperature": TEMPERATURE_LIMIT,
    "discharge_temperature": DISCHARGE_LIMIT,
    "liquid_temperature": TEMPERATURE_LIMIT,
    "source_entering_temperature": TEMPERATURE_LIMIT,
    "source_leaving_temperature": TEMPERATURE_LIMIT,
    "load_entering_temperature": TEMPERATURE_LIMIT,
    "load_leaving_temperature": TEMPERATURE_LIMIT,
    "return_air_temperature": AIR_LIMIT,
    "supply_air_temperature": AIR_LIMIT,
}
"""Signal (a measuring point or a derived value) to its limit, in the order in which they are named."""

ENTERING = ("source_entering_temperature", "load_entering_temperature", "return_air_temperature")
"""What enters the machine: allowed to drift slowly, since a loop does; stated, and taken off the others."""

_SOURCE, _LOAD, _AIR = ENTERING
FOLLOWS: dict[str, tuple[str, ...]] = {
    "evaporating_temperature": ENTERING,
    "condensing_temperature": ENTERING,
    "suction_temperature": ENTERING,
    "discharge_temperature": ENTERING,
    "liquid_temperature": ENTERING,
    "source_leaving_temperature": (_SOURCE,),
    "load_leaving_temperature": (_LOAD,),
    "supply_air_temperature": (_AIR,),
}
"""Signal to what it may follow: leaving water follows its own entering water, the refrigerant both sides."""

_SIGNAL_OF_POINT = {
    "suction_pressure": "evaporating_temperature",
    "discharge_pressure": "condensing_temperature",
    "liquid_pressure": "condensing_temperature",
}
"""A refrigerant pressure is watched as the saturation temperature that it means."""


def signals_present(fitted: Iterable[str], refrigerant: bool) -> tuple[str, ...]:
    """Name the signals that can be watched where these measuring points are fitted.

    Examples
    --------
    >>> signals_present({"suction_pressure", "suction_temperature"}, refrigerant=True)
    ('evaporating_temperature', 'suction_temperature')
    >>> signals_present({"suction_pressure", "suction_temperature"}, refrigerant=False)
    ('suction_temperature',)
    """
    present = set(fitted)
    return tuple(
        name
        for name in SIGNALS
        if name in present
        or (refrigerant and name in BY_SYMBOL and BY_SYMBOL[name].choose(present) is not None)
    )


def signals_of(row: Derived, chosen: tuple[str, ...]) -> tuple[str, ...]:
    """Name the signals that must be steady before a result may be believed.

    Examples
    --------
    >>> signals_of(BY_SYMBOL["superheat"], ("suction_pressure", "suction_temperature"))
    ('evaporating_temperature', 'suction_temperature')
    """
    names = dict.fromkeys(_SIGNAL_OF_POINT.get(point, point) for point in chosen)
    return tuple(name for name in names if name in SIGNALS)
