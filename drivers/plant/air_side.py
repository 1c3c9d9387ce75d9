"""Heat from moist air to a boiling refrigerant: sensible and latent, by the bypass-factor method."""

from __future__ import annotations

import math

from drivers.plant.zones import CoilNow


def wet_air(coil: CoilNow, t_e: float, share: float) -> tuple[float, float, float, float]:
    """Heat from air to a boiling refrigerant: total, sensible [W], air temperature [K] and humidity out.

    The surface temperature balances the refrigerant's film with the air's; where the surface lies below
    the dew point, the air ends on the straight line towards saturated air at the surface (bypass factor).
    """
    air = coil.air
    assert air is not None
    m_air = coil.m_air * share
    if m_air < 1e-6 or share <= 0.0:
        return 0.0, 0.0, coil.t_in, coil.w_in
    cp = 1006.0 + 1860.0 * coil.w_in
    contact = 1.0 - math.exp(-coil.ua_air / (coil.m_air * cp))
    h_in = air.h(coil.t_in, coil.w_in)
    ua = coil.ua_refrigerant * share
    low, high = (t_e, coil.t_in) if coil.t_in > t_e else (coil.t_in, t_e)
    t_s = 0.5 * (low + high)
    for _ in range(22):
        w_s = min(coil.w_in, air.w_sat(t_s))
        if m_air * contact * (h_in - air.h(t_s, w_s)) > ua * (t_s - t_e):
            low = t_s
        else:
            high = t_s
        t_s = 0.5 * (low + high)
    w_s = min(coil.w_in, air.w_sat(t_s))
    q = m_air * contact * (h_in - air.h(t_s, w_s))
    w_out = coil.w_in - contact * (coil.w_in - w_s)
    t_out = coil.t_in - contact * (coil.t_in - t_s)
    return q, m_air * cp * (coil.t_in - t_out), t_out, w_out
