"""Refrigerant through the liquid line and the expansion valve."""

from __future__ import annotations

import math

from drivers.plant.refrigerants import Saturation
from drivers.plant.zones import CircuitNow, positive_part


def valve_flow(
    c: CircuitNow, k: Saturation, bulb: float, dp: float, subcooling: float, flash_out: float, dt_dp: float
) -> tuple[float, float]:
    """Give the valve's opening and mass flow, with a restriction of the liquid line in series.

    m = sqrt(2 rho dp / (1/A^2 + R)); where the restriction's drop uses up the subcooling, gas flashes before
    the valve and the density there falls.

    Parameters
    ----------
    c : CircuitNow
    k : Saturation
        At the condenser.
    bulb : float [K]
        Superheat the bulb feels.
    dp : float [Pa]
        Condenser less evaporator.
    subcooling : float [K]
    flash_out : float [-]
        Gas leaving the condenser with the liquid.
    dt_dp : float [K/Pa]
        Slope of the bubble temperature.

    Returns
    -------
    opening [-], mass flow [kg/s]
    """
    rho_l, rho_v, cp_l, fg = k.rho_liquid, k.rho_vapour, k.cp_liquid, k.h_vapour - k.h_liquid
    valve = c.valve
    if valve.fixed:
        opening = 1.0
    else:
        gain = c.valve_gain
        centre = valve.static_superheat + 0.5 * valve.opening_superheat
        wanted = 0.5 + gain * (bulb - centre) / valve.opening_superheat + c.valve_shift
        # Rounded ends: 0.02 (bleed of a closed valve) to 1.
        opening = 0.02 + positive_part(wanted - 0.02, 0.03) - positive_part(wanted - 1.0, 0.03)
    if dp <= 0.0:
        return opening, 0.0
    area = valve.area * opening * c.valve_capacity
    x = flash_out
    m = 0.0
    for _ in range(3):
        rho = 1.0 / ((1.0 - x) / rho_l + x / rho_v) if x > 0.0 else rho_l
        resistance = 1.0 / (area * area) + c.restriction
        m = math.sqrt(2.0 * rho * dp / resistance)
        if c.restriction == 0.0:
            break
        drop = m * m * c.restriction / (2.0 * rho_l)
        lack = drop * dt_dp - subcooling
        x = min(0.5 * x + 0.5 * (flash_out + max(lack, 0.0) * cp_l / fg), 0.8)
    return opening, m
