"""How fast the analyser is: `python -m tests.bench.analyser`. Prints; asserts nothing.

Live: one second of 20 measuring points, from readings to a judged row. Batch: an hour of them in one step.
And slope and spread of 8 signals over a trailing window, against numpy's own windows in the same run. Times
are of the processor, so that its other work does not count.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from analysis.analyser import Analyser
from analysis.measure import Channel, Specification
from analysis.points import POINTS
from analysis.rows import Rows
from analysis.saturation import refrigerant
from analysis.settings import settings_over_time
from analysis.timeline import Event
from analysis.units import Quantity
from analysis.window_sums import WINDOW_ROWS, WindowSums, extend

LEVELS: dict[str, tuple[float, str]] = {
    "suction_pressure": (5.15, "bar(g)"), "discharge_pressure": (24.59, "bar(g)"),
    "liquid_pressure": (24.4, "bar(g)"), "suction_temperature": (-2.4, "degC"),
    "discharge_temperature": (85.0, "degC"), "liquid_temperature": (30.6, "degC"),
    "source_entering_temperature": (4.0, "degC"), "source_leaving_temperature": (-2.4, "degC"),
    "load_entering_temperature": (30.0, "degC"), "load_leaving_temperature": (35.1, "degC"),
    "source_pressure_drop": (9.8, "kPa"), "load_flow": (0.53, "L/s"), "source_flow": (0.33, "L/s"),
    "compressor_power": (3000.0, "W"), "compressor_current": (14.0, "A"), "pump_current": (1.16, "A"),
    "supply_voltage": (229.0, "V"), "control_voltage": (24.5, "V"), "ambient_temperature": (14.0, "degC"),
    "fan_current": (2.4, "A"),
}  # fmt: skip
"""Measuring point to its level and unit: the community hall as found, and a fan."""


def machine() -> Analyser:
    """Give an analyser with 20 measuring points, everything declared."""
    channels = {
        name: Channel(
            name, _quantity(name, unit), unit, uncertainty=Specification(fixed=0.1), expected_interval_s=1.0
        )
        for name, (_, unit) in LEVELS.items()
    }
    events = [Event(0, 0, "assign", name, name) for name in LEVELS]
    declared = {
        "refrigerant": "R410A", "barometer": "94.32 kPa(a)", "mode": "heating",
        "fluid": "propylene glycol 25 % by mass", "load_fluid": "water",
    }  # fmt: skip
    events += [Event(0, 0, kind, "", text) for kind, text in declared.items()]
    return Analyser(channels, settings_over_time(events, channels), {"R410A": refrigerant("R410A")})


def _quantity(name: str, unit: str) -> Quantity:
    quantity = POINTS[name].quantity
    return Quantity.GAUGE_PRESSURE if "(g)" in unit else quantity


def readings(seconds: int, seed: int = 1) -> Rows:
    """Give a settled machine's readings, one a second on every point."""
    rng = np.random.default_rng(seed)
    level = np.array([value for value, _ in LEVELS.values()])
    noise = rng.normal(0.0, 1.0, (seconds, level.size)) * 0.001 * np.maximum(np.abs(level), 1.0)
    t_us = np.repeat(np.arange(seconds, dtype=np.int64) * 1_000_000, level.size)
    channel = np.tile(np.arange(level.size, dtype=np.int32), seconds)
    return Rows(tuple(LEVELS), t_us, channel, (level + noise).ravel(), np.zeros(t_us.size, np.uint16))


def live(seconds: int = 1500) -> list[float]:
    """Time of each second's step, after the windows are full [s]."""
    analyser, rows, spent = machine(), readings(seconds), []
    per = len(LEVELS)
    for second in range(seconds):
        part = rows.take(slice(second * per, (second + 1) * per))
        began = time.process_time()
        analyser.step(part)
        spent.append(time.process_time() - began)
    return spent[700:]


def batch(seconds: int = 3600, hours: int = 3) -> float:
    """Give how many times faster than real time a session runs through, an hour in one step."""
    rows = readings(seconds * hours)
    per = len(LEVELS) * seconds

    def run() -> None:
        analyser = machine()
        for hour in range(hours):
            analyser.step(rows.take(slice(hour * per, (hour + 1) * per)))

    return seconds * hours / (_best(run) * 1e-9)


def windows(rows: int = 20_000, signals: int = 8) -> tuple[float, float]:
    """Nanoseconds per sample for spread and slope: evenrun's sums, and numpy's windows."""
    values = 280.0 + np.random.default_rng(2).normal(0.0, 0.05, (signals, rows))
    fresh = np.ones((signals, rows), bool)

    def own() -> None:
        sums = WindowSums(np.full(signals, 1e-4))
        for begin in range(0, rows, 4000):
            part = slice(begin, begin + 4000)
            extend(sums, values[:, part], fresh[:, part], np.zeros(signals, bool))

    def peer() -> None:
        k = np.arange(WINDOW_ROWS) - (WINDOW_ROWS - 1) / 2.0
        for signal in values:
            seen = np.lib.stride_tricks.sliding_window_view(signal, WINDOW_ROWS)
            seen.std(axis=1)
            (seen @ k) / (k @ k)

    return _best(own) / values.size, _best(peer) / values.size


def _best(work: Callable[[], None], times: int = 3) -> float:
    """Least time of a few runs [ns]."""
    spent = []
    for _ in range(times):
        began = time.process_time_ns()
        work()
        spent.append(time.process_time_ns() - began)
    return float(min(spent))


def main() -> None:
    """Print what was measured."""
    spent = np.array(live()) * 1e3
    middle, most = np.percentile(spent, (50, 99))
    print(f"live step of {len(LEVELS)} points: median {middle:.2f} ms, 99 % {most:.2f} ms")
    print(f"batch, an hour a step: {batch():,.0f} times real time at 1 Hz")
    own, peer = windows()
    print(f"slope and spread: {own:.0f} ns a sample, numpy's windows {peer:.0f} ns: {peer / own:.1f} times")


if __name__ == "__main__":
    main()
