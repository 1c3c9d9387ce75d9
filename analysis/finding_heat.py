"""The verdict's values of heat: compression, heat moved, displacement, coil drop, routes of flow, rest."""

from __future__ import annotations

import math

import numpy as np

from analysis.elementwise import FloatArray
from analysis.evidence import Seen
from analysis.finding_work import Work
from analysis.flow_routes import flow_for_heat
from analysis.saturation import SaturationCurve
from analysis.stated_performance import SHELL_SHARE
from analysis.uncertainty import propagate
from analysis.unit_card import UnitCard
from analysis.units import Quantity

POLYTROPIC = 0.14
"""Exponent of temperature over pressure ratio for the ideal compression of these refrigerants, about
(k - 1) / k with k = 1.16; only ratios of the index to a reference are used, so its value hardly matters."""
EQUALISED = 0.02
"""At rest both sides must agree within this before they count as standing pressure [1]; our choice."""
VAPOUR_HEAT = 1000.0
"""Specific heat of the vapour [J/(kg K)], typical of these refrigerants at working conditions; it
corrects the table's saturation enthalpies by a few per cent."""


def compression(work: Work) -> None:
    """How well the gas is compressed: ideal over measured temperature rise, ``T1 (r^n - 1) / (T2 - T1)``."""
    suction, discharge = work.first("suction_temperature"), work.first("discharge_temperature")

    def index(t1: FloatArray, t2: FloatArray, ratio: FloatArray) -> FloatArray:
        rise = t2 - t1
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.where(rise > 5.0, t1 * (ratio**POLYTROPIC - 1.0) / rise, np.nan)

    if _gas_is_dry(work):
        work.add("compression_index", index, suction, discharge, work.first("compression_ratio"))


def _gas_is_dry(work: Work) -> bool:
    """Whether the suction gas is surely superheated; wet gas has neither of the indices."""
    superheat = work.first("superheat")
    return superheat is not None and superheat.value > max(1.0, superheat.u)


def heats(work: Work) -> None:
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


def _evaporated(work: Work, source: Seen | None, load: Seen | None, power: Seen | None) -> Seen | None:
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


def coil_and_routes(work: Work, card: UnitCard | None) -> None:
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


def _flow_by_balance(work: Work, t_in: Seen | None, t_out: Seen | None) -> Seen | None:
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


def at_rest(work: Work, card: UnitCard | None) -> None:
    """Standing pressure against saturation at rest, and the pump's capacitor against its marking."""
    curve, barometer = work.visit.curve, work.visit.barometer_pa
    work.add("source_static_gauge", lambda p: p - barometer, work.first("source_static_pressure"))
    low, high = work.first("suction_pressure"), work.first("discharge_pressure", "liquid_pressure")
    still = not work.visit.running and low is not None and high is not None
    if still and low is not None and high is not None and abs(high.value / low.value - 1.0) < EQUALISED:
        work.add("standing_pressure", lambda a, b: 0.5 * (a + b), low, high)
        work.add("resting_temperature", lambda t: t, work.first("ambient_temperature"))
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
