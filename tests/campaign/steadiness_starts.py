"""Simulated start-ups through the fold: called steady too early or too late, and when that was foretold.

Each seed draws a site, a machine (as built, with a fixed orifice, with a receiver), none or one fault of a
severity up to 0.6, the source water and the moment of the call. Probes have their noise, lag and fixed error.

What is true of a start:

- *final superheat*: mean of the true superheat over the last three minutes;
- *truly steady*: from when on the true superheat stays within 0.5 K of that, every watched true temperature
  changes by less than its limit within the five minutes around (the limits are stated so), and ten minutes
  have passed since the start.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np

from analysis.analyser import Analyser, Results
from analysis.measure import Channel, Specification
from analysis.rows import Rows
from analysis.saturation import refrigerant
from analysis.settings import settings_over_time
from analysis.signals import SIGNALS
from analysis.steadiness import SETTLE_S, WINDOW_ROWS
from analysis.time_to_steady import QUANTILES
from analysis.timeline import Event
from analysis.units import Quantity
from analysis.verdict import State
from drivers.plant.lines import CHANNELS, decimals
from drivers.plant.machine import STORIES, Faults, Row, Scenario, one_fault, simulate
from drivers.plant.variants import with_fixed_orifice, with_receiver

SECONDS = 1300
FINAL_S = 180
SWING_S = 120
"""The swing of a hunting valve is taken over two minutes: two periods and more."""
RAN_S = 500
"""A start counts when the machine runs through to the end for as long."""
ASK_EVERY_S = 50
"""How often the forecast is taken down."""
FAULTS = (
    "overcharge", "undercharge", "clogged_strainer", "scaled_source_coil", "low_load_flow",
    "weak_pump_capacitor", "liquid_line_restriction", "compressor_valve_leak", "valve_starving",
    "non_condensables",
)  # fmt: skip
CURVES = {"R410A": refrigerant("R410A")}
LEFT_OUT = ("rw", "sw", "vs", "vc", "ca", "fa", "dp", "lf", "pa", "ta")
"""Channels that no watched signal needs."""


@dataclass(frozen=True, slots=True)
class Start:
    """What one start-up showed; seconds count from the last start of the compressor."""

    seed: int
    settled: bool
    """Whether it ran on to the end without a trip."""
    steady_rows_off: int = 0
    """Rows called steady although superheat was more than 0.5 K from its final value."""
    truly_s: float = float("nan")
    called_s: float = float("nan")
    superheat_called_s: float = float("nan")
    """When the superheat alone was called steady."""
    superheat_truly_s: float = float("nan")
    forecasts: tuple[tuple[float, float, float, float, float], ...] = ()
    """Moment; low, middle and high of the forecast; what it was in truth. NaN where nothing was told."""


def scenario(seed: int) -> tuple[Scenario, str]:
    """Draw a start-up, and its declared mode."""
    rng = np.random.default_rng(seed)
    story = STORIES["hall-healthy" if rng.random() < 0.6 else "bakery"]
    faults = Faults()
    if rng.random() < 0.6:
        faults = one_fault(FAULTS[int(rng.integers(len(FAULTS)))], float(rng.uniform(0.1, 0.6)))
    machine, kind = story.machine, rng.random()
    if kind < 0.15:
        machine = with_fixed_orifice(machine, story.boundary)
    elif kind < 0.30:
        machine = with_receiver(machine, float(rng.uniform(0.5e-3, 2e-3)))
    phase = replace(story.phases[-1], faults=faults, warmer_source=float(rng.uniform(-3.0, 5.0)))
    drawn = replace(story.scenario(phase), machine=machine, call_at=float(rng.integers(20, 60)))
    return drawn, story.boundary.mode


def fold(rows: list[Row], mode: str, barometer: float, every_s: int = 0) -> list[Results]:
    """Run the indications of a simulation through the analyser, in one step or one every so many seconds."""
    names = [name for name in sorted(rows[-1].readings) if name not in LEFT_OUT]
    channels = {
        name: Channel(
            name, Quantity(CHANNELS[name].quantity), CHANNELS[name].unit, expected_interval_s=1.0,
            uncertainty=Specification(fixed=2.0 * CHANNELS[name].uncertainty),
        )
        for name in names
    }  # fmt: skip
    declared = [Event(0, 0, "assign", name, CHANNELS[name].point) for name in names]
    texts = {"refrigerant": "R410A", "barometer": f"{barometer} Pa(a)", "mode": mode}
    declared += [Event(0, 0, kind, "", text) for kind, text in texts.items()]
    analyser = Analyser(channels, settings_over_time(declared, channels), CURVES)
    items = [
        (round(row.t * 1e6), name, round(row.readings[name], decimals(CHANNELS[name].resolution)), 0)
        for row in rows
        for name in names
        if name in row.readings
    ]
    readings = Rows.of(items, names)
    edges = np.arange(0, rows[-1].t + 1.0, every_s or rows[-1].t + 1.0)[1:] * 1e6
    cuts = [0, *np.searchsorted(readings.t_us, edges, side="right").tolist(), len(readings)]
    results: list[Results] = []
    for begin, end in itertools.pairwise(cuts):
        results += analyser.step(readings.take(slice(begin, end)))
    return results + analyser.step(Rows.empty(names), now_us=round(rows[-1].t * 1e6) + 500_000)


def start(seed: int, seconds: int = SECONDS) -> Start:
    """Simulate one start-up and judge the verdict on it."""
    drawn, mode = scenario(seed)
    rows = list(simulate(drawn, seconds, seed=seed))
    running = np.array([row.state.running for row in rows])
    starts = np.flatnonzero(running[1:] & ~running[:-1]) + 1
    if not running[-RAN_S:].all() or not starts.size:
        return Start(seed, settled=False)
    results = fold(rows, mode, drawn.boundary.barometer, ASK_EVERY_S)
    began = int(starts[-1])
    t = np.concatenate([r.t_us for r in results]) // 1_000_000
    at = np.clip(t - 1, 0, seconds - 1)  # the simulation's first row is second 1
    superheat = np.array([row.state.superheat for row in rows])
    off = np.abs(superheat - superheat[-FINAL_S:].mean()) > 0.5
    overall = np.concatenate([r.judgement.overall.state for r in results]) == State.STEADY
    own = np.concatenate([r.judgement.results["superheat"].state for r in results]) == State.STEADY
    called, own_called = _first(overall, at, began), _first(own, at, began)
    moves = _moves(rows)
    asked = [
        (float(r.t_us[-1]) / 1e6 - 1.0 - began, r.judgement.time_to_steady)
        for r in results
        if began + 30 < r.t_us[-1] / 1e6 - 1.0 < began + called
    ]
    forecasts = tuple(
        (moment, *((f.low_s, f.middle_s, f.high_s) if f is not None else (np.nan,) * 3), called - moment)
        for moment, f in asked
    )
    return Start(
        seed, True, int((overall & off[at]).sum()), _for_good(off | moves, began), called, own_called,
        _for_good(off, began), forecasts,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Hunt:
    """What one start with a hunting valve showed."""

    seed: int
    swing: float
    """True swing of the superheat over the last two minutes, peak to peak [K]."""
    steady_rows: int
    """Rows at which the superheat was called steady while it swung by more than 1 K (over two minutes)."""
    after_rows: int
    """Rows at which it was called steady with a larger swing, dying away, further back in the window."""
    named: float
    """Share of the last five minutes in which the machine was called hunting."""


def hunt(seed: int, seconds: int = SECONDS) -> Hunt:
    """Simulate one start with a hunting valve."""
    drawn, mode = scenario(seed)
    severity = float(np.random.default_rng(seed + 1).uniform(0.2, 1.0))
    drawn = replace(drawn, faults=one_fault("valve_hunting", severity))
    rows = list(simulate(drawn, seconds, seed=seed))
    results = fold(rows, mode, drawn.boundary.barometer)
    superheat = np.array([row.state.superheat for row in rows])
    now, window = _swing(superheat, SWING_S), _swing(superheat, WINDOW_ROWS)
    t = np.concatenate([r.t_us for r in results]) // 1_000_000
    at = np.clip(t - 1, 0, seconds - 1)
    own = np.concatenate([r.judgement.results["superheat"].state for r in results]) == State.STEADY
    overall = np.concatenate([r.judgement.overall.state for r in results])
    named = overall[-WINDOW_ROWS:] == State.HUNTING
    steady, after = own & (now[at] > 1.0), own & (window[at] > 1.0) & ~(now[at] > 1.0)
    return Hunt(seed, float(now[-1]), int(steady.sum()), int(after.sum()), float(named.mean()))


def _swing(x: np.ndarray, rows: int) -> np.ndarray:
    """Peak to peak over the rows up to each row."""
    seen = np.lib.stride_tricks.sliding_window_view(x, rows)
    return np.concatenate([np.zeros(rows - 1), np.ptp(seen, axis=1)])


def hunts_summary(hunts: list[Hunt]) -> dict[str, object]:
    """Put many hunting machines into figures."""
    above = [h for h in hunts if h.swing > 1.0]
    return {
        "starts with a hunting valve": len(hunts),
        "of these with a swing above 1 K": len(above),
        "rows of them called steady": sum(h.steady_rows for h in hunts),
        "rows called steady after a swing above 1 K had died away": sum(h.after_rows for h in hunts),
        "of these called hunting for most of the last five minutes": sum(h.named > 0.5 for h in above),
    }


def _first(steady: np.ndarray, at: np.ndarray, began: int) -> float:
    """Seconds from the start to the first row called steady."""
    found = np.flatnonzero(steady & (at > began))
    return float(at[found[0]] - began) if found.size else float("nan")


def _for_good(bad: np.ndarray, began: int) -> float:
    """Seconds from the start to when nothing is bad any more, ten minutes at least."""
    last = np.flatnonzero(bad)
    return max(float(last[-1] + 1 - began) if last.size else 0.0, SETTLE_S)


def _moves(rows: list[Row]) -> np.ndarray:
    """Whether a watched true temperature changes by more than its limit within the window around each row."""
    moves, half = np.zeros(len(rows), bool), WINDOW_ROWS // 2
    for name, channel in CHANNELS.items():
        if channel.point in SIGNALS and name in rows[-1].true and np.isfinite(rows[-1].true[name]):
            x = np.array([row.true[name] for row in rows])
            slope = np.abs(x[2 * half :] - x[: -2 * half]) / WINDOW_ROWS
            moves[half:-half] |= slope > SIGNALS[channel.point].slope_per_s
    return moves


def summary(starts: list[Start]) -> dict[str, object]:
    """Put many starts into figures."""
    ran = [s for s in starts if s.settled]
    lag = np.array([s.called_s - s.truly_s for s in ran])
    own_lag = np.array([s.superheat_called_s - s.superheat_truly_s for s in ran])
    told = np.array([f for s in ran for f in s.forecasts])
    known = told[np.isfinite(told[:, 1])]
    low, middle, high, truth = known[:, 1:].T
    miss = 2.0 / (1.0 - (QUANTILES[-1] - QUANTILES[0]))

    def score(a: np.ndarray | float, b: np.ndarray | float) -> float:
        """Interval score (Gneiting and Raftery, 2007, equation 43); less is better."""
        return float((b - a + miss * np.maximum(a - truth, 0) + miss * np.maximum(truth - b, 0)).mean())

    constant = np.quantile(truth, (QUANTILES[0], QUANTILES[-1]))
    inside = (truth >= low - 1.0) & (truth <= high + 1.0)  # rows are a second
    ahead = known[:, 0] < SETTLE_S
    return {
        "starts": len(starts),
        "tripped or cycled": len(starts) - len(ran),
        "starts with rows called steady while superheat was off by more than 0.5 K": sum(
            s.steady_rows_off > 0 for s in ran
        ),
        "called steady within 5 min of truly being so": round(float((lag <= 300.0).mean()), 4),
        "lag [s], median, 95 % and largest": [round(float(q)) for q in np.percentile(lag, (50, 95, 100))],
        "superheat alone, within 5 min": round(float((own_lag <= 300.0).mean()), 4),
        "superheat alone, lag [s], median and 95 %": [
            round(float(q)) for q in np.nanpercentile(own_lag, (50, 95))
        ],
        "forecasts asked": len(told),
        "forecasts told": len(known),
        "coverage of the interval": round(float(inside.mean()), 4),
        "coverage within the first ten minutes": round(float(inside[ahead].mean()), 4),
        "median width [s]": round(float(np.median(high - low))),
        "median error of the middle [s]": round(float(np.median(np.abs(middle - truth)))),
        "interval score": round(score(low, high), 1),
        "interval score of the best constant interval": round(score(*constant.tolist()), 1),
    }
