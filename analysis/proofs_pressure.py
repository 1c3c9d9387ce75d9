"""Pressure tests as proofs: water circuit, nitrogen, vacuum.

Caution: a pressure test stores energy. Keep below the lowest stated pressure of every part, use a regulator
with nitrogen, never oxygen or a flammable gas, and stand clear while the pressure rises.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from analysis.elementwise import FloatArray
from analysis.evidence import Line
from analysis.proofs import Proof, Verdict

COVERAGE = 2.0
LEAST_READINGS = 5
VACUUM_LIMIT = 270.0
"""Where an evacuated circuit must stay after the pump is shut off [Pa]; EN 378-2 asks for less than 270 Pa
(from memory, to be confirmed)."""
LEAST_RISE_S = 600.0


def prove_liquid_decay(
    times: Sequence[float], pressures: Sequence[float], *, u_pressure: float, allowed: float = 0.03
) -> Proof:
    """Prove that a filled plastic pipe holds, its relaxation taken out.

    Plastic pipe creeps: without any leak the pressure falls as ``p = a - b ln(t)``. The line is fitted to the
    first half of the time; a leak falls away from it in the second half.

    Parameters
    ----------
    times
        Seconds since the pressure was set, rising, the first above zero.
    pressures
        Gauge pressures [Pa].
    u_pressure
        Standard uncertainty of one reading, that of the same gauge against itself [Pa].
    allowed
        Share of the starting pressure by which the end may lie below the line (our choice).

    Examples
    --------
    >>> t = [60.0, 120.0, 300.0, 600.0, 1200.0, 1800.0, 2700.0, 3600.0]
    >>> sound = [400e3 - 12e3 * math.log(x / 60.0) for x in t]
    >>> prove_liquid_decay(t, sound, u_pressure=500.0).verdict.value
    'met'
    >>> leaking = [p - 15.0 * x for p, x in zip(sound, t)]
    >>> prove_liquid_decay(t, leaking, u_pressure=500.0).verdict.value
    'not met'
    """
    code, statement = (
        "liquid_pressure_decay",
        "The water circuit holds its pressure, pipe relaxation taken out",
    )
    t, p = np.asarray(times, float), np.asarray(pressures, float)
    fault = _series_fault(t, p)
    if fault or t[0] <= 0.0:
        return Proof(
            code, statement, Verdict.CANNOT_SAY, (), (fault or "a first reading after the start",), ""
        )
    early = t <= math.sqrt(t[0] * t[-1]) * 2.0
    if early.sum() < 3 or early.all():
        return Proof(code, statement, Verdict.CANNOT_SAY, (), ("readings spread over the whole time",), "")
    slope, level = np.polyfit(np.log(t[early]), p[early], 1)
    expected = level + min(slope, 0.0) * math.log(t[-1])
    short = float(expected - p[-1])
    # The extrapolated line carries the errors of the early readings, and the last reading its own.
    spread = math.log(t[-1]) - float(np.mean(np.log(t[early])))
    base = float(np.sum((np.log(t[early]) - np.mean(np.log(t[early]))) ** 2))
    u = u_pressure * math.sqrt(1.0 + 1.0 / early.sum() + spread**2 / base)
    room = allowed * float(p[0])
    lines = (
        Line(
            "pressure_short_of_relaxation", short, u, math.nan, room, "Pa", "our choice, 3 % of the start"
        ),
        Line("relaxation", float(-slope) * math.log(10.0), u_pressure / math.sqrt(base) * math.log(10.0),
             math.nan, math.nan, "Pa", "fitted to the first half", "in tenfold time"),
    )  # fmt: skip
    return Proof(code, statement, _judge(short, room, u), lines)


def prove_nitrogen(
    pressures: tuple[float, float],
    temperatures: tuple[float, float],
    *,
    u_pressure: float,
    u_temperature: float,
) -> Proof:
    """Prove a nitrogen test by the gas law with absolute pressures: ``p2 = p1 T2 / T1``.

    Parameters
    ----------
    pressures
        Absolute, at start and end [Pa].
    temperatures
        Of the gas, at start and end [K].
    u_pressure, u_temperature
        Standard uncertainty of one reading against the other, same instruments [Pa], [K].

    Examples
    --------
    The night cooled the machine by 8 K; the pressure fell with it and nothing leaked:

    >>> proof = prove_nitrogen((2.60e6, 2.529e6), (293.15, 285.15), u_pressure=5e3, u_temperature=0.5)
    >>> proof.verdict.value
    'met'
    """
    code, statement = (
        "nitrogen_pressure_test",
        "The refrigerant circuit holds nitrogen, temperature taken out",
    )
    if not all(math.isfinite(x) and x > 0.0 for x in (*pressures, *temperatures)):
        needs = "absolute pressure and temperature at start and end"
        return Proof(code, statement, Verdict.CANNOT_SAY, (), (needs,), "")
    (p1, p2), (t1, t2) = pressures, temperatures
    expected = p1 * t2 / t1
    u = math.hypot(u_pressure * math.hypot(1.0, t2 / t1), expected * u_temperature * math.sqrt(2.0) / t1)
    limit_seen = COVERAGE * u
    line = Line("pressure_lost", expected - p2, u, math.nan, limit_seen, "Pa", "absolute gas law, k = 2")
    reason = "a smaller loss than the limit cannot be told with these readings"
    verdict = Verdict.NOT_MET if expected - p2 > limit_seen else Verdict.MET
    if p2 - expected > limit_seen:
        verdict, reason = Verdict.CANNOT_SAY, "the pressure rose beyond what the temperature explains"
    elif limit_seen > 0.02 * p1:
        verdict = Verdict.CANNOT_SAY if verdict is Verdict.MET else verdict
    return Proof(code, statement, verdict, (line,), (), reason)


def prove_vacuum(
    times: Sequence[float], pressures: Sequence[float], *, u_pressure: float, limit: float = VACUUM_LIMIT
) -> Proof:
    """Prove an evacuated circuit by its rise after the pump is shut off.

    A rise that goes on in a straight line is a leak; one that levels off is moisture boiling out.

    Parameters
    ----------
    times
        Seconds since the pump was shut off, rising.
    pressures
        Absolute pressures [Pa].
    u_pressure
        Standard uncertainty of a reading [Pa].
    limit
        What the end must stay below [Pa].

    Examples
    --------
    >>> t = [0.0, 120.0, 300.0, 480.0, 660.0, 900.0]
    >>> prove_vacuum(t, [60.0, 75.0, 82.0, 85.0, 86.0, 87.0], u_pressure=3.0).verdict.value
    'met'
    >>> proof = prove_vacuum(t, [60.0 + 0.5 * x for x in t], u_pressure=3.0)
    >>> proof.verdict.value, proof.reason
    ('not met', 'the rise goes on in a straight line: a leak')
    """
    code, statement = "vacuum_rise", "The evacuated circuit keeps its vacuum with the pump shut off"
    t, p = np.asarray(times, float), np.asarray(pressures, float)
    fault = _series_fault(t, p)
    if not fault and t[-1] - t[0] < LEAST_RISE_S:
        fault = "ten minutes or more with the pump shut off"
    if fault:
        return Proof(code, statement, Verdict.CANNOT_SAY, (), (fault,), "")
    line = Line("vacuum_at_end", float(p[-1]), u_pressure, math.nan, limit, "Pa(a)", "EN 378-2, from memory")
    verdict = _judge(float(p[-1]) - limit, 0.0, u_pressure)
    half = t.size // 2
    first, second = (
        float(np.polyfit(t[part], p[part], 1)[0]) for part in (slice(0, half + 1), slice(half, None))
    )
    if p[-1] - p[0] <= COVERAGE * math.sqrt(2.0) * u_pressure:
        reason = "no rise beyond the gauge's uncertainty"
    elif second > 0.7 * first:
        reason = "the rise goes on in a straight line: a leak"
        verdict = Verdict.NOT_MET
    else:
        reason = "the rise levels off: moisture boils out; hold the vacuum longer"
    return Proof(code, statement, verdict, (line,), (), reason if verdict is not Verdict.MET else "")


def _series_fault(t: FloatArray, p: FloatArray) -> str:
    if t.size < LEAST_READINGS or t.size != p.size:
        return f"{LEAST_READINGS} readings or more, each with its time"
    if not (np.all(np.isfinite(t)) and np.all(np.isfinite(p)) and np.all(np.diff(t) > 0.0)):
        return "times that rise and a pressure for each"
    return ""


def _judge(value: float, room: float, u: float) -> Verdict:
    """Say met within the room, not met beyond it and its uncertainty, else nothing."""
    if value <= room:
        return Verdict.MET
    return Verdict.NOT_MET if value - room > COVERAGE * u else Verdict.CANNOT_SAY
