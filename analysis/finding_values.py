"""The values that signs are read from, worked out of a visit's readings with their uncertainty.

Approaches, changes and indices are named by the role of a coil (condensing, evaporating), so that one rule
serves heating and cooling. A value that was typed stands as typed.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Sequence

import numpy as np

from analysis.derived import REGISTRY, Derived
from analysis.elementwise import FloatArray
from analysis.evidence import Seen, Visit, quantity_of_symbol
from analysis.flow_routes import FlowRoute, flow_for_heat
from analysis.saturation import SaturationCurve
from analysis.uncertainty import propagate
from analysis.unit_card import UnitCard
from analysis.units import Quantity

POLYTROPIC = 0.14
"""Exponent of temperature over pressure ratio for the ideal compression of these refrigerants, about
(k - 1) / k with k = 1.16; only ratios of the index to a reference are used, so its value hardly matters."""
SHELL_SHARE = 0.95
"""Share of the power that reaches the refrigerant; the rest leaves by the shell. Common practice, no
source."""
VAPOUR_HEAT = 1000.0
"""Specific heat of the vapour [J/(kg K)], typical of these refrigerants at working conditions; it
corrects the table's saturation enthalpies by a few per cent."""


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
    work = _Work(visit)
    _flow(work, card)
    for row in REGISTRY:
        if visit.mode in row.modes or not visit.mode:
            _registered(work, row)
    _sides(work)
    _compressor(work)
    _heat(work)
    _coil(work, card)
    _rest(work, card)
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


class _Work:
    """The values while they are being worked out."""

    def __init__(self, visit: Visit) -> None:
        self.visit = visit
        self.values: dict[str, Seen] = {k: v for k, v in visit.values.items() if math.isfinite(v.value)}
        self.route = visit.flow_route

    def first(self, *names: str) -> Seen | None:
        return next((self.values[name] for name in names if name in self.values), None)

    def add(self, symbol: str, function: Callable[..., FloatArray], *inputs: Seen | None) -> None:
        """Work out one value, unless it was typed or an input is missing."""
        known = [seen for seen in inputs if seen is not None]
        if symbol in self.values or len(known) != len(inputs):
            return
        value, u = propagate(function, [np.array([s.value]) for s in known], [np.array([s.u]) for s in known])
        self.put(symbol, float(value[0]), float(u[0]), known)

    def put(self, symbol: str, value: float, u: float, inputs: Sequence[Seen]) -> None:
        quantity = quantity_of_symbol(symbol)
        assert quantity is not None, f"{symbol} is no symbol of the verdict"
        if math.isfinite(value):
            points = frozenset().union(*(seen.points for seen in inputs))
            self.values[symbol] = Seen(
                symbol, value, u, quantity, points, any(seen.assumed for seen in inputs)
            )


def _flow(work: _Work, card: UnitCard | None) -> None:
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


def _registered(work: _Work, row: Derived) -> None:
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


def _sides(work: _Work) -> None:
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


def _compressor(work: _Work) -> None:
    """How well the gas is compressed: ideal over measured temperature rise, ``T1 (r^n - 1) / (T2 - T1)``."""
    suction, discharge = work.first("suction_temperature"), work.first("discharge_temperature")

    def index(t1: FloatArray, t2: FloatArray, ratio: FloatArray) -> FloatArray:
        rise = t2 - t1
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.where(rise > 5.0, t1 * (ratio**POLYTROPIC - 1.0) / rise, np.nan)

    if _gas_is_dry(work):
        work.add("compression_index", index, suction, discharge, work.first("compression_ratio"))


def _gas_is_dry(work: _Work) -> bool:
    """Whether the suction gas is surely superheated; wet gas has neither of the indices."""
    superheat = work.first("superheat")
    return superheat is not None and superheat.value > max(1.0, superheat.u)


def _heat(work: _Work) -> None:
    """Heat moved, and the volume of suction gas that it takes."""
    mode = work.visit.mode
    source = work.first("heat_from_source", "heat_to_source")
    load = work.first("heat_to_load", "heat_from_load")
    power = work.first("compressor_power")
    if source is not None:
        work.put("heat_moved", source.value, source.u, [source])
    if source is not None and load is not None and power is not None and mode:
        leaving, entering = (load, source) if mode == "heating" else (source, load)

        def balance(out: FloatArray, taken: FloatArray, watts: FloatArray) -> FloatArray:
            with np.errstate(invalid="ignore", divide="ignore"):
                return np.where(out > 0.0, (out - taken - watts) / out, np.nan)

        work.add("balance", balance, leaving, entering, power)
    curve = work.visit.curve
    evaporated = _evaporated(work, source, load, power)
    if curve is None or evaporated is None or not _gas_is_dry(work):
        return

    def displacement(q: FloatArray, p: FloatArray, t1: FloatArray, t3: FloatArray) -> FloatArray:
        return _displacement(curve, q, p, t1, t3)

    work.add(
        "displacement_index", displacement, evaporated, work.first("suction_pressure"),
        work.first("suction_temperature"), work.first("liquid_temperature"),
    )  # fmt: skip


