"""What must be acted on within minutes: few limits, each with its source, delays, deadband and act.

An alarm exists only where a timely act exists (ISA-18.2 / IEC 62682, from memory). What a technician can look
at in peace is no alarm but a band, a proof or a finding. The card's own ``act_below`` and ``act_above`` come
first; a limit built in is marked as common practice.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from analysis.card_quantities import CARD_QUANTITIES
from analysis.derived import BY_SYMBOL
from analysis.finding_acts import Act, running
from analysis.points import POINTS
from analysis.unit_card import Band, UnitCard
from analysis.units import Quantity

PRACTICE = "common practice, no source"
DELAY_S, TEMPERATURE_DELAY_S = 15.0, 60.0
"""On- and off-delay to begin with [s]: 15 s for flow and pressure, 60 s for temperature
(ISA-18.2, recommended starting points, from memory). Volts are taken as quick as pressure."""
FLOW_DEADBAND, DEADBAND = 0.05, 0.02
"""Deadband as a share of the limit: 5 % for flow, 2 % for pressure (as above), and 2 % for volts."""
TEMPERATURE_DEADBAND_K = 0.5
"""1 % of a range of 50 K (as above)."""
FREEZE_DELAY_S = 15.0
"""The freeze margin follows the suction pressure, so it is delayed as a pressure."""
START_S = 30.0
"""So long after a start nothing is held against a limit that the start itself passes. Our choice."""
START_OF_CUT_OUT_S = 120.0
"""Cut-outs wait through a start, as the proof of the freeze margin does. Common practice, no source."""
SETTLED_S = 300.0
"""Superheat is not looked at before the valve has come to rest. Common practice, no source."""
HOTTEST_DISCHARGE_K = 273.15 + (225.0 - 32.0) / 1.8
"""225 °F: oil begins to break down. Common practice, no source."""
LEAST_LEAVING_K = 1.0
"""A liquid this close to its freezing point freezes at the wall. Common practice, no source."""
LEAST_SUPERHEAT_K, SUPERHEAT_DELAY_S = 1.0, 180.0
"""A valve may swing through it for seconds, not for minutes. Common practice, no source."""
NO_FLOW = 0.5
"""Under half of the least flow that the card allows there is no flow to speak of. Our choice."""
VOLTS_SHARE = 0.10
"""Common practice, no source."""

HIGH, MEDIUM = "high", "medium"


@dataclass(frozen=True, slots=True)
class AlarmRule:
    """One alarm."""

    code: str
    title: str
    symbol: str
    """Measuring point or derived value that is watched."""
    quantity: Quantity
    """In which it is shown."""
    limit: float
    """[SI]"""
    low: bool
    """Whether values below the limit raise it."""
    source: str
    act: Act
    priority: str = HIGH
    while_running: bool = True
    """Whether it counts only while the compressor runs; else always."""
    after_s: float = START_S
    """From when after a start it counts."""
    delay_s: float = DELAY_S
    deadband: float = 0.0
    less: float = 0.0
    """What is taken off the watched value first [SI], as a freezing point."""
    modes: tuple[str, ...] = ("", "heating", "cooling")

    def __post_init__(self) -> None:
        if not math.isfinite(self.limit):
            raise ValueError(f"The alarm '{self.code}' has no limit.")
        if not self.source:
            raise ValueError(f"The limit of the alarm '{self.code}' names no source.")


@dataclass(frozen=True, slots=True)
class Site:
    """What a session declares and an alarm needs."""

    freezing_point: float = math.nan
    """Of the source liquid [K]."""
    barometer_pa: float = 101_325.0
    mode: str = ""


def delay_of(quantity: Quantity) -> float:
    """Give the delay of a quantity [s].

    Examples
    --------
    >>> delay_of(Quantity.VOLUME_FLOW), delay_of(Quantity.TEMPERATURE)
    (15.0, 60.0)
    """
    if quantity in (Quantity.TEMPERATURE, Quantity.TEMPERATURE_DIFFERENCE):
        return TEMPERATURE_DELAY_S
    return DELAY_S


def deadband_of(quantity: Quantity, limit: float) -> float:
    """Give the deadband of a limit [SI].

    Examples
    --------
    >>> deadband_of(Quantity.TEMPERATURE_DIFFERENCE, 2.0), round(deadband_of(Quantity.VOLTAGE, 207.0), 2)
    (0.5, 4.14)
    """
    if quantity in (Quantity.TEMPERATURE, Quantity.TEMPERATURE_DIFFERENCE):
        return TEMPERATURE_DEADBAND_K
    return abs(limit) * (FLOW_DEADBAND if quantity is Quantity.VOLUME_FLOW else DEADBAND)


def alarm_rules(card: UnitCard | None, site: Site) -> tuple[AlarmRule, ...]:
    """Give the alarms of a machine: what its card asks to act on, then what holds for every machine.

    Parameters
    ----------
    card
        The unit card; None leaves only what needs none.
    site
        What the session declares at this moment.

    Examples
    --------
    >>> [rule.code for rule in alarm_rules(None, Site(273.15))]
    ['leaving_water_near_freezing', 'discharge_hot', 'liquid_to_compressor']
    """
    rules = [] if card is None else [*_of_bands(card, site), *_of_machine(card, site)]
    if math.isfinite(site.freezing_point):
        rules.append(_leaving(site))
    watched = {(rule.symbol, rule.low) for rule in rules}
    rules += [rule for rule in (_HOT, _WET) if (rule.symbol, rule.low) not in watched]
    return tuple(rule for rule in rules if site.mode in rule.modes)


def _of_bands(card: UnitCard, site: Site) -> list[AlarmRule]:
    """Take over what the card itself asks to act on."""
    rules = []
    for symbol, known in CARD_QUANTITIES.items():
        band = card.band(symbol, site.mode)
        watched = _WATCHED.get(symbol, symbol)
        if band is None or (watched not in POINTS and watched not in BY_SYMBOL):
            continue
        for low, limit in ((True, band.act_below), (False, band.act_above)):
            if math.isfinite(limit):
                rules.append(_of_band(band, watched, known.label, known.quantity, low, limit, site))
    return rules


def _of_band(
    band: Band, watched: str, label: str, quantity: Quantity, low: bool, limit: float, site: Site
) -> AlarmRule:
    freezing = band.symbol == "freeze_margin"
    return AlarmRule(
        code=f"{band.symbol}_{'low' if low else 'high'}",
        title=f"{label} too {'low' if low else 'high'}",
        symbol=watched,
        quantity=quantity,
        limit=limit,
        low=low,
        source=f"unit card: {band.source or 'source not stated'}",
        act=_READY if freezing else _LOOK,
        delay_s=FREEZE_DELAY_S if freezing else delay_of(quantity),
        deadband=deadband_of(quantity, limit),
        less=site.barometer_pa if quantity is Quantity.GAUGE_PRESSURE else 0.0,
    )


def _of_machine(card: UnitCard, site: Site) -> list[AlarmRule]:
    """Limits that follow from what the card says of the machine."""
    rules = []
    flow = card.band("source_volume_flow", site.mode)
    if flow is not None and math.isfinite(flow.low):
        limit = NO_FLOW * flow.low
        rules.append(
            AlarmRule(
                "source_flow_lost", "hardly any source water flows", "source_volume_flow",
                Quantity.VOLUME_FLOW, limit, True,
                f"half of the least flow of the unit card ({flow.source or 'source not stated'}); our choice",
                _READY, deadband=deadband_of(Quantity.VOLUME_FLOW, limit),
            )
        )  # fmt: skip
    place = _CUT_OUT_AT.get(card.cut_out.at) if card.cut_out is not None else None
    if card.cut_out is not None and place is not None:
        rules.append(
            AlarmRule(
                "cut_out_passed", "the low-temperature cut-out did not act", place,
                Quantity.TEMPERATURE, card.cut_out.setting, True,
                f"unit card: cut-out at {card.cut_out.at} ({card.cut_out.source or 'source not stated'})",
                running("Stop the unit at its own control; do not bridge or reset the cut-out."),
                after_s=START_OF_CUT_OUT_S, delay_s=TEMPERATURE_DELAY_S, deadband=TEMPERATURE_DEADBAND_K,
                modes=("", "heating"),
            )
        )  # fmt: skip
    rules += _volts(card)
    return rules


def _volts(card: UnitCard) -> list[AlarmRule]:
    """Hold the supply against the card's band, or a tenth about the plate's voltage."""
    band = card.band("supply_voltage")
    if band is not None:
        low, high, source = band.low, band.high, f"unit card: {band.source or 'source not stated'}"
    else:
        low, high = card.supply * (1.0 - VOLTS_SHARE), card.supply * (1.0 + VOLTS_SHARE)
        source = f"plate voltage within {VOLTS_SHARE:.0%}, {PRACTICE}"
    return [
        AlarmRule(
            f"supply_{'low' if below else 'high'}", f"supply voltage too {'low' if below else 'high'}",
            "supply_voltage", Quantity.VOLTAGE, limit, below, source,
            running("If licensed, live volts: read the supply at the disconnect; else call one who is."),
            MEDIUM, while_running=False, deadband=deadband_of(Quantity.VOLTAGE, limit),
        )
        for below, limit in ((True, low), (False, high)) if math.isfinite(limit)
    ]  # fmt: skip


def _leaving(site: Site) -> AlarmRule:
    return AlarmRule(
        "leaving_water_near_freezing", "the leaving source water is about to freeze",
        "source_leaving_temperature", Quantity.TEMPERATURE_DIFFERENCE, LEAST_LEAVING_K, True,
        f"{LEAST_LEAVING_K:g} K over its freezing point; {PRACTICE}", _READY,
        delay_s=FREEZE_DELAY_S, deadband=TEMPERATURE_DEADBAND_K, less=site.freezing_point,
        modes=("", "heating"),
    )  # fmt: skip


_READY = running("Be ready to stop the unit at its own control.")
_LOOK = running("Look at once; stop the unit at its own control if it does not come back.")
_WATCHED = {"source_static_gauge": "source_static_pressure"}
"""Where a card's symbol is no measuring point or derived value of its own."""
_CUT_OUT_AT: Mapping[str, str] = {
    "evaporating temperature": "evaporating_temperature",
    "leaving water": "source_leaving_temperature",
}
"""A sensor on the refrigerant liquid line is no measuring point of ours; such a cut-out is not watched."""
_HOT = AlarmRule(
    "discharge_hot", "the discharge line is too hot", "discharge_temperature", Quantity.TEMPERATURE,
    HOTTEST_DISCHARGE_K, False, f"225 °F on the line; {PRACTICE}",
    running("Stop the unit at its own control and let it cool; do not touch the line."),
    delay_s=TEMPERATURE_DELAY_S, deadband=2.0,
)  # fmt: skip
_WET = AlarmRule(
    "liquid_to_compressor", "liquid may reach the compressor", "superheat",
    Quantity.TEMPERATURE_DIFFERENCE, LEAST_SUPERHEAT_K, True, f"1 K; {PRACTICE}",
    running("Check the suction clamp; if it sits well, stop the unit at its own control."),
    MEDIUM, after_s=SETTLED_S, delay_s=SUPERHEAT_DELAY_S, deadband=TEMPERATURE_DEADBAND_K,
)  # fmt: skip
