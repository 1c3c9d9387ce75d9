"""What the verdict looks at: the values of one visit with their uncertainty, and what else was seen.

A visit comes from a stretch of a session, from typed readings, or from a test; guards, proofs and findings
see no difference.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from analysis.circumstances import Circumstances, RatedCoil
from analysis.derived import BY_SYMBOL
from analysis.flow_routes import FlowRoute
from analysis.liquids import Liquid
from analysis.points import POINTS
from analysis.saturation import SaturationCurve
from analysis.unit_card import NOT_KNOWN, UnitCard
from analysis.units import Quantity
from analysis.usual_uncertainty import ASSUMED_U
from analysis.windows import Stretch

EXTRA_SYMBOLS: dict[str, Quantity] = {
    "source_change": Quantity.TEMPERATURE_DIFFERENCE,
    "leaving_water_above_freezing": Quantity.TEMPERATURE_DIFFERENCE,
    "cut_out_above_freezing": Quantity.TEMPERATURE_DIFFERENCE,
    "load_change": Quantity.TEMPERATURE_DIFFERENCE,
    "liquid_approach": Quantity.TEMPERATURE_DIFFERENCE,
    "subcooling_share": Quantity.RATIO,
    "compression_index": Quantity.RATIO,
    "displacement_index": Quantity.VOLUME_FLOW,
    "heat_moved": Quantity.HEAT_RATE,
    "desuperheater_change": Quantity.TEMPERATURE_DIFFERENCE,
    "desuperheater_heat": Quantity.HEAT_RATE,
    "coil_drop_ratio": Quantity.RATIO,
    "flow_agreement": Quantity.RATIO,
    "balance": Quantity.RATIO,
    "flow_scatter": Quantity.RATIO,
    "superheat_swing": Quantity.TEMPERATURE_DIFFERENCE,
    "strainer_pressure_drop": Quantity.PRESSURE_DIFFERENCE,
    "liquid_line_temperature_drop": Quantity.TEMPERATURE_DIFFERENCE,
    "reversing_valve_temperature_rise": Quantity.TEMPERATURE_DIFFERENCE,
    "standing_pressure": Quantity.ABSOLUTE_PRESSURE,
    "resting_temperature": Quantity.TEMPERATURE,
    "standing_excess": Quantity.PRESSURE_DIFFERENCE,
    "pump_capacitance": Quantity.CAPACITANCE,
    "pump_capacitance_ratio": Quantity.RATIO,
    "source_static_gauge": Quantity.GAUGE_PRESSURE,
    "starts_per_hour": Quantity.RATIO,
    "supply_voltage_loaded": Quantity.VOLTAGE,
    "compressor_flow_ratio": Quantity.RATIO,
    "compressor_power_ratio": Quantity.RATIO,
}
"""Symbols of the verdict beyond measuring points and the registry of derived values."""

_BEHIND: dict[str, frozenset[str]] = {
    "source_change": frozenset({"source_entering_temperature", "source_leaving_temperature"}),
    "load_change": frozenset({"load_entering_temperature", "load_leaving_temperature"}),
    "liquid_approach": frozenset({"liquid_temperature"}),
    "evaporating_approach": frozenset({"suction_pressure"}),
    "condensing_approach": frozenset({"discharge_pressure"}),
}

_SI_UNIT: dict[Quantity, str] = {
    Quantity.TEMPERATURE: "K",
    Quantity.TEMPERATURE_DIFFERENCE: "K",
    Quantity.GAUGE_PRESSURE: "Pa(g)",
    Quantity.ABSOLUTE_PRESSURE: "Pa(a)",
    Quantity.PRESSURE_DIFFERENCE: "Pa",
    Quantity.VOLUME_FLOW: "m3/s",
    Quantity.MASS_FLOW: "kg/s",
    Quantity.HEAT_RATE: "W",
    Quantity.POWER: "W",
    Quantity.VOLTAGE: "V",
    Quantity.CURRENT: "A",
    Quantity.CAPACITANCE: "F",
    Quantity.TIME: "s",
}

OBSERVATIONS: dict[str, str] = {
    "oil_milky": "the oil is milky",
    "moisture_indicator_wet": "the moisture indicator shows wet",
    "loop_pressure_rising": "the loop's standing pressure rises towards the refrigerant's",
    "water_in_gauge_hose": "water came out of a gauge hose",
    "bubbles_in_water": "gas bubbles were seen in the water",
    "air_noise_in_loop": "gas was heard in the loop",
    "dead_head_level_drops": "the level drops when the flush pump is dead-headed",
    "dirt_in_strainer": "dirt was found in the strainer",
    "ice_on_source_coil": "ice was seen on the source coil",
    "well_level_falls": "the well's level falls while the machine draws",
    "flow_falls_while_running": "the flow falls the longer the machine runs",
    "other_units_alike": "other machines on the same loop stop alike",
    "low_pressure_stops": "the machine stops on low pressure or low temperature",
    "high_pressure_stops": "the machine stops on high pressure",
    "control_fuse_blows": "the control fuse blows",
    "compressor_sweats": "the compressor's shell is cold and sweats",
    "load_side_clean": "the load side was found clean and open",
    "tower_or_strainer_clean": "tower or strainer was found clean",
}
"""What a person may enter as seen, each with its sentence."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One value of the visit (SI)."""

    symbol: str
    value: float
    u: float
    """Standard uncertainty (k = 1)."""
    quantity: Quantity
    points: frozenset[str]
    """The measuring points behind it; two values that share one are not independent."""
    assumed: bool = False
    """Whether the uncertainty is an assumption, since nothing is promised about an instrument."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of evidence: a value beside its limits (SI)."""

    symbol: str
    value: float
    u: float
    low: float
    """NaN where there is no limit on that side."""
    high: float
    unit: str
    source: str
    words: str = ""
    """How it stands: in band, low, high, and why that counts."""

    @classmethod
    def of(cls, seen: Seen, low: float, high: float, source: str, words: str = "") -> Line:
        """Set a value beside its limits."""
        ends = [end if math.isfinite(end) else math.nan for end in (low, high)]
        return cls(seen.symbol, seen.value, seen.u, ends[0], ends[1], si_unit(seen.quantity), source, words)