def _evaporated(work: _Work, source: Seen | None, load: Seen | None, power: Seen | None) -> Seen | None:
    """Heat taken up by the evaporating refrigerant: measured, or the other side's less the power."""
    heating = work.visit.mode == "heating"
    near, far = (source, load) if heating else (load, source)
    if near is not None:
        return near
    if far is None or power is None:
        return None
    return Seen(
        "heat_moved", far.value - power.value, math.hypot(far.u, power.u), far.quantity,
        far.points | power.points, far.assumed or power.assumed,
    )  # fmt: skip


def _displacement(
    curve: SaturationCurve, q: FloatArray, p: FloatArray, t1: FloatArray, t3: FloatArray
) -> FloatArray:
    """Volume of suction gas per second, ``q / (dh rho)`` [m3/s]; enthalpies and density near saturation."""
    t_dew = np.asarray(curve.t_dew(p))
    superheat = np.maximum(t1 - t_dew, 0.0)
    h_gas = np.asarray(curve.h_dew(p)) + VAPOUR_HEAT * superheat
    p_liquid = np.asarray(curve.p_bubble(t3))
    effect = h_gas - np.asarray(curve.h_bubble(p_liquid))
    density = np.asarray(curve.rho_dew(p)) * t_dew / (t_dew + 1.25 * superheat)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where((effect > 0.0) & (q > 0.0), q / (effect * density), np.nan)


def _coil(work: _Work, card: UnitCard | None) -> None:
    """Coil drop against the table at a flow of its own route, and two routes of flow against each other."""
    visit, flow = work.visit, work.first("source_volume_flow")
    drop = work.first("source_pressure_drop")
    t_in, t_out = work.first("source_entering_temperature"), work.first("source_leaving_temperature")
    own = _flow_by_balance(work, t_in, t_out)
    route_is_free = work.route is not None and work.route.independent_of_coil
    judge = flow if route_is_free else own
    if drop is not None and judge is not None and card is not None and card.drops is not None:
        table = card.drops
        t = 0.5 * (t_in.value + t_out.value) if t_in and t_out else table.temperatures[0]

        def ratio(measured: FloatArray, q: FloatArray) -> FloatArray:
            expected = np.asarray(table.drop(q, np.full_like(q, t), visit.source_liquid))
            return np.asarray(measured / expected)

        work.add("coil_drop_ratio", ratio, drop, judge)
    if flow is not None and own is not None:
        work.add("flow_agreement", lambda a, b: a / b, flow, own)


def _flow_by_balance(work: _Work, t_in: Seen | None, t_out: Seen | None) -> Seen | None:
    """Source flow from the load's heat and the power, which needs neither meter nor coil drop."""
    load, power = work.first("heat_to_load", "heat_from_load"), work.first("compressor_power")
    liquid = work.visit.source_liquid
    if load is None or power is None or t_in is None or t_out is None or liquid is None:
        return None
    sign = 1.0 if work.visit.mode == "heating" else -1.0

    def flow(q: FloatArray, w: FloatArray, a: FloatArray, b: FloatArray) -> FloatArray:
        return np.asarray(flow_for_heat(liquid, sign * q - SHELL_SHARE * w, a, b))

    inputs = [load, power, t_in, t_out]
    value, u = propagate(flow, [np.array([s.value]) for s in inputs], [np.array([s.u]) for s in inputs])
    if not (math.isfinite(value[0]) and u[0] < 0.12 * value[0]):
        return None  # too uncertain to judge another route
    points = frozenset().union(*(seen.points for seen in inputs))
    return Seen("source_volume_flow", float(value[0]), float(u[0]), Quantity.VOLUME_FLOW, points)


def _rest(work: _Work, card: UnitCard | None) -> None:
    """Standing pressure against saturation at rest, and the pump's capacitor against its marking."""
    curve = work.visit.curve
    if curve is not None:
        work.add(
            "standing_excess",
            lambda p, t: p - np.asarray(curve.p_bubble(t)),
            work.first("standing_pressure"),
            work.first("resting_temperature"),
        )
    marked = card.pump_capacitor if card is not None else math.nan
    if math.isfinite(marked) and marked > 0.0:
        work.add("pump_capacitance_ratio", lambda c: c / marked, work.first("pump_capacitance"))
