"""The same machine with another refrigerant, a fixed orifice or a receiver, sized as a maker would."""

from __future__ import annotations

import math
from dataclasses import replace

from drivers.plant.configure import Boundary
from drivers.plant.parts import Machine
from drivers.plant.refrigerants import refrigerant
from drivers.plant.steady import NoSteadyStateError, solve

_T_EVAPORATING = 268.15
_T_CONDENSING = 313.15


def with_refrigerant(machine: Machine, name: str, boundary: Boundary) -> Machine:
    """Size compressor and valve for another refrigerant at equal capacity, and weigh its charge in.

    Swept flow ~ 1 / (rho_v h_fg) at -5 °C; valve area ~ m / sqrt(rho_l dp) between 40 and -5 °C.

    Parameters
    ----------
    machine : Machine
    name : str
        One of `refrigerants.SUPPORTED`.
    boundary : Boundary
        Where the charge is adjusted.

    Returns
    -------
    Machine

    Examples
    --------
    >>> from drivers.plant.stories import HALL
    >>> m = with_refrigerant(HALL.machine, "R134a", HALL.boundary)
    >>> 2.0 < m.compressor.swept_flow / HALL.machine.compressor.swept_flow < 3.5
    True
    """

    def figures(fluid: str) -> tuple[float, float, float]:
        ref = refrigerant(fluid)
        p_e, p_c = ref.lnp_of_dew(_T_EVAPORATING), ref.lnp_of_dew(_T_CONDENSING)
        e, c = ref.saturation(p_e), ref.saturation(p_c)
        effect = e.h_vapour - c.h_liquid
        head = math.sqrt(c.rho_liquid * (math.exp(p_c) - math.exp(p_e)))
        return e.rho_vapour * effect, 1.0 / (effect * head), c.rho_liquid

    old, new = figures(machine.refrigerant), figures(name)
    swept = machine.compressor.swept_flow * old[0] / new[0]
    changed = replace(
        machine,
        refrigerant=name,
        compressor=replace(machine.compressor, swept_flow=swept),
        valve=replace(machine.valve, area=machine.valve.area * new[1] / old[1]),
        charge=machine.charge * new[2] / old[2],
    )
    return weighed_in(changed, boundary, 5.5)


def weighed_in(machine: Machine, boundary: Boundary, subcooling: float) -> Machine:
    """Find the charge at which the healthy machine shows a subcooling, as on the day of its commissioning.

    Parameters
    ----------
    machine : Machine
    boundary : Boundary
    subcooling : float [K]

    Returns
    -------
    Machine
    """
    low, high = 0.3 * machine.charge, 3.0 * machine.charge
    for _ in range(24):
        middle = 0.5 * (low + high)
        try:
            enough = solve(replace(machine, charge=middle), boundary).subcooling >= subcooling
        except NoSteadyStateError:
            # Too little charge always has a steady state here; what has none is overfilled.
            enough = middle > machine.charge
        low, high = (low, middle) if enough else (middle, high)
    return replace(machine, charge=0.5 * (low + high))


def with_fixed_orifice(machine: Machine, boundary: Boundary) -> Machine:
    """Replace the valve by an orifice that passes the same at `boundary`."""
    opening = solve(machine, boundary).valve_opening
    return replace(machine, valve=replace(machine.valve, fixed=True, area=machine.valve.area * opening))


def with_receiver(machine: Machine, volume: float, rho_liquid: float = 1000.0) -> Machine:
    """Add a liquid receiver [m3], half full beyond the charge the machine had."""
    return replace(machine, receiver_volume=volume, charge=machine.charge + 0.5 * volume * rho_liquid)