START_S = 180.0
"""Pressures and temperatures have found their order within three minutes of a start (common practice, no
source; the simulated machines need less than two)."""


@dataclass(frozen=True, slots=True)
class Visit:
    """Everything that the verdict may rest on."""

    values: Mapping[str, Seen] = field(default_factory=dict)
    mode: str = ""
    refrigerant: str = ""
    curve: SaturationCurve | None = None
    source_liquid: Liquid | None = None
    load_liquid: Liquid | None = None
    source_coil: RatedCoil | None = None
    barometer_pa: float = 101_325.0
    barometer_declared: bool = False
    flow_route: FlowRoute | None = None
    """How ``source_flow`` was found, where it was typed or metered."""
    steady: bool = True
    running: bool = True
    just_started: bool = False
    """Whether it has run (or been watched) for less than :data:`START_S`: pressures are on their way, and
    what is impossible in a running machine is normal."""
    observations: frozenset[str] = frozenset()
    water_proven_by: str = ""
    """Who vouches for the water, and when; empty where nobody does."""
    metering: str = NOT_KNOWN
    receiver: bool | None = None
    """None where it is not known."""

    def get(self, symbol: str) -> Seen | None:
        """Give a value that is known; None where it is not."""
        seen = self.values.get(symbol)
        return seen if seen is not None and math.isfinite(seen.value) else None

    @property
    def circumstances(self) -> Circumstances:
        """What derived values need to know."""
        return Circumstances(self.curve, self.source_liquid, self.load_liquid, self.source_coil, self.mode)


