"""No ports and no gauges: what water, flow, volts and amps say, and whether hooking up is worth its price.

Heat moved by the source water and the power taken up give the heat on the other side by the first law. Hoses
cost refrigerant, and a small charge feels it; so the question is answered before they go on.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analysis.elementwise import FloatArray
from analysis.liquids import Liquid
from analysis.saturation import SaturationCurve
from analysis.uncertainty import propagate
from analysis.water import heat_from_liquid

POWER_FACTOR = (0.90, 0.10)
"""Power factor of a single-phase compressor at load, and its bound (common practice, no source)."""
SHELL_LOSS = (0.06, 0.04)
"""Share of the power that leaves through the shell, and its bound (common practice, no source)."""
RATED_SHARE = 0.10
"""Heat within this of the card is no reason to hook up (common practice, no source)."""
HOSE_BORE_M, HOSE_LENGTH_M = 5e-3, 1.5


@dataclass(frozen=True, slots=True)
class Valued:
    """A value with its standard uncertainty (k = 1), SI."""

    value: float
    u: float

    @property
    def known(self) -> bool:
        """Whether both are known."""
        return math.isfinite(self.value) and math.isfinite(self.u)


NOT_READ = Valued(math.nan, math.nan)


@dataclass(frozen=True, slots=True)
class HeatStatement:
    """Heat by the first law, and a graded answer."""

    source_heat: Valued
    """Between source water and machine, positive in normal running [W]."""
    power: Valued
    other_heat: Valued
    """To the load in heating, from the load in cooling [W]."""
    grade: str
    """``enough``, ``too little``, ``too much``, ``water first`` or ``cannot say``."""
    statement: str
    worth_hooking_up: bool | None
    """None where it cannot be said."""
    missing: tuple[str, ...] = ()


def hose_mass(
    curve: SaturationCurve, t: float, *, length: float = HOSE_LENGTH_M, bore: float = HOSE_BORE_M
) -> float:
    """Refrigerant that one hose full of liquid holds: ``rho_bubble pi/4 d^2 L`` [kg].

    Parameters
    ----------
    curve
        The refrigerant.
    t
        Temperature of the liquid [K].
    length, bore
        Of the hose [m].

    Examples
    --------
    >>> from analysis.saturation import refrigerant
    >>> round(1e3 * hose_mass(refrigerant("R410A"), 303.15))
    30
    """
    volume = math.pi / 4.0 * bore**2 * length
    return float(np.asarray(curve.rho_bubble(curve.p_bubble(t)))) * volume


def electric_power(volts: Valued, amps: Valued, power_factor: Valued | None = None) -> Valued:
    """Power of a single-phase machine, ``P = U I cos(phi)`` [W].

    Without a stated power factor 0.90 ± 0.10 is assumed.

    Examples
    --------
    >>> found = electric_power(Valued(229.0, 1.0), Valued(14.5, 0.2))
    >>> round(found.value), round(2 * found.u)
    (2988, 343)
    """
    factor = power_factor or Valued(POWER_FACTOR[0], POWER_FACTOR[1] / 2.0)
    return _propagated(lambda u, i, f: u * i * f, volts, amps, factor)


def heat_statement(
    liquid: Liquid | None,
    flow: Valued,
    entering: Valued,
    leaving: Valued,
    power: Valued,
    mode: str,
    *,
    rated: float = math.nan,
    rated_source: str = "card",
    flow_band: tuple[float, float] = (math.nan, math.nan),
) -> HeatStatement:
    """Say what water and power tell without any gauge.

    Parameters
    ----------
    liquid
        In the source loop; None where it is not declared.
    flow
        Of the source water [m3/s].
    entering, leaving
        Source water [K].
    power
        Of the compressor [W].
    mode
        ``heating`` or ``cooling``; empty where nobody said.
    rated
        Heat between source water and machine at these conditions [W]; NaN where no card gives it.
    rated_source
        Who says so.
    flow_band
        Allowed flow by the card [m3/s].

    Examples
    --------
    The hall as left: 0.60 L/s, 4.0 in, 0.1 out, 25 % propylene glycol.

    >>> found = heat_statement(
    ...     Liquid("propylene_glycol", mass_fraction=0.25), Valued(0.6e-3, 0.01e-3), Valued(277.15, 0.1),
    ...     Valued(273.25, 0.1), Valued(2960.0, 60.0), "heating", rated=9300.0)
    >>> round(found.source_heat.value / 1e3, 1), found.grade, found.worth_hooking_up
    (9.3, 'enough', False)
    """
    missing = [
        name
        for name, known in (
            ("the source liquid", liquid is not None), ("source flow", flow.known),
            ("source water in", entering.known), ("source water out", leaving.known),
            ("the mode, heating or cooling", mode in ("heating", "cooling")),
        )
        if not known
    ]  # fmt: skip
    if missing or liquid is None:
        text = f"cannot say: {', '.join(missing)} missing"
        return HeatStatement(NOT_READ, power, NOT_READ, "cannot say", text, None, tuple(missing))
    sign = 1.0 if mode == "heating" else -1.0
    capacity = Valued(1.0, liquid.u_heat_capacity)
    source = _propagated(
        lambda q, a, b, c: sign * c * np.asarray(heat_from_liquid(liquid, q, a, b)), flow, entering, leaving,
        capacity,
    )  # fmt: skip
    loss = Valued(SHELL_LOSS[0], SHELL_LOSS[1] / 2.0)
    other = _propagated(lambda q, p, s: q + sign * p * (1.0 - s), source, power, loss)
    grade, statement, worth = _grade(source, rated, rated_source, flow, flow_band)
    lacking = () if power.known else ("compressor volts and amps, for the heat on the other side",)
    return HeatStatement(source, power, other, grade, statement, worth, lacking)


def _grade(
    heat: Valued, rated: float, source: str, flow: Valued, band: tuple[float, float]
) -> tuple[str, str, bool | None]:
    expanded = 2.0 * heat.u
    says = f"{heat.value / 1e3:.1f} ± {math.ceil(expanded / 100.0 - 1e-9) / 10.0:.1f} kW"
    low, high = band
    if flow.value + 2.0 * flow.u < low or flow.value - 2.0 * flow.u > high:
        return "water first", (
            f"the flow is out of its band ({source}): put the water right first; hooking up now measures "
            "the consequences"
        ), False  # fmt: skip
    if heat.value <= expanded:
        return "cannot say", f"{says}: no heat can be told from this drop; check mode, probes and flow", None
    if not math.isfinite(rated):
        return "cannot say", f"{says}: whether that is enough needs the card's heat at these conditions", None
    off = heat.value - rated
    allowed = RATED_SHARE * rated
    against = f"{says} against {rated / 1e3:.1f} kW ± {100 * RATED_SHARE:.0f} % ({source})"
    if abs(off) + expanded <= allowed or (abs(off) <= allowed and expanded <= 2.0 * allowed):
        return "enough", f"{against}: within it; hooking up is not worth its refrigerant and its risk", False
    if off + expanded < -allowed:
        flow_known = math.isfinite(low) and math.isfinite(high)
        if not flow_known:
            return "too little", f"{against}: too little; prove the water before hooking up", None
        return "too little", f"{against}: too little at a flow in its band; hooking up is worth it", True
    if off - expanded > allowed:
        return "too much", f"{against}: more than the machine can; check flow, probes and card first", False
    return "cannot say", f"{against}: its uncertainty reaches over the limit; better probes tell", None


def _propagated(function: Callable[..., FloatArray], *inputs: Valued) -> Valued:
    value, u = propagate(function, [np.array([v.value]) for v in inputs], [np.array([v.u]) for v in inputs])
    return Valued(float(value[0]), float(u[0]))
