"""Every measurement in one table: ``python -m tests.bench [--quick] [--json] [--only NAME ...]``.

Each line has a peer that is measured in the same run, so that the ratio stands on any machine. Exit status 1
where a goal is missed or something could not be measured.
"""

from __future__ import annotations

import argparse
import importlib
import json
import os
import statistics
import subprocess
import sys
from collections.abc import Callable

from tests.bench.table import Row, as_facts, as_text, of_module

ORDER = ("saturation", "liquids", "analyser", "journal", "serial", "overnight", "desktop", "fleet", "plant")


def _serial(quick: bool) -> list[Row]:
    module = importlib.import_module("tests.bench.serial")
    lines, repeats = (20_000, 3) if quick else (100_000, 5)

    def processor(run: Callable[[int], tuple[float, float]]) -> float:
        return statistics.median(run(lines)[1] for _ in range(repeats)) / lines * 1e6

    rows = []
    for what, ours, peer, goal in (
        ("read and split a line, over doing it bare", module.our_split, module.bare_split, 2.0),
        ("a line to a stored reading's value, over parsing bare", module.our_whole, module.bare_parse, 10.0),
    ):
        mine, bare = processor(ours), processor(peer)
        rows.append(Row("serial", what, mine, bare, "us", mine / bare, goal, at_most=True))
    return rows


def _liquids(quick: bool) -> list[Row]:
    module = importlib.import_module("tests.bench.liquids")
    np = importlib.import_module("numpy")
    water = importlib.import_module("analysis.water")
    liquids = importlib.import_module("analysis.liquids")
    count = 20_000 if quick else module.ROWS
    t = np.random.default_rng(1).uniform(270.0, 300.0, count)
    loop = liquids.Liquid("propylene_glycol", mass_fraction=0.25)
    ours = module.best_of(5, lambda: water.heat_from_liquid(loop, 0.6e-3, t + 1.95, t - 1.95)) / count * 1e9
    peer = module.best_of(2, lambda: module.with_library(t)) / count * 1e9
    what = "heat carried by a glycol mix, against the property library row by row"
    return [Row("liquids", what, ours, peer, "ns", peer / ours, 10.0)]


def _analyser(quick: bool) -> list[Row]:
    module = importlib.import_module("tests.bench.analyser")
    own, peer = module.windows(5_000 if quick else 20_000)
    rows = [
        Row(
            "analyser",
            "slope and spread of a window, against numpy's windows",
            own,
            peer,
            "ns",
            peer / own,
            1.0,
        )
    ]
    spent = statistics.median(module.live(900 if quick else 1500)) * 1e3
    rows.append(
        Row(
            "analyser",
            "one live step, of the second it has",
            spent,
            1000.0,
            "ms",
            spent / 1000.0,
            0.002,
            at_most=True,
        )
    )
    hours = 2 if quick else 6
    times = module.batch(hours=hours)
    what = "an hour of 20 points in one step [ms], against real time [ms]"
    rows.append(Row("analyser", what, 3.6e6 / times, 3.6e6, "ms", times, 100_000.0))
    return rows


def _plain(name: str) -> Callable[[bool], list[Row]]:
    """Run a module that gives its rows itself."""

    def run(quick: bool) -> list[Row]:
        module = importlib.import_module(f"tests.bench.{name}")
        return [row if isinstance(row, Row) else of_module(name, row) for row in module.run(quick)]

    return run


def _desktop(quick: bool) -> list[Row]:
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    module = importlib.import_module("tests.bench.desktop")
    empty, ours = module._start_ms(module._EMPTY), module._start_ms(module._OURS)
    rows = [
        Row(
            "desktop",
            "start to first paint, over an empty plot window",
            ours,
            empty,
            "ms",
            ours / empty,
            1.3,
            True,
        )
    ]
    if not quick:
        series = module._series()
        panned, lived, _ = module._pyramids(series)
        pan, live = module._plot_library(series)
        what = f"{module.CURVES} curves of {module.SAMPLES} samples, against the plotting library"
        rows.append(Row("desktop", f"pan {what}", panned, pan, "ms", pan / panned, 2.5))
        rows.append(Row("desktop", f"live update of {what}", lived, live, "ms", live / lived, 7.0))
    return rows


_ADAPTED = {"serial": _serial, "liquids": _liquids, "analyser": _analyser, "desktop": _desktop}


def _told(name: str, quick: bool) -> str:
    """Let a module that prints by itself do so, and give what it printed."""
    if quick:
        return f"not in a quick run; python -m tests.bench.{name}"
    done = subprocess.run(
        [sys.executable, "-m", f"tests.bench.{name}"], capture_output=True, text=True, check=True, timeout=900
    )
    return done.stdout.strip()


def measure(names: list[str], quick: bool) -> tuple[list[Row], dict[str, str], dict[str, str]]:
    """Run the modules one after the other; the trouble of one stops no other.

    Returns
    -------
    rows, told, troubles
        What was measured, what modules without rows say themselves, and what could not be measured.
    """
    rows: list[Row] = []
    told: dict[str, str] = {}
    troubles: dict[str, str] = {}
    for name in names:
        print(f"{name} ...", file=sys.stderr, flush=True)
        try:
            if name in _ADAPTED or hasattr(importlib.import_module(f"tests.bench.{name}"), "run"):
                rows += _ADAPTED.get(name, _plain(name))(quick)
            else:
                told[name] = _told(name, quick)
        except Exception as error:
            troubles[name] = f"{type(error).__name__}: {error}"
    return rows, told, troubles


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="short runs")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--only", nargs="+", choices=ORDER, default=list(ORDER), metavar="NAME")
    arguments = parser.parse_args()
    rows, told, troubles = measure(arguments.only, arguments.quick)
    if arguments.json:
        print(json.dumps(as_facts(rows, told, troubles, arguments.quick), allow_nan=False))
    else:
        print(as_text(rows, told, troubles, arguments.quick))
    return int(bool(troubles) or not all(row.met for row in rows))


if __name__ == "__main__":
    raise SystemExit(main())
