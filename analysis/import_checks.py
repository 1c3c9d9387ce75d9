"""Foreign readings held against physics: a wrongly mapped unit, gauge for absolute, a wrong refrigerant."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from analysis.elementwise import FloatArray
from analysis.liquids import Liquid
from analysis.saturation import SaturationCurve
from analysis.units import Quantity, to_si, unit
from analysis.water import heat_factor

PSI = to_si(Quantity.PRESSURE_DIFFERENCE, "psi", 1.0)
GPM = to_si(Quantity.VOLUME_FLOW, "gpm", 1.0)
BTU_PER_H = to_si(Quantity.HEAT_RATE, "Btu/h", 1.0)
DEGF = 5.0 / 9.0
LEAST_CHANGE_K = 1.0
"""A smaller change of the water says nothing about a unit [K]."""
LEAST_ROWS = 5
EQUALISED = 0.05
"""Both sides have come together where they differ by less than this part (common practice, no source)."""
FACTOR_LIMIT = 0.03
"""Plain round factors (500, 485) lie within 3 % of what the liquid gives (common practice, no source)."""
FACTOR_SPREAD = 0.05
STANDING_LIMIT = 2.0 * PSI
"""A standing pressure agrees with the water within this (laboratory logs, see tests/published) [Pa]."""
STANDING_LIMIT_K = 1.0
"""The same as a temperature: at high pressure 2 psi is less than two probes differ (common practice) [K]."""
SATURATION_LIMIT_K = 0.5
"""Two property sources differ by less, as a rule; a wrong unit or scale differs by far more [K]."""
_UNITS = {
    Quantity.HEAT_RATE: ("W", "kW", "Btu/h", "ton"),
    Quantity.VOLUME_FLOW: ("L/s", "L/min", "L/h", "m3/h", "m3/s", "gpm", "cfm"),
    Quantity.TEMPERATURE: ("degC", "degF"),
}


@dataclass(frozen=True, slots=True)
class Check:
    """What one check has found."""

    name: str
    agrees: bool | None
    """None where there was too little to say."""
    value: float
    """The number that was judged, in the unit that the statement names; NaN where there was none."""
    statement: str


def trade_factor(
    heat: FloatArray, q_v: FloatArray, t_entering: FloatArray, t_leaving: FloatArray
) -> FloatArray:
    """Heat per flow and change of temperature, in the trade's Btu/h per gpm and degF.

    Formula: ``|Q| / (q_v |t_entering - t_leaving|)``.

    Parameters
    ----------
    heat
        Heat as the log states it, shape (n,) [W].
    q_v
        Flow, shape (n,) [m3/s].
    t_entering, t_leaving
        Water, shape (n,) [K].

    Returns
    -------
    array
        Shape (n,) [Btu/h/(gpm degF)]; NaN where flow or change are too small to say.

    Examples
    --------
    One ton in 12 gpm over 2 degF (12 000 Btu/h, by definition):

    >>> ton, gpm = 12000 * BTU_PER_H, GPM
    >>> factor = trade_factor(
    ...     np.array([ton]), np.array([12 * gpm]), np.array([283.15]), np.array([283.15 - 2 * DEGF])
    ... )
    >>> round(float(factor[0]), 1)
    500.0
    """
    change = np.abs(t_entering - t_leaving)
    most = np.nanmax(q_v, initial=0.0)
    good = (change >= LEAST_CHANGE_K) & (q_v > 0.1 * most) & (np.abs(heat) > 0.0)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore", under="ignore"):
        factor = np.abs(heat) / (q_v * change) * (GPM * DEGF / BTU_PER_H)
    return np.where(good & np.isfinite(factor), factor, np.nan)


def check_factor(
    side: str,
    heat: FloatArray,
    q_v: FloatArray,
    t_entering: FloatArray,
    t_leaving: FloatArray,
    liquid: Liquid,
    mapped: tuple[str, str, str],
) -> Check:
    """Hold a logged heat against flow and water delta-T: they agree only where all units are right.

    Parameters
    ----------
    side
        Which water, for the statement.
    heat, q_v, t_entering, t_leaving
        As for :func:`trade_factor`.
    liquid
        What flows.
    mapped
        Units of heat, flow and temperature as they were mapped, to name the likely wrong one.
    """
    name = f"{side} heat against flow and delta-T"
    factor = trade_factor(heat, q_v, t_entering, t_leaving)
    known = factor[np.isfinite(factor)]
    if known.size < LEAST_ROWS:
        return Check(
            name, None, np.nan, f"{name}: cannot say, {known.size} rows have flow and delta-T enough."
        )
    middle = float(np.median(known))
    spread = float(np.median(np.abs(known - middle))) / middle
    mean = 0.5 * float(np.nanmedian(t_entering[np.isfinite(factor)] + t_leaving[np.isfinite(factor)]))
    expected = float(heat_factor(liquid, mean))
    text = f"{name}: {middle:.1f} Btu/h per gpm and °F over {known.size} rows"
    if not np.isfinite(expected):
        return Check(
            name,
            False,
            middle,
            f"{text}; but the water would be {mean - 273.15:.0f} °C: a wrong temperature unit.",
        )
    text += f"; {liquid.text} gives {expected:.1f}"
    if abs(middle / expected - 1.0) <= FACTOR_LIMIT and spread <= FACTOR_SPREAD:
        return Check(name, True, middle, f"{text}: the units agree.")
    if spread > FACTOR_SPREAD:
        reason = (
            f"it varies by {100 * spread:.0f} %: a temperature or flow is mapped wrongly, "
            "or is not this water's"
        )
    else:
        reason = _likely(middle / expected, mapped) or "a unit, scale or column is wrong"
    return Check(name, False, middle, f"{text}: they do not agree; {reason}.")


def _likely(ratio: float, mapped: tuple[str, str, str]) -> str:
    """Name the single unit whose change would explain a ratio."""
    found = []
    kinds = (Quantity.HEAT_RATE, Quantity.VOLUME_FLOW, Quantity.TEMPERATURE)
    for kind, name, power in zip(kinds, mapped, (1, -1, -1), strict=True):
        for other in _UNITS[kind]:
            if other == name:
                continue
            would = (unit(name, kind).factor / unit(other, kind).factor) ** power
            if abs(ratio / would - 1.0) <= FACTOR_LIMIT + 0.01:
                found.append(f"the {kind.value.replace('_', ' ')} is in {other}, not {name}")
    return f"likely {' or '.join(found)}" if found else ""


def check_standing_pressure(
    p: Iterable[FloatArray], water: Iterable[FloatArray], at_rest: np.ndarray, curve: SaturationCurve
) -> Check:
    """Hold the standing pressure at rest against saturation at the water temperature.

    In a machine that has stood for a while, refrigerant and water are equally warm, so that the pressure is
    that of saturation at the water temperature. Gauge taken for absolute, a wrong unit and a wrong
    refrigerant show here before anything is judged.

    Parameters
    ----------
    p
        Refrigerant pressures, each of shape (n,) [Pa absolute].
    water
        Water temperatures, each of shape (n,) [K].
    at_rest
        Rows at which the machine stands, shape (n,) of bool.
    curve
        Saturation of the refrigerant that is declared.
    """
    name = "standing pressure at rest"
    pressures = np.array([np.where(at_rest, column, np.nan) for column in p])
    temperatures = np.array([np.where(at_rest, column, np.nan) for column in water])
    usable = np.isfinite(pressures).any(axis=0) & np.isfinite(temperatures).any(axis=0)
    if usable.sum() < LEAST_ROWS:
        return Check(name, None, np.nan, f"{name}: cannot say, the machine stands in {usable.sum()} rows.")
    pressures, temperatures = pressures[:, usable], temperatures[:, usable]
    low, high = np.nanmin(pressures, axis=0), np.nanmax(pressures, axis=0)
    together = (high - low) <= EQUALISED * high
    if together.sum() < LEAST_ROWS:
        return Check(
            name, None, np.nan,
            f"{name}: cannot say, the machine stands in {usable.sum()} rows and its pressures do not come "
            f"together there ({np.median(low) / 1e5:.2f} and {np.median(high) / 1e5:.2f} bar(a)): "
            "it had just stopped, or a wrong unit, or gauge for absolute.",
        )  # fmt: skip
    pressures, temperatures = pressures[:, together], temperatures[:, together]
    standing = float(np.median(np.nanmean(pressures, axis=0)))
    t_water = float(np.median(np.nanmean(temperatures, axis=0)))
    saturated = 0.5 * (float(curve.p_dew(t_water)) + float(curve.p_bubble(t_water)))
    text = f"{name}: {standing / 1e5:.2f} bar(a)"
    if not np.isfinite(saturated):
        return Check(
            name, False, np.nan, f"{text}; the water would be {t_water - 273.15:.0f} °C: a wrong unit."
        )
    off = standing - saturated
    text += (
        f", {abs(off) / PSI:.1f} psi ({abs(off) / 1e3:.0f} kPa) {'above' if off >= 0 else 'below'} "
        f"saturation of {curve.name} at the water's {t_water - 273.15:.1f} °C ({together.sum()} rows)"
    )
    glide = abs(float(curve.p_bubble(t_water)) - float(curve.p_dew(t_water))) / 2
    if abs(off) <= STANDING_LIMIT + glide:
        return Check(name, True, off / PSI, f"{text}: they agree within 2 psi.")
    warmer = float(curve.t_dew(standing)), float(curve.t_bubble(standing))
    if min(abs(t - t_water) for t in warmer) <= STANDING_LIMIT_K:
        return Check(name, True, off / PSI, f"{text}: more than 2 psi apart, and less than 1 K: they agree.")
    return Check(
        name, False, off / PSI,
        f"{text}: more than 2 psi and 1 K apart; a wrong unit, gauge for absolute, another refrigerant, "
        "or the machine had not stood long enough.",
    )  # fmt: skip


def check_saturation(place: str, p: FloatArray, logged: FloatArray, curve: SaturationCurve) -> Check:
    """Hold a saturation temperature that the log has worked out against our own from the log's pressure.

    Parameters
    ----------
    place
        The measuring point of the pressure.
    p
        Shape (n,) [Pa absolute].
    logged
        Shape (n,) [K].
    curve
        Saturation of the refrigerant that is declared.
    """
    name = f"logged saturation at {place.replace('_', ' ')}"
    dew, bubble = np.asarray(curve.t_dew(p)), np.asarray(curve.t_bubble(p))
    # Which of the two a log means is not known; the nearer one is taken.
    off = logged - np.where(np.abs(logged - dew) < np.abs(logged - bubble), dew, bubble)
    known = off[np.isfinite(off)]
    if known.size < LEAST_ROWS:
        return Check(name, None, np.nan, f"{name}: cannot say, {known.size} rows have both.")
    middle = float(np.median(np.abs(known)))
    text = (
        f"{name}: {middle:.2f} K ({middle * 1.8:.2f} °F) from that of {curve.name} "
        f"(median of {known.size} rows)"
    )
    if middle <= SATURATION_LIMIT_K:
        return Check(name, True, middle, f"{text}: they agree.")
    return Check(
        name, False, middle,
        f"{text}: they do not agree; a wrong unit, gauge for absolute, or another refrigerant.",
    )  # fmt: skip
