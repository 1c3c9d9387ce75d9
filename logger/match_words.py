"""A match and a zeroing in words: what stands against them, the way out, and what is believed after them.

The screen and the terminal say the same sentences; numbers stand in the preset's units.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import NamedTuple

from analysis.cup import (
    ICE,
    ICE_K,
    MEAN,
    Cup,
    Lack,
    Probe,
    Trouble,
    difference_uncertainty,
    stated_difference,
    worst_pair,
)
from analysis.presets import PRESETS, PresetName, number, show
from analysis.units import Quantity, from_si, unit
from analysis.zeroing import Zero, ZeroLack

Name = Callable[[str], str]
"""Gives what a channel is called."""
WATER_PAIRS = (
    ("source_entering_temperature", "source_leaving_temperature", "the source water's delta-T"),
    ("load_entering_temperature", "load_leaving_temperature", "the load water's delta-T"),
)
_PRESSURE_UNIT: dict[Quantity, dict[PresetName, tuple[str, int]]] = {
    Quantity.GAUGE_PRESSURE: {"si": ("bar", 3), "us": ("psi", 2)},
    Quantity.ABSOLUTE_PRESSURE: {"si": ("bar", 3), "us": ("psi", 2)},
    Quantity.PRESSURE_DIFFERENCE: {"si": ("kPa", 2), "us": ("psi", 3)},
}


_WAIT = "wait, or leave out what does not read"


class Said(NamedTuple):
    """What stands against it, and the way out."""

    what: str
    way: str


def kelvin(value: float, preset: PresetName) -> str:
    """Write a difference of temperatures finely enough for a match.

    Examples
    --------
    >>> kelvin(-0.1, "si"), kelvin(0.1, "us")
    ('−0.10 K', '0.18 °F')
    """
    sign = PRESETS[preset][Quantity.TEMPERATURE_DIFFERENCE].unit
    if not math.isfinite(value):
        return "no value"
    shown = number(from_si(Quantity.TEMPERATURE_DIFFERENCE, sign, value), 2)
    return f"{shown} {unit(sign, Quantity.TEMPERATURE_DIFFERENCE).shown}"


def within(u: float, preset: PresetName) -> str:
    """Write an expanded uncertainty (k = 2) of temperatures, rounded up.

    Examples
    --------
    >>> within(0.0312, "si"), within(math.nan, "si")
    ('± 0.07 K', '± not stated')
    """
    if not math.isfinite(u):
        return "± not stated"
    sign = PRESETS[preset][Quantity.TEMPERATURE_DIFFERENCE].unit
    expanded = math.ceil(200.0 * from_si(Quantity.TEMPERATURE_DIFFERENCE, sign, u) - 1e-9) / 100.0
    return f"± {expanded:.2f} {unit(sign, Quantity.TEMPERATURE_DIFFERENCE).shown}"


def per_minute(kelvin_per_s: float, preset: PresetName) -> str:
    """Write a drift without its sign."""
    return f"{kelvin(abs(60.0 * kelvin_per_s), preset)} per min"


def temperature(value: float, preset: PresetName) -> str:
    """Write a temperature finely enough for a match."""
    sign = PRESETS[preset][Quantity.TEMPERATURE].unit
    if not math.isfinite(value):
        return "no value"
    return f"{number(from_si(Quantity.TEMPERATURE, sign, value), 2)} {unit(sign, Quantity.TEMPERATURE).shown}"


def pressure(quantity: Quantity, pascal: float, preset: PresetName, *, more: int = 0) -> str:
    """Write a difference of pressures of a channel of some quantity.

    Examples
    --------
    >>> pressure(Quantity.GAUGE_PRESSURE, -2000.0, "si")
    '−0.020 bar'
    """
    if not math.isfinite(pascal):
        return "no value"
    sign, decimals = _PRESSURE_UNIT[quantity][preset]
    return f"{number(from_si(Quantity.PRESSURE_DIFFERENCE, sign, pascal), decimals + more)} {sign}"


def pressure_within(quantity: Quantity, u: float, preset: PresetName) -> str:
    """Write an expanded uncertainty (k = 2) of pressures, rounded up."""
    sign, decimals = _PRESSURE_UNIT[quantity][preset]
    scale = 10.0**decimals
    expanded = 2.0 * from_si(Quantity.PRESSURE_DIFFERENCE, sign, u)
    return f"± {math.ceil(scale * expanded - 1e-9) / scale:.{decimals}f} {sign}"


def reference_words(reference: str, name: Name) -> str:
    """Say what a cup is held against."""
    return {MEAN: "the mean of all", ICE: "ice water"}.get(reference) or name(reference)


def _listed(channels: tuple[str, ...], name: Name) -> str:
    """Name one or two channels, and say how many more."""
    if len(channels) > 2:
        return f"{name(channels[0])} and {len(channels) - 1} more"
    return " and ".join(name(channel) for channel in channels)


def cup_said(trouble: Trouble, cup: Cup, name: Name, preset: PresetName) -> Said:
    """Say what stands against taking a cup."""
    who = _listed(trouble.channels, name) if trouble.channels else ""
    many = len(trouble.channels) > 1
    match trouble.lack:
        case Lack.FEW_PROBES:
            return Said("too few probes are in the cup", "put two or more into it, or one into ice water")
        case Lack.FEW_READINGS:
            gave = f"{trouble.value:.0f} readings in {cup.window_s:.0f} s"
            return Said(f"{who} gave {gave}; it takes {trouble.limit:.0f}", _WAIT)
        case Lack.SHORT:
            been = "have been" if many else "has been"
            span = f"{trouble.value:.0f} s of the {trouble.limit:.0f} s that it takes"
            return Said(f"{who} {been} read for {span}", _WAIT)
        case Lack.MOVES:
            moves = f"by {per_minute(trouble.value, preset)}"
            if cup.reference != ICE:
                moves += " against the others"
            first = name(trouble.channels[0])
            others = f" (and {len(trouble.channels) - 1} more)" if many else ""
            limit = per_minute(trouble.limit, preset)
            return Said(
                f"{first}{others} still moves {moves}; limit {limit}", "stir, and wait until it stands"
            )
        case Lack.CUP_DRIFTS:
            way = "cools" if trouble.value < 0.0 else "warms"
            drift, limit = (per_minute(v, preset) for v in (trouble.value, trouble.limit))
            return Said(
                f"the cup {way} by {drift}; limit {limit}",
                "take more water, or water nearer to the room's air",
            )
        case Lack.STANDS_OUT if len(cup.probes) == 2:
            apart = kelvin(abs(trouble.value), preset)
            return Said(
                f"{who} lie {apart} apart; up to {kelvin(trouble.limit, preset)} is believed",
                "see that both are in the cup; if they are, one is damaged: leave it out",
            )
        case Lack.STANDS_OUT:
            side = "above" if trouble.value > 0.0 else "below"
            return Said(
                f"{name(trouble.channels[0])} lies {kelvin(abs(trouble.value), preset)} {side} the others; "
                f"up to {kelvin(trouble.limit, preset)} is believed",
                "put it into the cup; if it is in, leave it out and have it looked at",
            )
        case Lack.NOT_ICE:
            side = "above" if trouble.value > 0.0 else "below"
            zero = temperature(ICE_K, preset)
            return Said(
                f"the probes lie {kelvin(abs(trouble.value), preset)} {side} {zero}; up to "
                f"{kelvin(trouble.limit, preset)} is believed of ice water",
                "fill with crushed ice and just enough water to stir, or choose another reference",
            )
        case Lack.NO_GAIN:
            return Said("these probes are stated to better than a cup can tell", "leave them as they are")


def zero_said(zero: Zero, name: Name, preset: PresetName) -> Said | None:
    """Say what stands against zeroing a gauge; None where nothing does."""
    who, quantity = name(zero.channel.id), zero.channel.quantity
    match zero.lack:
        case None:
            return None
        case ZeroLack.FEW_READINGS:
            return Said(f"{who} has too few readings yet", "wait, or leave it out")
        case ZeroLack.MOVES:
            return Said(f"{who} still moves", "wait until its hose is empty")
        case ZeroLack.PRESSURE:
            off = pressure(quantity, zero.mean.value - zero.target, preset)
            limit = pressure(quantity, zero.limit, preset)
            target = "the barometer" if quantity is Quantity.ABSOLUTE_PRESSURE else "zero"
            return Said(
                f"{who} stands {off} off {target}; up to ± {limit} is believed",
                "see that it is open to the air and its hose empty; if it is, have it calibrated",
            )
        case ZeroLack.NO_BAROMETER:
            return Said(
                f"{who} is held against the barometer, which is not declared", "declare the barometer"
            )
        case ZeroLack.NO_GAIN:
            return Said(f"{who} is stated to better than this can tell", "leave it as it is")


def cup_belief(cup: Cup, point_of: Mapping[str, str], preset: PresetName) -> str:
    """Say what is believed once the offsets of a cup hold.

    Parameters
    ----------
    cup
        An even one.
    point_of
        Channel to the measuring point that it feeds.
    preset
        Units.
    """
    at = show(Quantity.TEMPERATURE, cup.at, preset)
    alone = max(
        math.hypot(probe.own, probe.channel.resolution * probe.channel.si_unit.factor / math.sqrt(12.0))
        for probe in cup.probes
    )
    shared = f"each probe alone to {within(math.hypot(alone, cup.shared), preset)}"
    if not math.isfinite(cup.shared):
        shared = "each probe alone is as good as its reference, of which nothing is stated"
    pair, name = _pair(cup, point_of)
    if pair is None:
        return f"Near {at} {shared} (k = 2)."
    one, other = pair
    after = within(difference_uncertainty(cup, one.channel.id, other.channel.id), preset)
    before = within(stated_difference(one, other), preset)
    return f"Near {at}, {name} is known to {after} (as stated {before}); {shared} (k = 2)."


def _pair(cup: Cup, point_of: Mapping[str, str]) -> tuple[tuple[Probe, Probe] | None, str]:
    by_point = {point_of.get(probe.channel.id, ""): probe for probe in cup.probes}
    for one, other, name in WATER_PAIRS:
        if one in by_point and other in by_point:
            return (by_point[one], by_point[other]), name
    return worst_pair(cup), "a difference of two of these probes"
