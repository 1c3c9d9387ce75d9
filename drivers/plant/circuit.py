"""The refrigerant circuit: rates of change of the coils, the valve and the compressor from one state.

The same equations serve the steady solution (all rates zero) and the march through time. Both coils are
lumped by zones: the refrigerant mass in a coil sets how much of its surface is wet (evaporator) or flooded
(condenser), so that superheat and subcooling follow from charge, valve and heat transfer and are never given.
No pressure loss in coils and lines; no thermal mass of refrigerant vapour.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from drivers.plant.air_side import CP_WATER, wet_air
from drivers.plant.compression import Ports, compress, mass_flow
from drivers.plant.valve_flow import valve_flow
from drivers.plant.zones import CircuitNow, log_mean, positive_part, water_heat

BLEED = 1.0e-8
"""Gas passing a standing machine, backwards through compressor and valve [kg/(s Pa)]."""


class CircuitState(NamedTuple):
    """The states that carry memory: ln p in both coils, evaporator mass, waters out, shell, bulb, front.

    `front` is the wetted share of the evaporator, which follows the mass in it with a delay.
    """

    lnp_e: float
    lnp_c: float
    m_e: float
    t_water_e: float
    t_water_c: float
    t_shell: float
    t_bulb: float
    front: float


class CircuitRates(NamedTuple):
    """Rates of `CircuitState` [per s] and every quantity found on the way (SI)."""

    rates: CircuitState
    p_suction: float
    p_discharge: float
    t_evaporating: float
    t_condensing: float
    t_bubble: float
    t_suction: float
    t_evaporator_out: float
    t_discharge: float
    t_liquid: float
    h_suction: float
    h_evaporator_out: float
    h_discharge: float
    h_liquid: float
    m_compressor: float
    m_valve: float
    m_evaporator: float
    q_evaporator: float
    q_condenser: float
    q_sensible: float
    q_line: float
    power: float
    superheat: float
    subcooling: float
    wetness: float
    fill: float
    wet: float
    flooded: float
    flash: float
    opening: float
    t_out_e: float
    t_out_c: float
    w_out_e: float
    t_surface: float
    m_c: float


def rates(y: CircuitState, c: CircuitNow) -> CircuitRates:
    """Evaluate the circuit at one state.

    Evaporator: C dT_e/dt = Q_2 - [m_out (h_out - h_f) - m_valve (h_4 - h_f)], dM_e/dt = m_valve - m_out.
    Condenser: C dT_c/dt = m_in (h_g - h_f) - Q_2 - m_valve x h_fg; its mass is what is left.

    Parameters
    ----------
    y : CircuitState
    c : CircuitNow

    Returns
    -------
    CircuitRates
    """
    ref = c.refrigerant
    ev, co = c.evaporator, c.condenser
    e, k = ref.saturation(y.lnp_e), ref.saturation(y.lnp_c)
    p_e = math.exp(y.lnp_e)
    p_c_ref = math.exp(y.lnp_c)
    fg_e = e.h_vapour - e.h_liquid
    fg_c = k.h_vapour - k.h_liquid

    # Evaporator: how much of the surface is wet, from the refrigerant mass in it.
    fill = (y.m_e / ev.volume - e.rho_vapour) / (e.rho_boiling - e.rho_vapour)
    front = fill if c.steady else c.front_share * fill + (1.0 - c.front_share) * y.front
    dry = positive_part(1.0 - front, 0.03)
    wet = min(max(1.0 - dry, 0.0), 1.0)
    dry = 1.0 - wet
    wetness = min(1.5 * max(front - wet, 0.0), 0.35)

    # Condenser: how much is flooded with liquid, from the mass left for it; the receiver fills first.
    m_line = c.liquid_line_volume * k.rho_liquid + c.suction_volume * e.rho_vapour
    m_c = c.charge - y.m_e - m_line
    spare = m_c - co.volume * k.rho_condensing
    if c.receiver_volume > 0.0:
        spare -= positive_part(spare, 0.01) - positive_part(spare - c.receiver_volume * k.rho_liquid, 0.01)
    raw = spare / (co.volume * (k.rho_liquid - k.rho_condensing))
    flooded = min(positive_part(raw, 0.03), 0.96)
    # Too little mass: the liquid end runs out and gas leaves with the liquid; its share x is that at which
    # the mean density between x and 1 fits the mass (linear between x = 0 and 0.2).
    lack = max(flooded - raw, 0.0) * (k.rho_liquid - k.rho_condensing)
    flash_out = min(0.2 * lack / (k.rho_condensing - k.rho_boiling), 0.8)
    moles = c.gas_moles
    p_gas = p_gas_e = 0.0
    if moles:
        # Running, the gas is caught in the condenser; standing, it spreads as the pressures become equal.
        spread = 0.0 if c.running else min(max(1.0 - (p_c_ref - p_e) / 1e5, 0.0), 1.0)
        p_gas = moles * 8.314 * k.t_bubble / (co.volume * (1.02 - flooded) + spread * ev.volume)
        p_gas_e = spread * p_gas
    p_c = p_c_ref + p_gas
    lnp_total = math.log(p_c) if moles else y.lnp_c
    total = ref.saturation(lnp_total) if moles else k

    m_guess = mass_flow(c, p_c / p_e, 0.97 * e.rho_vapour)

    # Superheated zone at the entering end (counterflow), two-phase zone behind it.
    drive = ev.t_in if ev.air is not None else y.t_water_e + (ev.t_in - y.t_water_e) * (1.0 - ev.stagnant)
    if m_guess > 0.0:
        ntu = ev.ua_vapour * dry / (m_guess * e.cp_vapour)
        superheat_out = (drive - e.t_dew) * (1.0 - math.exp(-ntu))
    else:
        superheat_out = 0.0
    if superheat_out < 0.0:
        superheat_out = 0.0
    h_dry = ref.vapour(y.lnp_e, superheat_out)[0]
    h_out_e = h_dry - wetness * fg_e

    ports = Ports(y.lnp_e, lnp_total, e, total, h_out_e, e.t_dew + superheat_out, k.rho_vapour)
    gas = compress(c, ports, m_guess, y.t_shell)
    m_ev, h_discharge, t_discharge = gas.m_evaporator, gas.h_discharge, gas.t_discharge

    # Condenser: desuperheating at the leaving end, condensing, flooded part at the entering end.
    t_c = 0.5 * (k.t_dew + k.t_bubble)
    drive_c = co.t_in if co.air is not None else y.t_water_c + (co.t_in - y.t_water_c) * (1.0 - co.stagnant)
    out_c = co.t_in if co.air is not None else y.t_water_c
    q_desuper = m_ev * (h_discharge - k.h_vapour)
    gap = max(0.5 * (t_discharge + t_c) - out_c, 3.0)
    desuper = min(max(q_desuper, 0.0) / (co.ua_vapour * gap), 0.45)
    condensing = max(1.0 - flooded - desuper, 0.03)
    ua_c = co.ua_two_phase * condensing * c.condensing_derate
    if co.air is not None:
        cap = co.capacity_rate * condensing
        q_two_c = cap * (1.0 - math.exp(-ua_c / cap)) * (t_c - co.t_in) if cap > 0.0 else 0.0
    else:
        q_two_c = ua_c * log_mean(t_c - drive_c, t_c - y.t_water_c)
    liquid_mass = m_c - co.volume * k.rho_vapour
    present = min(max(liquid_mass / 0.08, 0.0), 1.0)
    if q_two_c < 0.0:
        q_two_c *= present

    # Liquid line and valve.
    flow_for_liquid = m_guess if c.running else 1e-3
    ntu_l = co.ua_liquid * flooded / (flow_for_liquid * k.cp_liquid)
    subcooled = max(k.t_bubble - drive_c, 0.0) * (1.0 - math.exp(-ntu_l))
    t_liquid = k.t_bubble - subcooled
    h_liquid = ref.liquid(lnp_total, max(total.t_bubble - t_liquid, 0.0)) + flash_out * fg_c
    t_pipe = e.t_dew + max(superheat_out - 4.0 * wetness, -2.0)
    bulb = (t_pipe if c.steady else y.t_bulb) - e.t_dew
    dp = p_c - p_e
    seen = subcooled + total.t_bubble - k.t_bubble
    opening, m_valve = valve_flow(c, k, bulb, dp, seen, flash_out, total.dt_dlnp / p_c)
    if not c.running:
        m_valve *= present
    q_liquid = m_valve * (k.h_liquid + flash_out * fg_c - h_liquid)

    # Boiling: mean temperature between valve outlet and dew (glide), against water or air.
    x_in = min(max((h_liquid - e.h_liquid) / fg_e, 0.0), 1.0)
    t_boil = e.t_dew - 0.5 * (e.t_dew - e.t_bubble) * (1.0 - x_in)
    w_out = ev.w_in
    q_super = m_ev * (h_dry - e.h_vapour)
    t_surface = math.nan
    if ev.air is not None:
        q_two_e, w_wet, t_surface = wet_air(ev, t_boil, wet)
        w_out = wet * w_wet + dry * ev.w_in
        h_air = ev.air.h(ev.t_in, ev.w_in) - (q_two_e + q_super) / ev.m_air
        h_air -= (ev.w_in - w_out) * CP_WATER * (t_surface - 273.15)
        t_out_e = ev.air.t_of(h_air, w_out)
        sensible = ev.capacity_rate * (ev.t_in - t_out_e)
        water_e = 0.0
    else:
        q_two_e = ev.ua_two_phase * wet * log_mean(drive - t_boil, y.t_water_e - t_boil)
        t_out_e = y.t_water_e
        sensible = q_two_e + q_super
        water_e = (water_heat(ev, y.t_water_e) - sensible) / ev.water_heat_capacity
    q_e = q_two_e + q_super
    q_c = max(q_desuper, 0.0) + q_two_c + q_liquid if c.running else q_two_c + q_liquid
    if co.air is not None:
        t_out_c = co.air.t_of(co.air.h(co.t_in, co.w_in) + q_c / co.m_air, co.w_in)
        water_c = 0.0
    else:
        t_out_c = y.t_water_c
        water_c = (water_heat(co, y.t_water_c) + q_c) / co.water_heat_capacity

    # Standing machine: gas passes the resting compressor until the pressures are equal.
    bleed = 0.0 if c.running else BLEED * (p_c_ref - p_e)
    # Neither coil gives more gas than it holds.
    bleed *= min(max(m_c / (co.volume * k.rho_vapour), 0.0), 1.0) if bleed > 0.0 else 1.0
    bleed *= min(y.m_e / (ev.volume * e.rho_vapour), 1.0) if bleed < 0.0 else 1.0
    present_e = min(max((y.m_e - ev.volume * e.rho_vapour) / 0.08, 0.0), 1.0)
    boiled_c, boiled_e = (bleed * present, bleed) if bleed > 0.0 else (bleed, bleed * present_e)
    h_leaving = e.h_vapour - wetness * fg_e
    heat_e = q_two_e - m_ev * (h_leaving - e.h_liquid) + m_valve * (h_liquid - e.h_liquid) + boiled_e * fg_e
    store_e = ev.heat_capacity + y.m_e * e.cp_liquid
    store_c = co.heat_capacity + max(m_c, 0.0) * k.cp_liquid * 0.5
    heat_c = m_ev * fg_c - q_two_c - m_valve * flash_out * fg_c - boiled_c * fg_c
    lnp_c_rate = heat_c / store_c / k.dt_dlnp
    lnp_e_rate = heat_e / store_e / e.dt_dlnp
    if not c.running:
        # A coil without liquid only shares its vapour with the other side.
        lnp_c_rate -= (1.0 - present) * (y.lnp_c - y.lnp_e) / 15.0
        lnp_e_rate -= (1.0 - present_e) * (y.lnp_e - y.lnp_c) / 15.0
    return CircuitRates(
        CircuitState(
            lnp_e_rate,
            lnp_c_rate,
            m_valve - m_ev + bleed,
            water_e,
            water_c,
            gas.shell_rate,
            (t_pipe - y.t_bulb) / c.valve.bulb_time,
            (fill - y.front) / c.front_time,
        ),
        p_suction=p_e + p_gas_e,
        p_discharge=p_c,
        t_evaporating=e.t_dew,
        t_condensing=k.t_bubble,
        t_bubble=total.t_bubble,
        t_suction=e.t_dew + max(gas.superheat, 0.0),
        t_evaporator_out=e.t_dew + superheat_out,
        t_discharge=t_discharge,
        t_liquid=t_liquid,
        h_suction=gas.h_suction,
        h_evaporator_out=h_out_e,
        h_discharge=h_discharge,
        h_liquid=h_liquid,
        m_compressor=gas.m,
        m_valve=m_valve,
        m_evaporator=m_ev,
        q_evaporator=q_e,
        q_condenser=q_c,
        q_sensible=sensible,
        q_line=gas.q_line,
        power=gas.power,
        superheat=gas.superheat,
        subcooling=total.t_bubble - t_liquid,
        wetness=wetness,
        fill=fill,
        wet=wet,
        flooded=flooded,
        flash=flash_out,
        opening=opening,
        t_out_e=t_out_e,
        t_out_c=t_out_c,
        w_out_e=w_out,
        t_surface=t_surface,
        m_c=m_c,
    )