def quantity_of_symbol(symbol: str) -> Quantity | None:
    """Say what kind of thing a symbol is; None where it is not known.

    Examples
    --------
    >>> quantity_of_symbol("superheat").value, quantity_of_symbol("suction_pressure").value
    ('temperature_difference', 'absolute_pressure')
    """
    if symbol in POINTS:
        return POINTS[symbol].quantity
    if symbol in EXTRA_SYMBOLS:
        return EXTRA_SYMBOLS[symbol]
    return BY_SYMBOL[symbol].quantity if symbol in BY_SYMBOL else None


def si_unit(quantity: Quantity) -> str:
    """Name the SI unit in which a quantity is kept.

    Examples
    --------
    >>> si_unit(Quantity.VOLUME_FLOW), si_unit(Quantity.TEMPERATURE_DIFFERENCE), si_unit(Quantity.RATIO)
    ('m3/s', 'K', '1')
    """
    return _SI_UNIT.get(quantity, "1")


def seen_value(symbol: str, value: float, u: float = math.nan, points: Iterable[str] = ()) -> Seen:
    """Make a value; where nothing is promised about its uncertainty, that of ordinary instruments is assumed.

    Examples
    --------
    >>> seen_value("suction_temperature", 270.75).u, seen_value("suction_temperature", 270.75).assumed
    (0.5, True)
    """
    quantity = quantity_of_symbol(symbol)
    assert quantity is not None, f"{symbol} is no symbol of the verdict"
    assumed = not math.isfinite(u)
    if assumed:
        fixed, relative = ASSUMED_U.get(quantity, (0.0, 0.05))
        u = math.hypot(fixed, relative * value)
    return Seen(symbol, value, u, quantity, frozenset(points) or _usual_points(symbol), assumed)


def _usual_points(symbol: str) -> frozenset[str]:
    """Give the readings that a typed value comes from, as far as its name tells."""
    row = BY_SYMBOL.get(symbol)
    if row is not None:
        return frozenset(options.split("|")[-1] for options in row.inputs)
    return _BEHIND.get(symbol, frozenset({symbol}))


def visit_of_stretch(
    stretch: Stretch,
    curve: SaturationCurve | None,
    card: UnitCard | None = None,
    *,
    running: bool = True,
    just_started: bool = False,
    observations: Iterable[str] = (),
    extra: Mapping[str, Seen] | None = None,
) -> Visit:
    """Make a visit of a session's stretch.

    Parameters
    ----------
    stretch
        Means over a steady span.
    curve
        Saturation of the declared refrigerant; None where none is declared.
    card
        The machine's card, for what the session does not declare.
    running
        Whether the machine ran.
    just_started
        Whether the stretch lies within the first minutes of a run.
    observations
        What was seen beside the readings, keys of :data:`OBSERVATIONS`.
    extra
        Further values, such as the starts per hour of the whole session.
    """
    held = stretch.settings
    values = {name: seen_value(name, mean.value, mean.u) for name, mean in stretch.points.items()}
    for name in ("source_flow", "source_pressure_drop"):
        mean = stretch.points.get(name)
        if mean is not None and mean.value > 0.0 and math.isfinite(mean.spread):
            # A drop scatters twice as much as the flow behind it.
            scatter = mean.spread / mean.value / (2.0 if name == "source_pressure_drop" else 1.0)
            values["flow_scatter"] = seen_value("flow_scatter", scatter, 0.1 * scatter + 0.002, [name])
            break
    values.update(extra or {})
    return Visit(
        values=values,
        mode=held.mode,
        refrigerant=held.refrigerant,
        curve=curve,
        source_liquid=held.source_liquid or (card.source_liquid if card else None),
        load_liquid=held.load_liquid or (card.load_liquid if card else None),
        source_coil=held.source_coil,
        barometer_pa=held.barometer_pa,
        barometer_declared=held.barometer_declared,
        flow_route=FlowRoute.METER if "source_flow" in values else None,
        steady=stretch.steady,
        running=running,
        just_started=just_started,
        observations=frozenset(observations),
        metering=card.metering.get(held.mode, NOT_KNOWN) if card else NOT_KNOWN,
        receiver=card.receiver if card else None,
    )
