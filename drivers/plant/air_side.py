"""Heat from moist air to a boiling refrigerant: sensible and latent, by the bypass-factor method."""

from __future__ import annotations

import math
from typing import NamedTuple

from drivers.plant.zones import CoilNow

CP_WATER = 4190.0
"""Heat capacity of condensate [J/(kg K)], from 273.15 K where the steam tables' enthalpy is zero."""


class WetAir(NamedTuple):
    """Heat taken from the air [W], humidity leaving [kg/kg] and surface (condensate) temperature [K]."""

    q: float
    w_out: float
    t_surface: float


def wet_air(coil: CoilNow, t_e: float, share: float) -> WetAir:
    """Balance the refrigerant's film with the air's at the surface of the wet part of the coil.

    ua_r (T_s - T_e) = m_air c [h_in - h(T_s, w_s) - (w_in - w_s) h_water(T_s)], with the contact factor
    c = 1 - exp(-ua_air / (m_air c_p)) and w_s = min(w_in, saturation at T_s): below the dew point the air
    moves on the straight line towards saturated air at the surface, above it stays dry.

    Parameters
    ----------
    coil : CoilNow
    t_e : float [K]
        Boiling temperature.
    share : float [-]
        Part of the coil's face whose refrigerant side is wet.

    Returns
    -------
    WetAir
    """
    air = coil.air
    assert air is not None, "an air coil"
    m_air = coil.m_air * share
    if m_air < 1e-6:
        return WetAir(0.0, coil.w_in, coil.t_in)
    cp = 1006.0 + 1860.0 * coil.w_in
    part = m_air * (1.0 - math.exp(-coil.ua_air / (coil.m_air * cp)))
    ua = coil.ua_refrigerant * share
    h_in = air.h(coil.t_in, coil.w_in)
    t_s = (ua * t_e + part * cp * coil.t_in) / (ua + part * cp)
    q = 0.0
    # Heat falls with the surface temperature and curves one way: Newton comes in from one side.
    for _ in range(12):
        w_s = air.w_sat(t_s)
        slope_w = 0.0
        if w_s < coil.w_in:
            slope_w = (air.w_sat(t_s + 0.05) - w_s) / 0.05
        else:
            w_s = coil.w_in
        q = part * (h_in - air.h(t_s, w_s) - (coil.w_in - w_s) * CP_WATER * (t_s - 273.15))
        slope = -part * (cp + slope_w * 2.45e6) - ua
        step = (q - ua * (t_s - t_e)) / slope
        t_s -= step
        if abs(step) < 1e-8:
            break
    return WetAir(q, coil.w_in - part / m_air * (coil.w_in - w_s), t_s)
