"""Which way a value stands out: against a healthy reference if there is one, else the card, else practice.

A degree is how much surer than a coin's toss it is that the true value lies beyond the limit: ``2 P - 1``
with ``P = Phi((x - limit) / u)``, from the measured value and its standard uncertainty taken as normal. It is
0 at the limit and inside, 0.68 one standard uncertainty beyond it, 0.95 two.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analysis.evidence import Seen, Visit
from analysis.stated_performance import OF_TABLE, SHELL_SHARE, TABLE_ROOM, nearest_table
from analysis.unit_card import ORIFICE, VALVE, UnitCard

COMMON = "common practice, no source"
PRESSURISED = "closed pressurised"
LIKE_SPEED = 0.15
"""A variable-speed compressor runs alike where its power differs by no more [1]; our choice."""
FAIR_WITHIN = 3.0
"""A reference serves where entering temperatures differ by no more [K]; as for a fair comparison."""


@dataclass(frozen=True, slots=True)
class Level:
    """Where a value belongs (SI), how sharp that is, and who says so."""

    low: float
    high: float
    source: str
    blur: float = 0.0
    """Standard uncertainty of the limits themselves."""

    @property
    def kind(self) -> str:
        """First word of the source: reference, card or common practice."""
        return "common practice" if self.source == COMMON else self.source.split(":")[0]


@dataclass(frozen=True, slots=True)
class Judged:
    """A value against its level."""

    seen: Seen
    level: Level
    p_low: float
    """Probability that the true value lies below the low limit."""
    p_high: float

    def degree(self, way: str) -> float:
        """How far the value stands that way, 0 to 1: low, high, normal, not_low, not_high or off."""
        low, high = max(0.0, 2.0 * self.p_low - 1.0), max(0.0, 2.0 * self.p_high - 1.0)
        return {
            "low": low,
            "high": high,
            "normal": 1.0 - low - high,
            "not_low": 1.0 - low,
            "not_high": 1.0 - high,
            "off": low + high,
        }[way]


REFERENCE_TOLERANCE: dict[str, tuple[float, float]] = {
    "superheat": (1.2, 0.0),
    "subcooling": (1.5, 0.0),
    "evaporating_approach": (0.8, 0.08),
    "condensing_approach": (0.9, 0.08),
    "liquid_approach": (1.2, 0.0),
    "subcooling_share": (0.15, 0.0),
    "source_change": (0.25, 0.08),
    "load_change": (0.3, 0.08),
    "source_volume_flow": (0.0, 0.07),
    "load_flow": (0.0, 0.07),
    "source_pressure_drop": (0.0, 0.12),
    "pump_current": (0.0, 0.07),
    "compressor_power": (0.0, 0.08),
    "compression_index": (0.0, 0.07),
    "displacement_index": (0.0, 0.08),
    "discharge_superheat": (5.0, 0.0),
    "heat_moved": (0.0, 0.09),
}
"""Fixed and relative tolerance about a healthy machine's own value at entering temperatures within 3 K: some
three times the scatter that RP-1043's healthy runs show after correction (0.1 to 0.2 K of saturation,
superheat and subcooling), widened for conditions that are not corrected. Our choice."""

ORIFICE_ROOM = 2.5
_COMMON: dict[tuple[str, str], tuple[float, float, float]] = {
    ("superheat", VALVE): (3.3, 8.9, 0.5),
    ("superheat", ORIFICE): (2.8, 13.9, 1.0),
    ("superheat", ""): (2.8, 11.1, 1.0),
    ("subcooling", ""): (2.8, 8.9, 0.7),
    ("evaporating_approach", "heating"): (1.5, 7.5, 1.0),
    ("condensing_approach", "cooling"): (1.5, 9.0, 1.0),
    ("condensing_approach", "heating"): (0.5, 9.0, 1.0),
    ("liquid_approach", ""): (1.5, 14.0, 0.5),
    ("subcooling_share", ""): (0.25, 0.97, 0.05),
    ("source_change", "heating"): (2.0, 7.8, 0.6),
    ("source_change", "cooling"): (3.5, 12.0, 0.6),
    ("evaporating_temperature", "cooling"): (272.15, 285.15, 1.0),
    ("discharge_temperature", ""): (316.0, 369.0, 2.0),
    ("freeze_margin", "heating"): (2.0, math.inf, 0.3),
    ("source_entering_temperature", "heating"): (269.3, 300.0, 0.5),
    ("source_entering_temperature", "cooling"): (277.6, 316.5, 0.5),
    ("control_voltage", ""): (20.4, 28.6, 0.2),
    ("contactor_coil_voltage", ""): (20.4, 28.6, 0.2),
    ("pump_capacitance_ratio", ""): (0.90, 1.10, 0.02),
    ("strainer_pressure_drop", ""): (-math.inf, 10e3, 1e3),
    ("coil_drop_ratio", ""): (0.80, 1.20, 0.03),
    ("flow_agreement", ""): (0.82, 1.18, 0.03),
    ("balance", ""): (-0.12, 0.10, 0.02),
    ("flow_scatter", ""): (-math.inf, 0.03, 0.003),
    ("superheat_swing", ""): (-math.inf, 2.0, 0.2),
    ("liquid_line_temperature_drop", ""): (-math.inf, 2.0, 0.3),
    ("reversing_valve_temperature_rise", ""): (-math.inf, 4.0, 0.5),
    ("standing_excess", ""): (-35e3, 35e3, 5e3),
    ("starts_per_hour", ""): (-math.inf, 6.0, 0.5),
    ("compressor_flow_ratio", ""): (0.88, 1.12, 0.02),
    ("compressor_power_ratio", ""): (0.90, 1.10, 0.02),
    ("source_static_gauge", ""): (35e3, 420e3, 5e3),
    ("desuperheater_change", ""): (1.0, 10.0, 0.5),
}
"""Symbol and mode (or metering) to low, high and blur. Common practice, no source; each is wide, and a
finding that rests on nothing better is capped."""


def level_of(symbol: str, visit: Visit, card: UnitCard | None, reference: Visit | None) -> Level | None:
    """Find what a value is held against; None where nobody says anything.

    Examples
    --------
    >>> level_of("subcooling", Visit(mode="heating"), None, None).kind
    'common practice'
    """
    if symbol == "source_static_gauge" and card is not None and card.loop != PRESSURISED:
        return None  # an open or unpressurised loop carries no standing pressure
    if reference is not None and fair_reference(visit, reference, card):
        was, tolerance = reference.get(symbol), REFERENCE_TOLERANCE.get(symbol)
        if was is not None and tolerance is not None:
            fixed, relative = tolerance
            if symbol == "superheat" and visit.metering == ORIFICE:
                fixed *= ORIFICE_ROOM  # nothing holds it: it moves with every condition
            room = fixed + relative * abs(was.value)
            blur = math.hypot(was.u, 0.2 * room)
            low = was.value - room
            if symbol == "subcooling":
                low = max(low, 0.5)  # a healthy machine has some, however little its reference had
            return Level(low, was.value + room, "reference: this machine's own value", blur)
    band = card.band(symbol, visit.mode) if card is not None else None
    if band is not None:
        low = band.low if math.isfinite(band.low) else -math.inf
        high = band.high if math.isfinite(band.high) else math.inf
        return Level(low, high, f"card: {band.source}")
    stated = _stated(symbol, visit, card) if card is not None else None
    if stated is not None:
        return stated
    keys = ((symbol, visit.mode), (symbol, visit.metering), (symbol, ""))
    found = next((_COMMON[key] for key in keys if key in _COMMON), None)
    return Level(found[0], found[1], COMMON, found[2]) if found is not None else None


def _stated(symbol: str, visit: Visit, card: UnitCard) -> Level | None:
    """Find the stated heat moved on the source side, or power, from the card's performance table.

    Linear over the entering source temperature, nothing outside the table.
    """
    if symbol not in ("heat_moved", "compressor_power"):
        return None
    entering = visit.get("source_entering_temperature")
    load = visit.get("load_entering_temperature") or visit.get("return_air_temperature")
    if entering is None or load is None:
        return None
    flow = visit.get("source_volume_flow")
    table = nearest_table(card, visit.mode, load.value, flow.value if flow is not None else math.nan)
    if table is None:
        return None
    columns = table.source_entering
    if not columns[0] <= entering.value <= columns[-1]:
        return None
    power = float(np.interp(entering.value, columns, table.power))
    capacity = float(np.interp(entering.value, columns, table.capacity))
    shell = SHELL_SHARE * power
    moved = capacity - shell if visit.mode == "heating" else capacity + shell
    value = power if symbol == "compressor_power" else moved
    room = value * (TABLE_ROOM[0] + TABLE_ROOM[1] * abs(load.value - table.load_entering))
    return Level(value - room, value + room, f"card: {table.source}{OF_TABLE}", 0.2 * room)


def fair_reference(visit: Visit, reference: Visit, card: UnitCard | None = None) -> bool:
    """Whether a reference was taken in the same mode at like entering temperatures, and at a like speed."""
    return not unlike(visit, reference, card)


_ENTERING = {
    "source_entering_temperature": "source water in",
    "load_entering_temperature": "load water in",
    "return_air_temperature": "return air",
}


def unlike(visit: Visit, reference: Visit, card: UnitCard | None = None) -> tuple[str, ...]:
    """Say why a reference does not serve; empty where it does.

    The flow is not asked to be alike: it is an outcome, and a reference that had to match it could never
    show that it is low.

    Examples
    --------
    >>> unlike(Visit(mode="heating"), Visit(mode="cooling"))
    ('it ran cooling, not heating',)
    """
    reasons: list[str] = []
    if visit.mode != reference.mode:
        reasons.append(f"it ran {reference.mode or 'in no declared mode'}, not {visit.mode or 'declared'}")
    if not reference.steady:
        reasons.append("it had not settled")
    if card is not None and card.variable_speed_compressor and not _like_speed(visit, reference):
        reasons.append("its compressor ran at another speed, told by its power, or the power is not known")
    for name, label in _ENTERING.items():
        one, other = visit.get(name), reference.get(name)
        if one is not None and other is not None and abs(one.value - other.value) > FAIR_WITHIN:
            reasons.append(f"its {label} differs by more than 3 K (5.4 °F)")
    return tuple(reasons)


def _like_speed(visit: Visit, reference: Visit) -> bool:
    """Tell a like speed by a like power; where it is not known, another power is another machine."""
    power, was = visit.get("compressor_power"), reference.get("compressor_power")
    return power is not None and was is not None and abs(power.value / was.value - 1.0) <= LIKE_SPEED


def judge(symbol: str, visit: Visit, card: UnitCard | None, reference: Visit | None) -> Judged | None:
    """Hold a value of the visit against its level.

    Examples
    --------
    >>> from analysis.evidence import seen_value
    >>> high = Visit({"subcooling": seen_value("subcooling", 14.0, 0.6)}, "heating")
    >>> round(judge("subcooling", high, None, None).degree("high"), 2)
    1.0
    """
    seen, level = visit.get(symbol), level_of(symbol, visit, card, reference)
    if seen is None or level is None:
        return None
    u = max(math.hypot(seen.u, level.blur), 1e-9)
    return Judged(seen, level, _phi((level.low - seen.value) / u), _phi((seen.value - level.high) / u))


def _phi(z: float) -> float:
    """Give the standard normal distribution function.

    Examples
    --------
    >>> _phi(0.0), _phi(float("-inf"))
    (0.5, 0.0)
    """
    return 0.5 * math.erfc(-z / math.sqrt(2.0))
