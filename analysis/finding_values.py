"""The values that signs are read from, worked out of a visit's readings with their uncertainty.

Approaches, changes and indices are named by the role of a coil (condensing, evaporating), so that one rule
serves heating and cooling. A value that was typed stands as typed.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from analysis.derived import REGISTRY, Derived
from analysis.elementwise import FloatArray
from analysis.evidence import Visit
from analysis.finding_heat import at_rest, coil_and_routes, compression, heats
from analysis.finding_work import Work
from analysis.flow_routes import FlowRoute
from analysis.uncertainty import propagate
from analysis.unit_card import UnitCard


def with_values(visit: Visit, card: UnitCard | None = None) -> Visit:
    """Work out everything that the visit's readings allow.

    Parameters
    ----------
    visit
        As recorded or typed.
    card
        For the coil's pressure-drop table and the capacitor's marking.

    Returns
    -------
    Visit
        With the derived values added; what is missing stays away.

    Examples
    --------
    >>> from analysis.evidence import seen_value
    >>> from analysis.saturation import refrigerant
    >>> typed = {"suction_pressure": 609_320.0, "suction_temperature": 270.75}
    >>> hall = Visit({s: seen_value(s, v) for s, v in typed.items()}, "heating", curve=refrigerant("R410A"))
    >>> round(with_values(hall).values["superheat"].value, 1)
    5.8
    """
    if not visit.mode:
        visit = dataclasses.replace(visit, mode=mode_of_load(visit))
    work = Work(visit)
    _flow(work, card)
    for row in REGISTRY:
        if visit.mode in row.modes or not visit.mode:
            _registered(work, row)
    _sides(work)
    compression(work)
    heats(work)
    coil_and_routes(work, card)
    at_rest(work, card)
    return dataclasses.replace(visit, values=work.values, flow_route=work.route)


def mode_of_load(visit: Visit) -> str:
    """Tell heating from cooling by the load side; empty where it does not tell.

    The source side is never asked: swapped probes would flip it.

    Examples
    --------
    >>> from analysis.evidence import seen_value
    >>> floor = {"load_entering_temperature": 303.15, "load_leaving_temperature": 308.6}
    >>> mode_of_load(Visit({symbol: seen_value(symbol, value) for symbol, value in floor.items()}))
    'heating'
    """
    for names in (
        ("load_entering_temperature", "load_leaving_temperature"),
        ("return_air_temperature", "supply_air_temperature"),
    ):
        entering, leaving = visit.get(names[0]), visit.get(names[1])
        if entering is not None and leaving is not None:
            change = leaving.value - entering.value
            if abs(change) > 2.0 * math.hypot(entering.u, leaving.u):
                return "heating" if change > 0.0 else "cooling"
    return ""


def _flow(work: Work, card: UnitCard | None) -> None:
    """Find the source flow and its route: typed or metered first, else the coil's table."""
    direct, drop = work.first("source_flow"), work.first("source_pressure_drop")
    if direct is not None:
        work.route = work.route or FlowRoute.METER
        work.put("source_volume_flow", direct.value, direct.u, [direct])
    elif drop is not None and card is not None and card.drops is not None and drop.value > 0.0:
        t_in, t_out = work.first("source_entering_temperature"), work.first("source_leaving_temperature")
        known = [seen.value for seen in (t_in, t_out) if seen is not None]
        t = sum(known) / len(known) if known else card.drops.temperatures[0]
        found = card.drops.flow(drop.value, t, u_drop=drop.u, liquid=work.visit.source_liquid)
        work.put("source_volume_flow", float(found.q_v), float(found.u), [drop])
        work.route = FlowRoute.PRESSURE_DROP_TABLE
    elif drop is not None and work.visit.source_coil is not None:
        work.route = FlowRoute.RATED_POINT  # the registry's own row does it


def _registered(work: Work, row: Derived) -> None:
    """Work out a row of the registry; a flow that is known already serves where a flow is asked for."""
    fitted = set(work.values)
    if "source_volume_flow" in fitted:
        fitted.add("source_flow")
    chosen = row.choose(fitted)
    base = work.visit.circumstances
    needs = ("source_coil",) if chosen and "source_pressure_drop" in chosen else ()
    if chosen is None or base.lacks((*row.needs, *needs)):
        return
    named = [
        "source_volume_flow" if name == "source_flow" and name not in work.values else name for name in chosen
    ]
    held = dataclasses.replace(base, fed_by=chosen)
    further = row.parameters(held)
    inputs = [work.values[name] for name in named]
    if row.symbol in work.values:
        return
    value, u = propagate(
        lambda *x: row.function(held, *x),
        [np.array([seen.value]) for seen in inputs] + [np.array([v]) for v, _ in further],
        [np.array([seen.u]) for seen in inputs] + [np.array([v]) for _, v in further],
    )
    work.put(row.symbol, float(value[0]), float(u[0]), inputs)


def _difference(a: FloatArray, b: FloatArray) -> FloatArray:
    return a - b


def _share(subcooling: FloatArray, approach: FloatArray) -> FloatArray:
    """Give subcooling over what the entering water allows, the effectiveness of the subcooling zone [1]."""
    whole = subcooling + approach
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where((whole > 0.5) & (approach > -1.0), subcooling / whole, np.nan)


def _sides(work: Work) -> None:
    """Add changes and approaches by role; nothing without a declared mode."""
    mode = work.visit.mode
    source_in = work.first("source_entering_temperature")
    source_out = work.first("source_leaving_temperature")
    load_in = work.first("load_entering_temperature", "return_air_temperature")
    load_out = work.first("load_leaving_temperature", "supply_air_temperature")
    if mode == "heating":
        work.add("source_change", _difference, source_in, source_out)
        work.add("load_change", _difference, load_out, load_in)
        condensing_in, condensing_out, evaporating_out = load_in, load_out, source_out
    elif mode == "cooling":
        work.add("source_change", _difference, source_out, source_in)
        work.add("load_change", _difference, load_in, load_out)
        condensing_in, condensing_out, evaporating_out = source_in, source_out, load_out
    else:
        return
    work.add("condensing_approach", _difference, work.first("condensing_temperature"), condensing_out)
    work.add("evaporating_approach", _difference, evaporating_out, work.first("evaporating_temperature"))
    work.add("liquid_approach", _difference, work.first("liquid_temperature"), condensing_in)
    work.add("subcooling_share", _share, work.first("subcooling"), work.first("liquid_approach"))
