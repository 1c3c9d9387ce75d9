"""The compressor between suction line and discharge line, with the leaks on its way."""

from __future__ import annotations

import math
from typing import NamedTuple

from drivers.plant.refrigerants import Saturation
from drivers.plant.zones import CircuitNow


class Ports(NamedTuple):
    """What the compressor stands between (SI).

    ln p and saturation of suction (`lnp_e`, `e`) and discharge (`lnp_c`, `c`: total pressure, gas included),
    enthalpy and temperature leaving the evaporator, density of vapour on the high side.
    """

    lnp_e: float
    lnp_c: float
    e: Saturation
    c: Saturation
    h_out: float
    t_out: float
    rho_high: float


class Compression(NamedTuple):
    """Mass flows [kg/s], states at the compressor's ports, electrical power [W]; `shell_rate` [K/s]."""

    m: float
    m_evaporator: float
    h_suction: float
    superheat: float
    h_discharge: float
    t_discharge: float
    power: float
    shell_rate: float
    q_line: float


def mass_flow(c: CircuitNow, ratio: float, rho_suction: float) -> float:
    """Mass flow [kg/s]: swept flow, volumetric efficiency and density, less what leaks back."""
    if not c.running:
        return 0.0
    comp = c.compressor
    eta = max(comp.volumetric_0 - comp.volumetric_slope * (max(ratio, 1.0) - 1.0), 0.05)
    # An induction motor's slip grows as its voltage falls.
    speed = 0.97 + 0.03 * c.voltage_ratio
    return eta * (1.0 - c.valve_leak) * speed * comp.swept_flow * rho_suction


def power_ratio(c: CircuitNow, ratio: float) -> float:
    """Isentropic work over electrical power [-], lower off the best ratio and off the rated voltage."""
    comp = c.compressor
    eta = max(comp.isentropic_best - comp.isentropic_curve * (ratio - comp.ratio_best) ** 2, 0.25)
    off = abs(1.0 - c.voltage_ratio)
    return eta * (1.0 - 0.6 * off**2 - 0.12 * off)


def compress(c: CircuitNow, at: Ports, m_guess: float, t_shell: float) -> Compression:
    """Carry the gas from the evaporator to the discharge line.

    P = m (h_is - h_suction) / (eta (1 - x)), h_discharge = h_suction + (1 - shell loss) P / m: the share x
    that leaks back inside is compressed again. A crossover leak of the reversing valve mixes discharge gas
    into the suction line, m_leak = A sqrt(rho dp): found by repeated insertion, since hot gas heats itself.

    Parameters
    ----------
    c : CircuitNow
    at : Ports
    m_guess : float [kg/s]
        Mass flow at about the right suction density.
    t_shell : float [K]
        The shell takes heat from the gas while it warms up.

    Returns
    -------
    Compression
    """
    ref, comp = c.refrigerant, c.compressor
    superheat = at.t_out - at.e.t_dew
    if not c.running:
        cooling = (c.t_ambient - t_shell) / 3600.0
        return Compression(0.0, 0.0, at.h_out, superheat, at.h_out, t_shell, 0.0, cooling, 0.0)
    p_e, p_c = math.exp(at.lnp_e), math.exp(at.lnp_c)
    ratio = max(p_c / p_e, 1.0)
    eta = power_ratio(c, ratio)
    leak = c.crossover_leak * math.sqrt(max(at.rho_high * (p_c - p_e), 0.0))
    q_line = c.suction_line_ua * (c.t_ambient - at.t_out)
    m, rise, h_suction, power = m_guess, 0.0, at.h_out, 0.0
    for _ in range(40):
        share = min(leak / m, 0.6)
        h_suction = at.h_out + q_line / (m * (1.0 - share)) + share / (1.0 - share) * rise
        superheat = ref.superheat_of(at.lnp_e, h_suction, 0)
        _, s_suction, rho_suction = ref.vapour(at.lnp_e, superheat)
        m = mass_flow(c, ratio, rho_suction)
        h_is = ref.vapour(at.lnp_c, ref.superheat_of(at.lnp_c, s_suction, 1))[0]
        power = m * max(h_is - h_suction, 0.0) / (eta * (1.0 - c.valve_leak))
        before, rise = rise, (1.0 - comp.shell_loss) * power / m
        if leak == 0.0 or abs(rise - before) < 1e-3:
            break
    h_gas = h_suction + rise
    t_gas = at.c.t_dew + max(ref.superheat_of(at.lnp_c, h_gas, 0), 0.0)
    to_shell = 0.0 if c.steady else 0.6 * m * at.c.cp_vapour * (t_gas - t_shell)
    h_discharge = h_gas - to_shell / m
    t_discharge = at.c.t_dew + max(ref.superheat_of(at.lnp_c, h_discharge, 0), 0.0)
    return Compression(
        m,
        m - min(leak, 0.6 * m),
        h_suction,
        superheat,
        h_discharge,
        t_discharge,
        power,
        to_shell / comp.shell_heat_capacity,
        q_line,
    )
